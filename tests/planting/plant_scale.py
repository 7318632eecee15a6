"""wrong-scale: pages without a size, with lost units, stretched, far too large or tiny."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shapely.geometry import box as shapely_box

from tests.planting.draft import Draft, NoPlaceError, Recipe
from tests.planting.pages import (
    KNOWN,
    LOST,
    MM,
    Page,
    fitting_size,
    known,
    number,
    page_from,
    proper_page,
)
from tests.planting.strokes import Matrix

# Planted on pages that any crafter knows; other sizes may be unknown to a fair linter.
PLANTED = ("A4", "A5", "Letter", "12x12in", "8x8in")
ANYWHERE = shapely_box(-1e7, -1e7, 1e7, 1e7)


def planted(draft: Draft, page: Page, judge_all: bool) -> None:
    """Use this page and owe one wrong-scale finding, wherever it is placed."""
    draft.page = page
    draft.counted = False
    draft.expect("wrong-scale", ANYWHERE)
    if not judge_all:  # at another scale the other limits mean something else
        draft.judged_rules = frozenset({"wrong-scale"})


def known_size(draft: Draft) -> tuple[float, float]:
    """A known page that holds the drawing, upright or lying."""
    _, _, right, bottom = draft.sheet.box
    fits = [
        size
        for name in PLANTED
        for size in (KNOWN[name], KNOWN[name][::-1])
        if size[0] > right + 2 and size[1] > bottom + 2
    ]
    if not fits:
        raise NoPlaceError
    wide, high = draft.rng.choice(fits)
    return wide, high


def no_size(draft: Draft) -> None:
    """Width and height absent, automatic or in percent: there is no physical size."""
    wide, high = known_size(draft)
    unit = draft.rng.choice([1.0, MM["px"], MM["pt"], 0.1])
    view = f"0 0 {number(wide / unit, 3)} {number(high / unit, 3)}"
    attributes = {"viewBox": view}
    attributes |= draft.rng.choice(
        [{}, {"width": "100%", "height": "100%"}, {"width": "100%"}, {"width": "auto"}]
    )
    planted(draft, Page(attributes, Matrix(a=unit, d=unit), None, "none"), False)


def lost(units: str) -> Callable[[Draft], None]:
    """A planter: the size in px is a known page only at 72 or 90 to the inch, or in mm or in."""

    def plant(draft: Draft) -> None:
        wide, high = known_size(draft)
        mm_each = MM["px"] * LOST[units]
        if known(wide / LOST[units], high / LOST[units]):
            raise NoPlaceError
        decimals = draft.rng.choice([2, 3]) if units in ("72", "90") else 4
        text = [number(v / mm_each, decimals) for v in (wide, high)]
        view = (0.0, 0.0, float(text[0]), float(text[1]))
        suffix = draft.rng.choice(["", "px"])
        page = page_from(text[0] + suffix, text[1] + suffix, view, label=f"lost {units}")
        if draft.rng.random() < 0.3:
            page.attributes.pop("viewBox")
        planted(draft, replace(page, matrix=Matrix(a=mm_each, d=mm_each)), False)

    return plant


def stretched(draft: Draft) -> None:
    """preserveAspectRatio="none" and scales that differ by 3 % or more."""
    rng = draft.rng
    wide, high = known_size(draft)
    factor = rng.choice([rng.uniform(0.4, 0.97), rng.uniform(1.03, 2.5)])
    view = (0.0, 0.0, wide, high * factor)
    unit = rng.choice(["mm", "in"])
    text = [number(v / MM[unit], 4) + unit for v in (wide, high)]
    page = page_from(text[0], text[1], view, stretch=True, label="stretched")
    planted(draft, replace(page, matrix=Matrix()), False)


def too_large(draft: Draft) -> None:
    """Content far beyond any mat: inches taken for something larger, 10 to 40 times too big."""
    wide, high = fitting_size(draft.sheet.box, draft.rng)
    factor = draft.rng.choice([25.4, 10.0, 96 / 2.54, draft.rng.uniform(10, 40)])
    text = [number(v * factor, 3) + "mm" for v in (wide, high)]
    page = page_from(text[0], text[1], (0.0, 0.0, wide, high), label="too large")
    planted(draft, replace(page, matrix=Matrix()), False)


def tiny(draft: Draft) -> None:
    """All of the content within a few millimetres, on a small page or lost on a large one."""
    rng = draft.rng
    left, top, right, bottom = draft.sheet.box
    factor = rng.uniform(1.5, 5) / max(right - left, bottom - top)
    if rng.random() < 0.5:
        wide, high = fitting_size(draft.sheet.box, rng)
        text = [number(v * factor, 4) + "mm" for v in (wide, high)]
        page = page_from(text[0], text[1], (0.0, 0.0, wide, high), label="tiny page")
    else:
        wide, high = rng.choice([KNOWN[name] for name in PLANTED])
        text = [number(v, 4) + "mm" for v in (wide, high)]
        view = (0.0, 0.0, wide / factor, high / factor)
        page = page_from(text[0], text[1], view, label="tiny content")
    planted(draft, replace(page, matrix=Matrix()), False)


def proper(style: str, custom: bool) -> Callable[[Draft], None]:
    """A near miss: the same sizes written rightly, or a size of one's own."""

    def plant(draft: Draft) -> None:
        size = fitting_size(draft.sheet.box, draft.rng) if custom else known_size(draft)
        draft.page = proper_page(size, draft.rng, style)

    return plant


def letterbox(draft: Draft) -> None:
    """A near miss: page and viewBox have other proportions, but x and y one scale."""
    rng = draft.rng
    wide, high = known_size(draft)
    _, _, right, bottom = draft.sheet.box
    view = (0.0, 0.0, max(right + 2, wide * rng.uniform(0.7, 1)), max(bottom + 2, high * 0.8))
    unit = rng.choice(["mm", "in"])
    text = [number(v / MM[unit], 4) + unit for v in (wide, high)]
    draft.page = page_from(text[0], text[1], view, label="letterbox")


def even_none(draft: Draft) -> None:
    """A near miss: preserveAspectRatio="none", and yet nothing is stretched."""
    page = proper_page(known_size(draft), draft.rng, draft.rng.choice(["mm", "in", "pt72"]))
    page.attributes["preserveAspectRatio"] = "none"
    draft.page = page


_STYLES = ("mm", "in", "cm", "pt72", "px96", "px-mm", "plain96", "no-view", "mm72", "mm90", "Q")

RECIPES = (
    Recipe("wrong-scale", "no size", True, no_size),
    *(
        Recipe("wrong-scale", f"lost {units}", True, lost(units))
        for units in ("72", "90", "mm", "in")
    ),
    Recipe("wrong-scale", "stretched", True, stretched),
    Recipe("wrong-scale", "too large", True, too_large),
    Recipe("wrong-scale", "tiny", True, tiny),
    *(
        Recipe("wrong-scale", f"near: known page in {style}", False, proper(style, False))
        for style in _STYLES
    ),
    *(
        Recipe("wrong-scale", f"near: own size in {style}", False, proper(style, True))
        for style in ("mm", "in", "px96", "plain96", "no-view", "odd")
    ),
    Recipe("wrong-scale", "near: letterbox", False, letterbox),
    Recipe("wrong-scale", "near: none but even", False, even_none),
)
