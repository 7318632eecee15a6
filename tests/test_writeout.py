"""What a file shows by reference is drawn in place, and another program sees the same picture.

References: resvg, through resvg_py 0.5, draws source and copy; svgelements 1.9.6 reads the lines of
both, where no symbol is in them, and knows frames by the rules of SVG 1.1, 7.9 to 7.12.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from matready.lint.repair import repair
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

from tests.drawn import CUT, FOLD, page, path
from tests.spoiling.reading import differing, lines_of, picture

WRITING = Settings(only=frozenset({"indirect-shape"}))
SAME_MM = 0.002
SHADES = 6  # of 255, in the mean over three by three pixels: last digits of a product of matrices


def _written(data: bytes) -> bytes:
    return repair(data, "drawing.svg", RULES, WRITING).data


def _same_lines(one: bytes, other: bytes) -> bool:
    before, after = (
        sorted(np.round(line, 2).tolist() for line in lines_of(data)) for data in (one, other)
    )
    return len(before) == len(after) and all(
        np.shape(a) == np.shape(b) and np.abs(np.subtract(a, b)).max() <= 0.01 + SAME_MM
        for a, b in zip(before, after, strict=True)
    )


def _same_picture(one: bytes, other: bytes) -> bool:
    return not differing(picture(one), picture(other), SHADES).any()


def _holds_no_reference(data: bytes) -> bool:
    return b"<use" not in data and b"<symbol" not in data and data.count(b"<svg") == 1


WING = path("M2 2h26v56h-26z", 'class="edge"') + path("M2 12h26", FOLD)
PLACES = ("", 'x="40" y="20"', 'transform="rotate(20)"', 'transform="scale(-1 .7) rotate(9)"')
TARGETS = {
    "path": '<defs><path id="a" d="M2 2h26v56h-26z" class="edge"/></defs>',
    "group": f'<defs><g id="a" stroke-width="2">{WING}</g></defs>',
    "symbol": f'<symbol id="a" overflow="visible">{WING}</symbol>',
    "framed": f'<symbol id="a" viewBox="-10 -10 60 80">{WING}</symbol>',
    "frame at its top left": '<symbol id="a" viewBox="-5 -5 60 80" '
    f'preserveAspectRatio="xMinYMin meet">{WING}</symbol>',
    "used twice over": f'<defs><g id="b">{WING}</g><g id="a"><use href="#b"/>'
    '<use href="#b" x="35" opacity=".5"/></g></defs>',
    "svg": f'<defs><svg id="a" x="3" width="40" height="80" overflow="visible">{WING}</svg></defs>',
}
STYLE = "<style>.edge { fill: #fbead2; stroke: #33475b } use { stroke-width: 2 }</style>"


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("target", TARGETS.values(), ids=TARGETS.keys())
def test_a_use_is_written_out_as_the_same_picture(target: str, place: str) -> None:
    size = 'width="50" height="60"'
    used = f'<g transform="translate(60 60)"><use href="#a" {size} {place}/></g>'
    data = page(STYLE, target, used, f'<use href="#a" x="120" y="5" {size} {CUT}/>')
    copy = _written(data)
    assert _holds_no_reference(copy)
    assert _same_picture(data, copy)
    # The other reader draws a symbol where it stands, too, and knows no svg in <defs>.
    assert "symbol" in target or "svg" in target or _same_lines(data, copy)
    assert _written(copy) == copy


@pytest.mark.parametrize(
    "fit", ["none", "xMinYMax meet", "xMidYMid meet", "xMaxYMid meet", "xMidYMid slice"]
)
def test_a_drawing_in_the_drawing_becomes_a_group(fit: str) -> None:
    inner = path("M30 30h40v40h-40z", "fill='none' stroke='#33475b' class='edge'")
    frame = f'x="20" y="30" width="120" height="90" preserveAspectRatio="{fit}"'
    data = page(f'<svg {frame} viewBox="0 0 100 100">{inner}</svg>')
    copy = _written(data)
    assert _holds_no_reference(copy)
    assert _same_picture(data, copy)
    assert _same_lines(data, copy)


@pytest.mark.parametrize("seed", range(40))
def test_sheets_of_many_references_look_the_same(seed: int) -> None:
    rng = random.Random(seed)
    names = [f"part-{k}" for k in range(4)]
    parts = []
    for name in names:
        body = path(f"M0 0h{rng.randint(8, 20)}l4 {rng.randint(8, 20)}h-20z", 'class="edge"')
        body += path("M3 4h9", FOLD) * rng.randrange(2)
        if rng.random() < 0.4 and name != names[0]:
            body += f'<use href="#{names[0]}" x="{rng.randint(1, 9)}" y="25"/>'
        kind = rng.choice(("g", "symbol"))
        seen = ' overflow="visible"' if kind == "symbol" else ""
        parts.append(f'<{kind} id="{name}"{seen}>\n  {body}\n</{kind}>\n')
    uses = []
    for k in range(9):
        x, y = 15 + 60 * (k % 3), 15 + 60 * (k // 3)
        turn = rng.choice(("", f' transform="rotate({rng.randint(-9, 9)} {x} {y})"'))
        looks = rng.choice(("", ' fill="#fbead2"', ' stroke="#b5543a"', ' style="opacity:.6"'))
        uses.append(f'<use href="#{names[k % 4]}" x="{x}" y="{y}"{turn}{looks}/>\n')
    style = "<style>.edge { stroke: #33475b } g > .edge { stroke-width: 2 }</style>\n"
    data = page(style, "<defs>\n", *parts, "</defs>\n<g>\n", *uses, "</g>\n")
    copy = _written(data)
    assert _holds_no_reference(copy)
    assert _same_picture(data, copy)
    assert lint_bytes(copy, "x.svg", RULES, WRITING).findings == ()


KEPT = {
    "a gradient in the symbol": '<symbol id="a" overflow="visible"><linearGradient id="sky"><stop '
    'offset="0" stop-color="#dbe9f0"/><stop offset="1" stop-color="#33475b"/></linearGradient>'
    '<path d="M2 2h26v56h-26z" fill="url(#sky)"/></symbol>',
    "a use that is not displayed": f'<symbol id="a" overflow="visible">{WING}</symbol>'
    '<use href="#a" display="none"/>',
}


@pytest.mark.parametrize("target", KEPT.values(), ids=KEPT.keys())
def test_what_something_else_needs_stays(target: str) -> None:
    data = page(STYLE, target, '<use href="#a" x="30" y="30"/>')
    copy = _written(data)
    assert b"<symbol" in copy
    assert copy != data
    assert _same_picture(data, copy)


REFUSED = {
    "cut off by its frame": '<symbol id="a" viewBox="0 0 20 20" width="20" height="20">'
    f"{WING}</symbol>",
    "a share of its frame": '<symbol id="a" viewBox="0 0 90 90" width="90" height="90">'
    '<rect x="10%" y="10%" width="50%" height="50%" class="edge"/></symbol>',
}


def test_a_circle_of_references_is_left() -> None:
    circle = '<defs><g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g></defs>'
    data = page(circle, path("M20 20h60v60h-60z"), '<use href="#a"/>')
    done = repair(data, "drawing.svg", RULES, WRITING)
    assert done.data == data
    assert "circle" in done.not_fixed[0].reason


def test_a_text_that_is_used_is_written_out_too() -> None:
    text = '<defs><text id="a" font-size="20" x="5" y="20">star</text></defs>'
    copy = _written(page(text, '<use href="#a" x="30" y="30"/>'))
    assert _holds_no_reference(copy)
    assert copy.count(b"star") == 2  # that in <defs> is not shown


@pytest.mark.parametrize("target", REFUSED.values(), ids=REFUSED.keys())
def test_what_would_not_be_the_same_is_left(target: str) -> None:
    data = page(STYLE, target, '<use href="#a" x="30" y="30"/>')
    done = repair(data, "drawing.svg", RULES, WRITING)
    assert done.data == data
    assert "frame" in done.not_fixed[0].reason


def test_folds_that_a_use_repeats_can_be_grouped_once_it_is_written_out() -> None:
    outline = '<defs><path id="wing" d="M0 0H30V70H0Z" fill="none" stroke="#33475b"/></defs>'
    uses = '<use href="#wing" x="10" y="15"/><use href="#wing" x="60" y="15"/>'
    data = page(outline, uses, path("M10 30H40", FOLD), path("M60 30H90", FOLD), size=100)
    both = Settings(only=frozenset({"indirect-shape", "loose-score"}))
    done = repair(data, "drawing.svg", RULES, both)
    assert done.not_fixed == ()
    assert {one.rule for one in done.fixed} == {"indirect-shape", "loose-score"}
    assert _same_picture(data, done.data)
