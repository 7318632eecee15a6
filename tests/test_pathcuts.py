"""Stretches taken out of paths: what goes, what stays, and where distances along a path lie.

References: svgpathtools 1.8.0 for curves and their lengths, shapely 2.1 (GEOS) for distances along
and between lines. Neither shares code with this project.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import shapely
import svgpathtools
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from matready.lint.reading.geometry import read_geometry
from matready.lint.reading.shapes import PathShape
from matready.lint.repair.pathcuts import Cut, Place, Stretch, places
from matready.lint.repair.pathtext import Subpath, read_subpaths, rewrite
from matready.lint.repair.refusal import Refused

from tests.test_pathdata import spelled_paths
from tests.test_pathtext import assert_kept, assert_same, curves_of, drawn, joined, subpaths_of

Complex = npt.NDArray[np.complex128]
Matrix = tuple[float, float, float, float, float, float]

DECIMALS = 9
FLATTEN_MM = 0.01


def point_at(subpath: Subpath, place: Place) -> complex:
    """The point at a place, in user units."""
    index, t = place
    return subpath.curves[index].point(t)


# By hand: what is written


@pytest.mark.parametrize(
    ("data", "stretches", "expected"),
    [
        # A line in two, relative ones too; what is whole keeps its own text.
        ("M0 0H10V10", [((1, 0.25), (1, 0.5))], "M0 0H2.5 M 5 0 H10V10"),
        ("M0 0h5 5 5", [((2, 0.25), (2, 0.5))], "M0 0h5 1.25 M 7.5 0 h2.5 5"),
        ("m1 1 4 0 0 4-4 0", [((2, 0.0), (2, 1.0))], "m1 1 4 0 M 5 5 l-4 0"),
        ("M0 0h5v5", [((1, 0.0), (1, 1.0))], "M 5 0 v5"),
        ("M0 0h5v5", [((2, 0.0), (2, 1.0))], "M0 0h5"),
        ("M0 0h5v5", [((0, 0.0), (2, 1.0))], ""),
        ("M0 0h5v5m1 1h3", [((2, 0.5), (2, 1.0))], "M0 0h5v2.5M 6 6 h3"),
        ("M0 0h5v5m1 1h3", [((1, 0.0), (2, 1.0))], "M 6 6 h3"),
        # A closed one becomes one open one that begins after the stretch; its Z is a line.
        ("M0 0h9v9z", [((1, 0.0), (1, 1.0))], "M 9 0 v9 L 0 0"),
        ("M0 0h9v9z", [((3, 0.0), (3, 1.0))], "M 0 0 h9v9"),
        ("M0 0h9v9z", [((2, 0.0), (3, 1.0))], "M 0 0 h9"),
        ("M0 0h8v8h-8z", [((4, 0.25), (4, 0.75))], "M 0 2 L 0 0 h8v8h-8 L 0 6"),
        # Past the seam.
        ("M0 0h8v8h-8z", [((4, 0.5), (1, 0.5))], "M 4 0 h4v8h-8 L 0 4"),
        ("M0 0h8v8h-8z", [((2, 0.5), (1, 0.5))], "M 4 0 h4v4"),
        ("M0 0h8v8h-8zh3", [((1, 0.0), (1, 1.0))], "M 8 0 v8h-8 L 0 0M 0 0 h3"),
        # Several; they may meet or overlap.
        ("M0 0h8v8h-8z", [((1, 0.0), (1, 1.0)), ((3, 0.0), (3, 1.0))], "M 8 0 v8 M 0 8 L 0 0"),
        ("M0 0h8v8", [((1, 0.25), (1, 0.75)), ((1, 0.5), (2, 0.5))], "M0 0h2 M 8 4 v4"),
        ("M0 0h8v8h-8z", [((4, 0.5), (1, 0.5)), ((1, 0.25), (2, 1.0))], "M 8 8 h-8 L 0 4"),
        ("M0 0h8v8h-8z", [((1, 0.0), (4, 1.0))], ""),
        # Nothing to take.
        ("M0 0h8v8zz m1 1h1", [((1, 0.5), (1, 0.5))], "M0 0h8v8z m1 1h1"),
        ("M0 0h8v8", [], "M0 0h8v8"),
        # What mirrors a control point that is gone says it itself.
        ("M0 0q2 2 4 0t4 0 4 0", [((1, 0.0), (1, 1.0))], "M 4 0 Q 6 -2 8 0 t4 0"),
        ("M0 0c0 2 4 2 4 0s4-2 4 0", [((1, 0.0), (1, 0.5))],
         "M 2 1.5 c1 0 2 -0.5 2 -1.5 C 4 -2 8 -2 8 0"),
        ("M0 0c0 2 4 2 4 0s4-2 4 0", [((1, 0.5), (1, 1.0))],
         "M0 0c0 1 1 1.5 2 1.5 M 4 0 C 4 -2 8 -2 8 0"),
        # A half turn in two quarters.
        ("M0 0A5 5 0 0 1 10 0", [((1, 0.5), (1, 1.0))], "M0 0A5 5 0 0 1 5 -5"),
        # Radii too small for their chord are written as they are drawn: SVG 2, B.2.5.
        ("M0 0A1 1 0 0 1 10 0", [((1, 0.0), (1, 0.5))], "M 5 -5 A5 5 0 0 1 10 0"),
    ],
)  # fmt: skip
def test_what_is_written(data: str, stretches: list[tuple[Place, Place]], expected: str) -> None:
    cut = Cut(tuple(Stretch(begin, end) for begin, end in stretches))
    assert rewrite(data, {0: cut}, 3) == expected


@pytest.mark.parametrize(
    ("data", "stretch", "expected"),
    [
        ("M0 0H10V9", Stretch((1, 0.4), (1, 0.6), 4 + 0.01j, 6.02 + 0j),
         "M0 0 L 4 0.01 M 6.02 0 H10V9"),
        ("M0 0c0 3 3 3 3 0h9v9", Stretch((2, 0.0), (3, 0.0), 3.1 + 0j, 12.1 + 0j),
         "M0 0c0 3 3.1 3 3.1 0 M 12.1 0 L 12 9"),
        # An arc stays, and a line leads on; none for less than a rounding error.
        ("M0 0a5 5 0 0110 0v9", Stretch((2, 0.0), (3, 0.0), 10 + 0.1j),
         "M0 0a5 5 0 0110 0 L 10 0.1"),
        ("M0 0a5 5 0 0110 0v9", Stretch((2, 0.0), (3, 0.0), 10 + 1e-10j), "M0 0a5 5 0 0110 0"),
        ("M0 0v9a5 5 0 0110 0", Stretch((1, 0.0), (2, 0.0), None, 0.1 + 9j),
         "M 0.1 9 L 0 9 a5 5 0 0110 0"),
    ],
)  # fmt: skip
def test_what_remains_ends_where_it_is_told_to(data: str, stretch: Stretch, expected: str) -> None:
    assert rewrite(data, {0: Cut((stretch,))}, 3) == expected


def test_an_open_line_is_not_cut_backward() -> None:
    with pytest.raises(Refused):
        rewrite("M0 0h9v9", {0: Cut((Stretch((2, 0.5), (1, 0.5)),))}, 3)


# Any path, against the independent reader


def length_between(data: str, kept: Sequence[tuple[int, float, float]]) -> float:
    """The length of parts of segments, by svgpathtools; segments count from 1."""
    segments: Any = svgpathtools.parse_path(data)
    return sum(_length(segments[index - 1], begin, end) for index, begin, end in kept)


def finely(segment: Any, begin: float = 0.0, end: float = 1.0) -> Complex:
    """A thousand points on a part of a curve; svgpathtools places an arc point by point only."""
    t = np.linspace(begin, end, 1001)
    if isinstance(segment, svgpathtools.Arc):
        angles = np.radians(segment.theta + t * segment.delta)
        radius = segment.radius
        flat = radius.real * np.cos(angles) + 1j * radius.imag * np.sin(angles)
        return np.asarray(segment.center + segment.rot_matrix * flat)
    return np.asarray(segment.point(t))


def _length(segment: Any, begin: float = 0.0, end: float = 1.0) -> float:
    """By a thousand chords and five hundred, and what Richardson's rule makes of both."""
    points = finely(segment, begin, end)
    fine, rough = (float(np.abs(np.diff(points[::step])).sum()) for step in (1, 2))
    return fine + (fine - rough) / 3


def remaining(subpath: Subpath, stretches: Sequence[Stretch]) -> list[tuple[int, float, float]]:
    """What no stretch covers, told by the middle of each piece between two ends of stretches."""
    count = len(subpath.segments) - 1

    def covered(index: int, t: float) -> bool:
        at = index + t
        for each in stretches:
            begin, end = sum(each.begin), sum(each.end)
            inside = begin <= at < end if begin <= end else at >= begin or at < end
            if inside:
                return True
        return False

    marks = {place for each in stretches for place in (each.begin, each.end)}
    kept = []
    for index in range(1, count + 1):
        stops = sorted({0.0, 1.0, *(t for i, t in marks if i == index)})
        for begin, end in pairwise(stops):
            if not covered(index, (begin + end) / 2):
                kept.append((index, begin, end))
    return kept


@st.composite
def cut_paths(draw: st.DrawFn) -> tuple[str, list[str], int, tuple[Stretch, ...]]:
    """A path, its sub-paths as plain texts, one of them by number, stretches on it."""
    spelled, plain = draw(spelled_paths())
    texts = subpaths_of(plain)
    # Lines of no length are as good as gone: svgpathtools tells them, or does not.
    whole = [
        number
        for number, subpath in enumerate(read_subpaths(spelled))
        if len(drawn(curves_of(texts[number]))) == len(subpath.segments) - 1 > 0
    ]
    assume(whole)
    number = draw(st.sampled_from(whole))
    subpath = read_subpaths(spelled)[number]
    parameter = st.sampled_from([0.0, 1.0]) | st.integers(2, 98).map(lambda n: n / 100)
    place = st.tuples(st.integers(1, len(subpath.segments) - 1), parameter)
    stretches = []
    for _ in range(draw(st.integers(1, 3))):
        begin, end = draw(place), draw(place)
        if sum(end) < sum(begin) and not subpath.closed:
            begin, end = end, begin
        if sum(begin) != sum(end):
            stretches.append(Stretch(begin, end))
    assume(stretches)
    return spelled, texts, number, tuple(stretches)


@settings(max_examples=100)
@given(cut_paths())
def test_a_cut_takes_just_the_stretches(
    case: tuple[str, list[str], int, tuple[Stretch, ...]],
) -> None:
    spelled, texts, number, stretches = case
    subpath = read_subpaths(spelled)[number]
    changed = rewrite(spelled, {number: Cut(stretches)}, DECIMALS)
    before = drawn(joined(map(curves_of, texts[:number])))
    after = drawn(joined(map(curves_of, texts[number + 1 :])))
    found = drawn(curves_of(changed))
    assert_same(found[: len(before)], before)
    assert_same(found[len(found) - len(after) :], after)
    if changed:
        assert_kept(spelled, changed, {number})
    alone = rewrite(texts[number], {0: Cut(stretches)}, DECIMALS)
    assert_same(found[len(before) : len(found) - len(after)], drawn(curves_of(alone)))
    kept = remaining(subpath, stretches)
    expected = length_between(texts[number], kept)
    segments: Any = svgpathtools.parse_path(alone)
    straight = all(segment.letter not in "CcSsQqTtAa" for segment in subpath.segments)
    assert sum(map(_length, segments)) == pytest.approx(
        expected, rel=1e-6 if straight else 1e-4, abs=1e-6
    )
    old: Any = svgpathtools.parse_path(texts[number])
    new = [*map(finely, segments)]
    _assert_on(new, [*map(finely, old)])
    # And the other way: what no stretch covers is still there.
    _assert_on([finely(old[index - 1], begin, end) for index, begin, end in kept], new)


def _assert_on(curves: list[Complex], old: list[Complex]) -> None:
    """Each of these points is on those curves, but for what their chords cut off."""
    if not curves:
        return
    lines = shapely.MultiLineString([np.column_stack((c.real, c.imag)) for c in old])
    points = np.concatenate([curve[::50] for curve in curves])
    away = shapely.distance(shapely.points(points.real, points.imag), lines)
    size = max(np.abs(curve).max() for curve in old) + 1
    chords = max(np.abs(np.diff(curve, 2)).max() for curve in old) / 8
    assert away.max() < 1e-6 * size + 1.2 * chords


def test_a_part_of_an_arc_near_a_half_turn_stays_on_it() -> None:
    # With ends rounded to a tenth of a unit, one arc of 178 degrees would be far off; see SVG 2,
    # 9.5.1: its radii grow, or its centre runs away. Every part stays within the rounding.
    changed = rewrite("M0 0A50 50 0 1 1 0 1", {0: Cut((Stretch((1, 0.5), (1, 1.0)),))}, 1)
    [ours] = read_subpaths(changed)
    # The circle by formula: its centre is beside the chord, to the left of where it runs.
    centre = complex(math.sqrt(50**2 - 0.5**2), 0.5)
    for curve in ours.curves[1:]:
        for t in np.linspace(0, 1, 50):
            assert abs(curve.point(t) - centre) == pytest.approx(50, abs=0.15)


# Distances along


MATRICES = st.builds(
    lambda turn, x, y, shear: (
        x * math.cos(turn), x * math.sin(turn), shear * x - y * math.sin(turn), y * math.cos(turn),
        3.0, -2.0,
    ),
    st.floats(0, 6), st.floats(0.02, 0.3), st.floats(0.02, 0.3), st.floats(-0.5, 0.5),
)  # fmt: skip


@settings(max_examples=100)
@given(spelled_paths(), MATRICES, st.lists(st.floats(0, 1), min_size=1, max_size=5))
def test_distances_along_the_flattened_line_are_found(
    spelling: tuple[str, str], matrix: Matrix, shares: list[float]
) -> None:
    spelled, _ = spelling
    geometry = read_geometry([PathShape(spelled)], np.array([matrix]), FLATTEN_MM)
    lines = np.split(geometry.points, geometry.offsets[1:-1])
    subpaths = read_subpaths(spelled)
    a, b, c, d, e, f = matrix
    for number, points in zip(geometry.subpath.tolist(), lines, strict=False):
        line = shapely.LineString(points)
        along = [share * line.length for share in shares]
        found = places(subpaths[number], matrix, along, FLATTEN_MM)
        for distance, place in zip(along, found, strict=True):
            point = point_at(subpaths[number], place)
            x, y = a * point.real + c * point.imag + e, b * point.real + d * point.imag + f
            here = line.interpolate(distance)
            off = complex(x - here.x, y - here.y)
            assert abs(off) < FLATTEN_MM + 0.002
            if place[1] not in (0.0, 1.0):
                one, other = (line.interpolate(distance + step) for step in (-1e-5, 1e-5))
                chord = complex(other.x - one.x, other.y - one.y)
                # Not in the corner between two chords, which has no one direction.
                if abs(abs(chord) - 2e-5) < 1e-12:
                    assert abs((off * chord.conjugate()).real / abs(chord)) < 0.002


def test_the_end_of_a_segment_is_met_exactly() -> None:
    [subpath] = read_subpaths("M0 0h10v10h-10z")
    same = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    along = [-1, 0, 0.009, 5, 9.991, 10, 10.009, 35, 40, 41]
    assert places(subpath, same, along) == [
        (1, 0.0), (1, 0.0), (1, 0.0), (1, 0.5), (1, 1.0), (1, 1.0), (1, 1.0), (4, 0.5), (4, 1.0),
        (4, 1.0),
    ]  # fmt: skip


def test_an_arc_is_measured_by_its_angle() -> None:
    # A quarter of a circle, by formula; flattened so finely that chords and arc are one.
    [subpath] = read_subpaths("M50 0A50 50 0 0 1 0 50")
    quarter = math.pi * 25
    [(index, t)] = places(subpath, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), [quarter / 3], 1e-6)
    assert index == 1
    assert t == pytest.approx(1 / 3, abs=1e-6)
    assert point_at(subpath, (1, t)) == pytest.approx(50 * np.exp(1j * math.pi / 6), abs=1e-4)


def test_a_line_of_no_length_has_no_places() -> None:
    with pytest.raises(Refused):
        places(read_subpaths("M1 1M2 2h3")[0], (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), [1.0])
