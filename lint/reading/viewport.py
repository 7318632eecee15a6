"""The page's size, and the transform from a viewBox to the viewport that shows it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from matready.lint.drawing import Page
from matready.lint.reading.elements import Measures
from matready.lint.reading.transforms import IDENTITY, Matrix, translation
from matready.lint.reading.units import (
    MM_PER_PX,
    PHYSICAL,
    Extent,
    Length,
    parse_length,
    parse_numbers,
    to_user,
)

ViewBox = tuple[float, float, float, float]

_ASPECT = re.compile(
    r"\s*(?:defer\s+)?(?:(none)|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?\s*"
)
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


@dataclass(frozen=True, slots=True)
class Aspect:
    """A preserveAspectRatio: the share of spare room left of and above the drawing, or none."""

    x: float = 0.5
    y: float = 0.5
    fit: Literal["none", "meet", "slice"] = "meet"


def parse_view_box(text: str) -> ViewBox | None:
    """Four numbers; None where it is in error: other text, a negative size (SVG 2, 8.6)."""
    numbers = parse_numbers(text)
    if numbers is None or len(numbers) != 4 or numbers[2] < 0 or numbers[3] < 0:
        return None
    x, y, width, height = numbers
    return x, y, width, height


def parse_aspect(text: str) -> Aspect | None:
    """A preserveAspectRatio (SVG 2, 8.7); None where it is in error."""
    found = _ASPECT.fullmatch(text)
    if found is None:
        return None
    if found[1]:
        return Aspect(0.0, 0.0, "none")
    return Aspect(_SHARE[found[2]], _SHARE[found[3]], "slice" if found[4] == "slice" else "meet")


def view_matrix(
    view_box: ViewBox, x: float, y: float, width: float, height: float, aspect: Aspect
) -> Matrix:
    """From the viewBox to the viewport at x, y (SVG 2, 8.2); the view box must not be empty."""
    scale_x, scale_y = width / view_box[2], height / view_box[3]
    if aspect.fit == "meet":
        scale_x = scale_y = min(scale_x, scale_y)
    elif aspect.fit == "slice":
        scale_x = scale_y = max(scale_x, scale_y)
    move_x = x - view_box[0] * scale_x + aspect.x * (width - view_box[2] * scale_x)
    move_y = y - view_box[1] * scale_y + aspect.y * (height - view_box[3] * scale_y)
    return (scale_x, 0.0, 0.0, scale_y, move_x, move_y)


@dataclass(frozen=True, slots=True)
class Viewport:
    """What the outermost svg sets up: the page, its contents' matrix to px and their extent.

    `drawn` is False where nothing may be drawn (SVG 2, 8.6: a size of zero).
    """

    page: Page
    matrix: Matrix
    extent: Extent
    drawn: bool
    notes: tuple[str, ...]


def read_page(get: Callable[[str], str | None], font_px: float) -> Viewport:
    """The page that the outermost svg element describes.

    `get` answers with the element's attributes (or CSS properties) width, height, viewBox and
    preserveAspectRatio. One of width and height missing follows from the viewBox (SVG 2, 8.12).
    """
    notes: list[str] = []
    view_box = read_view_box(get, notes)
    aspect = read_aspect(get, notes)
    empty = view_box is not None and 0 in view_box[2:]
    lengths = [_read_side(get, side, notes) for side in ("width", "height")]
    width, height = (length and to_user(length, None, font_px) for length in lengths)
    missing = [length is None for length in lengths]
    if view_box is not None and not empty:
        if missing == [False, True] and width is not None:
            height = width * view_box[3] / view_box[2]
        elif missing == [True, False] and height is not None:
            width = height * view_box[2] / view_box[3]
    if empty or 0 in (width, height):
        notes.append("the page has no width or no height, so nothing on it is drawn")
    units = [length.unit for length in lengths if length is not None]
    return _set_up(width, height, view_box, aspect, units, notes, empty=empty)


def _set_up(
    width: float | None, height: float | None, view_box: ViewBox | None, aspect: Aspect,
    units: list[str], notes: list[str], *, empty: bool,
) -> Viewport:  # fmt: skip
    """Page and matrix from sides in px (None: unknown) and the viewBox."""
    matrix = IDENTITY
    unit, size_mm = "none", None
    extent = Extent(width, height)
    if width is not None and height is not None:
        unit = "physical" if all(unit in PHYSICAL for unit in units) else "px"
        size_mm = (width * MM_PER_PX, height * MM_PER_PX)
        if view_box is not None and not empty:
            matrix = view_matrix(view_box, 0.0, 0.0, width, height, aspect)
    elif view_box is not None and not empty:
        # No size: one user unit is measured as one px, and the page is the view box.
        width, height = view_box[2:]
        matrix = view_matrix(view_box, 0.0, 0.0, width, height, aspect)
    if view_box is not None:
        extent = Extent(view_box[2], view_box[3])
    page = Page(
        unit, width, height, view_box, matrix[0], matrix[3], size_mm, in_inches="in" in units
    )
    drawn = not empty and width != 0 and height != 0
    return Viewport(page, matrix, extent, drawn, tuple(notes))


def _read_side(get: Callable[[str], str | None], side: str, notes: list[str]) -> Length | None:
    """Width or height; None for auto. Negative and unreadable ones count as auto, with a note."""
    text = get(side)
    if text is None or text.strip().lower() in ("auto", ""):
        return None
    length = parse_length(text)
    if length is None or length.number < 0:
        notes.append(f'the page\'s {side}="{text.strip()[:40]}" is no size, so it is passed over')
        return None
    return length


def read_view_box(get: Callable[[str], str | None], notes: list[str]) -> ViewBox | None:
    """The element's viewBox; None, with a note, where it is in error."""
    text = get("viewBox")
    if text is None:
        return None
    view_box = parse_view_box(text)
    if view_box is None:
        notes.append(f'viewBox="{text.strip()[:60]}" is no view box, so it is passed over')
    return view_box


def read_aspect(get: Callable[[str], str | None], notes: list[str]) -> Aspect:
    """The element's preserveAspectRatio; the default, with a note, where it is in error."""
    text = get("preserveAspectRatio")
    aspect = Aspect() if text is None else parse_aspect(text)
    if aspect is None:
        word = str(text).strip()[:40]
        notes.append(f'preserveAspectRatio="{word}" is not known; xMidYMid is used')
        return Aspect()
    return aspect


@dataclass(frozen=True, slots=True)
class Nested:
    """A viewport inside the page: its contents' matrix and extent, and its own box.

    `box` (x0, y0, x1, y1) is in units of what is around it, None without a size; `empty`: nothing
    in it may be drawn.
    """

    matrix: Matrix
    extent: Extent
    box: tuple[float, float, float, float] | None
    empty: bool
    notes: tuple[str, ...]


def read_nested(get: Callable[[str], str | None], measures: Measures) -> Nested:
    """The viewport of a nested svg, or of a symbol that a use shows (SVG 2, 8.2)."""
    outer = measures.extent
    x, y = measures.x("x"), measures.y("y")
    width, height = measures.size("width", outer.width), measures.size("height", outer.height)
    width = outer.width if width is None else width
    height = outer.height if height is None else height
    notes: list[str] = []
    view_box = read_view_box(get, notes)
    aspect = read_aspect(get, notes)
    extent = Extent(width, height)
    inner = translation(x, y)
    empty = width == 0 or height == 0
    if view_box is not None:
        extent = Extent(view_box[2], view_box[3])
        empty = empty or 0 in extent
        if not empty:
            size = (width or view_box[2], height or view_box[3])
            inner = view_matrix(view_box, x, y, *size, aspect)
    box = (x, y, x + width, y + height) if width and height else None
    return Nested(inner, extent, box, empty, tuple(notes))
