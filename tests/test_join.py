"""Ends that stop short are brought together: where the copy lies, measured by another program.

References: svgelements 1.9.6 reads source and copy, svgpathtools 1.8.0 the path data that stays;
shapely (GEOS) tells what lines enclose and how far apart they lie. Gaps of all widths between
`join_mm` and `hairline_mm`, between all kinds of lines, under transforms.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
import shapely
import svgpathtools

from matready.lint.reading.transforms import Matrix, parse_transform
from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings

from tests.drawn import CUT, STRUCTURE, page, path
from tests.spoiling.reading import Floats, length, lines_of, strays

JOINING = Settings(only=frozenset({"hairline-gap"}))
GAPS_MM = (0.03, 0.2, 0.49)
SLACK_MM = 0.002  # chords of the reader, and five decimals
MET_MM = 1e-4

TRANSFORMS = {
    "none": "",
    "moved": "translate(7 -3)",
    "turned": "rotate(33 40 40)",
    "small units": "scale(0.01)",
    "large units": "scale(25.4)",
    "mirrored": "translate(100 0) scale(-1 1)",
    "turned and mirrored": "translate(110 20) rotate(70) scale(-2 2)",
    "stretched and slanted": "translate(20 10) skewX(20) scale(1.2 0.7)",
}
EVEN = [name for name in TRANSFORMS if "slanted" not in name]  # a circle stays one


@dataclass(frozen=True)
class Frame:
    """User space under a transform; `at` spells a place in mm on the page in user units."""

    matrix: Matrix

    def at(self, x: float, y: float) -> str:
        """A place as path data has it."""
        a, b, c, d, e, f = self.matrix
        u, v = np.linalg.solve([[a, c], [b, d]], [x - e, y - f])
        return f"{u:.9g},{v:.9g}"

    @property
    def scale(self) -> float:
        """How many mm a unit has."""
        a, b, c, d, _, _ = self.matrix
        return float(np.sqrt(abs(a * d - b * c)))

    @property
    def sweep(self) -> str:
        """The sweep flag of an arc that turns clockwise on the page."""
        a, b, c, d, _, _ = self.matrix
        return "1" if a * d > b * c else "0"


Draw = Callable[[Frame, float], str]


def _run(frame: Frame, *places: tuple[float, float]) -> str:
    return "M" + " L".join(frame.at(x, y) for x, y in places)


def _own_ends(f: Frame, gap: float) -> str:
    return path(_run(f, (10, 10), (60, 10), (60, 60), (10, 60), (10, 10 + gap)), "")


def _one_short(f: Frame, gap: float) -> str:
    return path(_run(f, (10, 10), (60, 10), (60, 60)), "") + path(
        _run(f, (60 - gap, 60), (10, 60), (10, 10)), ""
    )


def _both_short(f: Frame, gap: float) -> str:
    return path(_run(f, (10, 10), (60, 10), (60, 60 - gap * 0.7)), "") + path(
        _run(f, (60 - gap * 0.7, 60), (10, 60), (10, 10)), ""
    )


def _in_a_row(f: Frame, gap: float) -> str:
    return path(_run(f, (10, 10), (60, 10), (60, 60), (35 + gap, 60)), "") + path(
        _run(f, (35, 60), (10, 60), (10, 10)), ""
    )


def _divider(f: Frame, gap: float) -> str:
    wall = path(_run(f, (10, 10), (60, 10), (60, 60), (10, 60)) + "Z", "")
    return wall + path(_run(f, (35, 10), (35, 60 - gap)), "")


def _box_below(f: Frame, y: float = 40) -> str:
    return path(_run(f, (60, y), (60, 70), (10, 70), (10, 40)), "")


def _cubic(f: Frame, gap: float) -> str:
    d = f"M{f.at(10, 40)}C{f.at(10, 5)} {f.at(60, 5)} {f.at(60, 40 - gap)}"
    return path(d, "") + _box_below(f)


def _smooth(f: Frame, gap: float) -> str:
    d = f"M{f.at(10, 40)}C{f.at(10, 5)} {f.at(30, 5)} {f.at(35, 20)}"
    return path(f"{d} S{f.at(60, 5)} {f.at(60, 40 - gap)}", "") + _box_below(f)


def _quadratic(f: Frame, gap: float) -> str:
    d = f"M{f.at(10, 40)}Q{f.at(35, 5)} {f.at(60, 40 - gap)}"
    return path(d, "") + _box_below(f)


def _smooth_quadratic(f: Frame, gap: float) -> str:
    d = f"M{f.at(10, 40)}Q{f.at(20, 5)} {f.at(35, 20)}T{f.at(60, 40 - gap)}"
    return path(d, "") + _box_below(f)


def _two_curves(f: Frame, gap: float) -> str:
    upper = f"M{f.at(10, 40)}C{f.at(10, 5)} {f.at(60, 5)} {f.at(60, 40)}"
    lower = f"M{f.at(60, 40 + gap)}C{f.at(60, 75)} {f.at(10, 75)} {f.at(10, 40)}"
    return path(upper, "") + path(lower, "")


def _curve_own_ends(f: Frame, gap: float) -> str:
    d = f"M{f.at(10, 40)}C{f.at(10, 5)} {f.at(60, 5)} {f.at(60, 40)}"
    return path(f"{d} S{f.at(10, 75)} {f.at(10, 40 + gap)}", "")


def _lines(f: Frame, gap: float) -> str:
    ends = ((10, 10, 60, 10), (60, 10, 60, 60), (60, 60, 10, 60), (10, 60, 10, 10 + gap))
    places = [(f.at(a, b).split(","), f.at(c, d).split(",")) for a, b, c, d in ends]
    return "".join(f'<line x1="{a}" y1="{b}" x2="{c}" y2="{d}"/>' for (a, b), (c, d) in places)


def _polyline(f: Frame, gap: float) -> str:
    places = ((10, 10), (60, 10), (60, 60), (10, 60), (10, 10 + gap))
    return f'<polyline points="{" ".join(f.at(x, y) for x, y in places)}"/>'


def _polyline_and_line(f: Frame, gap: float) -> str:
    places = ((10, 10), (60, 10), (60, 60), (10 + gap, 60))
    (a, b), (c, d) = f.at(10, 60).split(","), f.at(10, 10).split(",")
    return (
        f'<polyline points="{" ".join(f.at(x, y) for x, y in places)}"/>'
        f'<line x1="{a}" y1="{b}" x2="{c}" y2="{d}"/>'
    )


def _arc(f: Frame, gap: float) -> str:
    radius = f"{25 / f.scale:.9g}"
    d = f"M{f.at(10, 40)}A{radius} {radius} 0 0 {f.sweep} {f.at(60, 40)}"
    return path(d, "") + _box_below(f, 40 + gap)


def _second_of_two(f: Frame, gap: float) -> str:
    first = _run(f, (10, 10), (60, 10), (60, 60), (10, 60)) + "z"
    second = _run(f, (20, 20), (50, 20), (50, 50), (20, 50), (20, 20 + gap))
    third = _run(f, (30, 30), (40, 30), (40, 40)) + "z"
    return path(f"{first} {second} {third}", "")


KINDS: dict[str, Draw] = {
    name.strip("_"): draw
    for name, draw in globals().items()
    if name.startswith("_") and getattr(draw, "__annotations__", {}).get("gap") == "float"
}
CASES = [
    pytest.param(draw, transform, id=f"{name}-{where}")
    for name, draw in KINDS.items()
    for where, transform in TRANSFORMS.items()
    if name != "arc" or where in EVEN
]


def _sheet(draw: Draw, transform: str, gap: float) -> bytes:
    frame = Frame(parse_transform(transform) if transform else (1, 0, 0, 1, 0, 0))
    width = f'stroke-width="{0.3 / frame.scale:.6g}"'
    wrapped = f'transform="{transform}"' if transform else ""
    return page(f"<g {wrapped} {CUT} {width}>{draw(frame, gap)}</g>")


def _joined(data: bytes) -> Repaired:
    return repair(data, "stage.svg", STRUCTURE, JOINING)


def _faces(lines: list[Floats]) -> int:
    """How many regions the lines enclose; places a thousandth of a millimetre apart are one."""
    drawn = shapely.MultiLineString([line.tolist() for line in lines])
    noded = shapely.unary_union(shapely.set_precision(drawn, 0.001))
    return len(shapely.polygonize([noded]).geoms)


def _open_ends(lines: list[Floats]) -> list[Floats]:
    """Ends of lines that touch no other line and no other end."""
    ends = []
    for number, line in enumerate(lines):
        others = [one for k, one in enumerate(lines) if k != number]
        rest = shapely.MultiLineString([one.tolist() for one in others])
        for end, other in ((line[0], line[-1]), (line[-1], line[0])):
            met = rest.distance(shapely.Point(end)) if others else np.inf
            if min(met, float(np.hypot(*(end - other)))) > MET_MM:
                ends.append(end)
    return ends


@pytest.mark.parametrize("gap_mm", GAPS_MM)
@pytest.mark.parametrize(("draw", "transform"), CASES)
def test_ends_meet_and_nothing_moves_farther_than_the_gap_was_wide(
    draw: Draw, transform: str, gap_mm: float
) -> None:
    data = _sheet(draw, transform, gap_mm)
    copy = _joined(data)
    assert [(one.rule, copy.not_fixed, copy.left) for one in copy.fixed] == [
        ("hairline-gap", (), ())
    ]
    again = _joined(copy.data)
    assert (again.data, again.fixed, again.not_fixed, again.left) == (copy.data, (), (), ())
    before, after = lines_of(data), lines_of(copy.data)
    assert len(_open_ends(before)) >= 1
    assert _open_ends(after) == []
    assert _faces(after) == _faces(before) + 1
    assert copy.moved_mm <= gap_mm + SLACK_MM
    assert len(strays(before, after, copy.moved_mm + SLACK_MM)) == 0
    assert len(strays(after, before, copy.moved_mm + SLACK_MM)) == 0
    assert -SLACK_MM <= length(after) - length(before) <= 2 * gap_mm


def _shapes(data: bytes) -> list[bytes]:
    return re.findall(rb"<(?:path|line|polyline)[^>]*>", data)


def test_only_the_line_that_is_short_is_changed() -> None:
    data = _sheet(_one_short, "", 0.2)
    before, after = _shapes(data), _shapes(_joined(data).data)
    assert before[0] == after[0]
    assert before[1] != after[1]


def test_straight_lines_that_both_stop_short_are_led_on_to_their_corner() -> None:
    after = lines_of(_joined(_sheet(_both_short, "", 0.4)).data)
    assert after[0][-1] == pytest.approx((60, 60), abs=MET_MM)
    assert after[1][0] == pytest.approx((60, 60), abs=MET_MM)


def test_of_a_curve_and_a_straight_line_the_curve_stays() -> None:
    data = _sheet(_cubic, "", 0.4)
    curve, _ = re.findall(rb' d="([^"]*)"', data)
    copy = _joined(data)
    assert curve in copy.data
    assert lines_of(copy.data)[1][0] == pytest.approx((60, 39.6), abs=MET_MM)


def test_an_end_that_heads_for_the_middle_of_a_line_is_led_on_to_it() -> None:
    after = lines_of(_joined(_sheet(_divider, "", 0.4)).data)
    assert after[1].tolist() == [pytest.approx((35, 10)), pytest.approx((35, 60), abs=MET_MM)]


@pytest.mark.parametrize("order", ["wall wall divider", "wall divider wall", "divider wall wall"])
def test_an_end_that_heads_for_a_wall_drawn_twice_is_led_on_to_the_line_that_is_cut(
    order: str,
) -> None:
    """The one drawn later carries nothing: each divider parts its wall in two, in the copy too."""
    corners = [(x, y) for x in (10, 70) for y in (10, 60)]
    drawn = {
        "wall": "".join(f'<rect x="{x}" y="{y}" width="50" height="40"/>' for x, y in corners),
        "divider": "".join(path(f"M{x + 25} {y}V{y + 39.7}", "") for x, y in corners),
    }
    data = page(f"<g {CUT}>{''.join(drawn[kind] for kind in order.split())}</g>")
    copy = _joined(data)
    assert (len(copy.fixed), copy.not_fixed) == (4, ())
    for each in (data, copy.data):
        pieces = lint_bytes(each, "stage.svg", STRUCTURE, JOINING).pieces
        assert [piece.area_mm2 for piece in pieces] == [pytest.approx(25 * 40, abs=0.1)] * 8
    ends = [line[-1] for line in lines_of(copy.data) if np.ptp(line[:, 0]) == 0]
    assert sorted(ends, key=tuple) == [pytest.approx((x + 25, y + 40)) for x, y in corners]


def test_an_arc_stays_the_arc_that_it_is() -> None:
    """A tiny shift of its end could swing it far away: it keeps every number."""
    data = _sheet(_arc, "", 0.3)
    (arc,) = re.findall(rb"M10,40A[^\"]*", data)
    assert arc in _joined(data).data


@pytest.mark.parametrize("draw", [_own_ends, _curve_own_ends], ids=["straight", "curved"])
def test_a_path_whose_own_ends_meet_is_closed(draw: Draw) -> None:
    copy = _joined(_sheet(draw, "", 0.2))
    (d,) = re.findall(rb' d="([^"]*)"', copy.data)
    parsed = svgpathtools.parse_path(d.decode())
    assert d.rstrip().upper().endswith(b"Z")
    assert parsed.isclosed()
    assert all(segment.length() > 1 for segment in parsed), "no stub of a line is left"


def test_sub_paths_that_have_no_gap_keep_every_character() -> None:
    data = _sheet(_second_of_two, "", 0.2)
    (before,), (after,) = (re.findall(rb' d="([^"]*)"', d) for d in (data, _joined(data).data))
    old, new = before.split(b"M"), after.split(b"M")
    assert (old[1], old[3]) == (new[1], new[3])
    assert old[2] != new[2]


def test_what_is_drawn_in_several_places_is_fitted_to_none() -> None:
    wall = path("M10 10H60V60H10", "", "wall")
    body = (
        f"<defs><g {CUT}>{wall}</g></defs>"
        f'<use href="#wall" {CUT}/><use href="#wall" x="80" {CUT}/>'
        + path("M10 10V59.8")
        + path("M90 10V60")
    )
    data = page(body)
    copy = _joined(data)
    assert copy.data is data
    assert ["drawn in several places" in left.reason for left in copy.not_fixed] == [True]


def test_a_gap_wider_than_a_hairline_and_one_that_is_none_are_left() -> None:
    for gap_mm in (0.01, 0.6):
        data = _sheet(_own_ends, "", gap_mm)
        assert _joined(data).data is data
