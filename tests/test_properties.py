"""Verdicts do not depend on how a drawing is written down.

Drawings are built from panels, holes, folds and faults on a grid of 0.2 mm, so that no distance
lies near a limit. Each is written twice, plainly and in another way; what is found must be
the same: the same rules at the same places, the same pieces.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from matready.lint.runner import lint_bytes
from matready.lint.source import Unreadable

from tests.conftest import ROOT
from tests.drawn import STRUCTURE, box_of

Point = tuple[float, float]
HOSTILE = sorted((ROOT / "fixtures" / "hostile").iterdir())
NEAR_MM = 0.06  # a flattened curve may differ by 0.02 mm when it is drawn in other units


@dataclass(frozen=True)
class Mark:
    """One line of a drawing in mm: its corners, closed or not, cut or fold, the piece it is of."""

    points: tuple[Point, ...]
    closed: bool = True
    fold: bool = False
    group: int = -1  # -1: straight on the page


def _rectangle(x: float, y: float, w: float, h: float) -> tuple[Point, ...]:
    return (x, y), (x + w, y), (x + w, y + h), (x, y + h)


@st.composite
def drawings(draw: st.DrawFn) -> list[Mark]:
    """Two to five panels, each with holes, folds and perhaps a fault; at least two of them."""
    marks = []
    for number in range(draw(st.integers(2, 5))):
        x, y = 10 + 60 * (number % 3), 10 + 70 * (number // 3)
        w, h = draw(st.integers(40, 110)) / 2.5, draw(st.integers(40, 130)) / 2.5
        group = number if draw(st.booleans()) else -1
        corners = _rectangle(x, y, w, h)
        fault = draw(st.sampled_from(["none", "none", "gap", "open", "twice", "sliver", "edge"]))
        if fault in ("gap", "open"):
            stop = 0.2 if fault == "gap" else 4.0
            marks.append(Mark((*corners, (x, y + stop)), closed=False, group=group))
        else:
            marks.append(Mark(corners, group=group))
        if fault == "twice":
            marks.append(Mark(corners, group=group))
        if fault == "sliver":
            marks.append(Mark(_rectangle(x, y + h + 4, w, 2.4)))
        if fault == "edge":
            marks.append(Mark(_rectangle(x + w, y + 4, 6, 8)))
        for fold in range(draw(st.integers(0, 2))):
            at = y + 3 + 3 * fold
            marks.append(Mark(((x, at), (x + w, at)), closed=False, fold=True, group=group))
        if draw(st.booleans()):
            marks.append(Mark(_rectangle(x + 5, y + 9.4, 6, 3), group=group))
    return marks


CUT = 'fill="none" stroke="#33475b"'
FOLD = 'fill="none" stroke="#b5543a" stroke-dasharray="2 1"'


def as_path(mark: Mark, scale: float) -> str:
    """A path in absolute coordinates; `scale` user units to a mm."""
    d = "L".join(f"{x * scale:.9g} {y * scale:.9g}" for x, y in mark.points)
    return f'<path d="M{d}{"Z" if mark.closed else ""}" {FOLD if mark.fold else CUT}/>'


def as_shape(mark: Mark, scale: float) -> str:
    """A rect, line, polygon or polyline, whichever fits."""
    style = FOLD if mark.fold else CUT
    (x0, y0), (x1, y1) = mark.points[0], mark.points[-2 if mark.closed else -1]
    if mark.closed:
        return (
            f'<rect x="{x0 * scale:.9g}" y="{y0 * scale:.9g}" width="{(x1 - x0) * scale:.9g}" '
            f'height="{(y1 - y0) * scale:.9g}" {style}/>'
        )
    if len(mark.points) == 2:
        a, b, c, d = (f"{value * scale:.9g}" for value in (x0, y0, x1, y1))
        return f'<line x1="{a}" y1="{b}" x2="{c}" y2="{d}" {style}/>'
    listed = " ".join(f"{x * scale:.9g},{y * scale:.9g}" for x, y in mark.points)
    return f'<polyline points="{listed}" {style}/>'


def written(
    marks: list[Mark],
    spell: Callable[[Mark, float], str] = as_path,
    scale: float = 1.0,
    wrap: Callable[[str], str] = str,
    size: str = 'width="200mm" height="200mm"',
) -> bytes:
    """The drawing as SVG: a group for each numbered group, the rest straight on the page."""
    groups: dict[int, list[str]] = {}
    parts = []
    for mark in marks:
        if mark.group < 0:
            parts.append(spell(mark, scale))
        elif mark.group in groups:
            groups[mark.group].append(spell(mark, scale))
        else:
            groups[mark.group] = [spell(mark, scale)]
            parts.append(f"\0{mark.group}")
    body = "".join(
        f"<g>{''.join(groups[int(part[1:])])}</g>" if part[0] == "\0" else part for part in parts
    )
    side = 200 * scale
    head = f'xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {side:.9g} {side:.9g}"'
    return f"<svg {head}>{wrap(body)}</svg>".encode()


Verdict = tuple[list[tuple[str, tuple[float, float]]], list[tuple[tuple[float, ...], int, int]]]


def verdict(data: bytes) -> Verdict:
    """Rules with the middle of the place, and pieces with box, holes and scores, in fixed order."""
    report = lint_bytes(data, "drawing.svg", STRUCTURE)
    assert [n for n in report.not_checked if "broke" in n.reason] == []
    found = sorted(
        (f.rule, ((box_of(f)[0] + box_of(f)[2]) / 2, (box_of(f)[1] + box_of(f)[3]) / 2))
        for f in report.findings
    )
    return found, sorted((p.box_mm, p.holes, p.scores) for p in report.pieces)


def assert_same(one: Verdict, other: Verdict) -> None:
    """The same rules and pieces in the same places, within NEAR_MM."""
    assert [rule for rule, _ in one[0]] == [rule for rule, _ in other[0]]
    assert [piece[1:] for piece in one[1]] == [piece[1:] for piece in other[1]]
    places = [place for _, place in one[0]] + [piece[0] for piece in one[1]]
    others = [place for _, place in other[0]] + [piece[0] for piece in other[1]]
    for place, same in zip(places, others, strict=True):
        assert place == pytest.approx(same, abs=NEAR_MM)


@given(drawings(), st.floats(-40, 40), st.floats(0, 360), st.sampled_from([0.25, 0.8, 3.0]))
@settings(max_examples=40)
def test_wrapping_in_transformed_groups_changes_nothing(
    marks: list[Mark], move: float, turn: float, size: float
) -> None:
    there = f"translate({move:.4f} 7) rotate({turn:.4f}) scale({size})"
    back = f"scale({1 / size}) rotate({-turn:.4f}) translate({-move:.4f} -7)"

    def wrap(body: str) -> str:
        return f'<g transform="{there}"><g transform="{back}">{body}</g></g>'

    assert_same(verdict(written(marks)), verdict(written(marks, wrap=wrap)))


@given(drawings(), st.sampled_from(["in", "cm", "pt", "pc", "px", "Q"]), st.floats(0.3, 40))
@settings(max_examples=40)
def test_other_units_with_a_view_box_change_nothing(
    marks: list[Mark], unit: str, scale: float
) -> None:
    # CSS Values and Units 3, "Absolute lengths": an inch is 25.4 mm, 96 px, 72 pt, 6 pc.
    each = {"in": 1 / 25.4, "cm": 0.1, "pt": 72 / 25.4, "pc": 6 / 25.4, "px": 96 / 25.4, "Q": 4}
    side = f"{200 * each[unit]:.9f}{unit}"
    size = f'width="{side}" height="{side}"'
    assert_same(verdict(written(marks)), verdict(written(marks, scale=scale, size=size)))


@given(drawings(), st.randoms(use_true_random=False))
@settings(max_examples=40)
def test_reversing_lines_and_starting_elsewhere_changes_nothing(
    marks: list[Mark], chance: random.Random
) -> None:
    def turned(mark: Mark) -> Mark:
        points = mark.points[::-1] if chance.random() < 0.5 else mark.points
        start = chance.randrange(len(points)) if mark.closed else 0
        return replace(mark, points=points[start:] + points[:start])

    assert_same(verdict(written(marks)), verdict(written([turned(mark) for mark in marks])))


@given(drawings())
@settings(max_examples=40)
def test_shapes_for_paths_change_nothing(marks: list[Mark]) -> None:
    assert_same(verdict(written(marks)), verdict(written(marks, spell=as_shape)))


@given(drawings(), st.randoms(use_true_random=False))
@settings(max_examples=40)
def test_reordering_siblings_changes_nothing(marks: list[Mark], chance: random.Random) -> None:
    shuffled = chance.sample(marks, len(marks))
    assert_same(verdict(written(marks)), verdict(written(shuffled)))


@given(st.integers(3, 60), st.floats(4, 30), st.floats(0, math.tau))
@settings(max_examples=40)
def test_a_regular_panel_has_the_area_of_the_textbook(
    sides: int, radius: float, turn: float
) -> None:
    # Area of a regular n-gon of circumradius R: n R^2 sin(2 pi / n) / 2 (standard formula).
    corners = tuple(
        (100 + radius * math.cos(turn + k * math.tau / sides),
         100 + radius * math.sin(turn + k * math.tau / sides))
        for k in range(sides)
    )  # fmt: skip
    report = lint_bytes(written([Mark(corners)]), "panel.svg", STRUCTURE)
    (piece,) = report.pieces
    area = sides * radius**2 * math.sin(math.tau / sides) / 2
    assert piece.area_mm2 == pytest.approx(area, abs=1e-3)  # reports round to this


SVG_WORDS = st.sampled_from(
    [b"<svg xmlns='http://www.w3.org/2000/svg' width='9in' height='9in'>", b"</svg>", b"<g>",
     b"</g>", b"<path d='M1 1H40V40z", b"M3 3L", b"'/>", b"<use href='#a'/>", b"<line x2='1e9'/>",
     b"<rect id='a' width='40' height='3'/>", b"<style>*{stroke:red}</style>", b"<!--", b"-->",
     b"<circle r='9' transform='scale(0)'/>", b"nan", b"\xff\xfe", b"&amp;", b"A1 1 0 01"]
)  # fmt: skip


@given(st.lists(st.one_of(SVG_WORDS, st.binary(max_size=6)), max_size=14).map(b"".join))
@settings(max_examples=300)
def test_any_bytes_give_findings_or_one_plain_sentence(data: bytes) -> None:
    try:
        report = lint_bytes(data, "bytes.svg", STRUCTURE)
    except Unreadable as refused:
        assert "\n" not in str(refused)
        assert len(str(refused)) > 10
    else:
        assert [n for n in report.not_checked if "broke" in n.reason] == []


@pytest.mark.parametrize(
    "path", sorted((ROOT / "fixtures" / "hostile").iterdir()), ids=lambda path: path.name
)
def test_a_hostile_file_breaks_no_rule(path: Path) -> None:
    source = path.read_bytes()
    try:
        report = lint_bytes(source, path.name, STRUCTURE)
    except Unreadable:
        return
    assert [n for n in report.not_checked if "broke" in n.reason] == []
