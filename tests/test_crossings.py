"""Crossed outlines against GEOS (through shapely): is_simple, overlaps, and areas of overlays."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from matready.lint.cutting.crossings import Crossing, find_crossings
from matready.rules.crossed_outline import Limits, check

from tests.drawn import cut_out, lines, path

OVERRUN_MM = Limits().overrun_mm
Points = list[tuple[float, float]]

corner = st.tuples(st.integers(10, 190), st.integers(10, 190)).map(
    lambda xy: (float(xy[0]), float(xy[1]))
)
ring = st.lists(corner, min_size=3, max_size=6, unique=True)


@st.composite
def star_shaped(draw: st.DrawFn) -> Points:
    """A ring of corners around a middle, which never crosses itself."""
    x, y = draw(st.floats(70, 130)), draw(st.floats(70, 130))
    reach = draw(st.lists(st.floats(15, 60), min_size=4, max_size=8))
    turns = [2 * math.pi * k / len(reach) for k in range(len(reach))]
    return [(x + r * math.cos(t), y + r * math.sin(t)) for r, t in zip(reach, turns, strict=True)]


def outline(points: Points) -> str:
    return path("M" + "L".join(f"{x:.6f} {y:.6f} " for x, y in points) + "Z")


def crossings(*body: str) -> list[Crossing]:
    return find_crossings(cut_out(*body), OVERRUN_MM)


def clear_of_the_tolerance(shape: shapely.Geometry) -> bool:
    """Every part is either nothing or far wider than a shared edge may be."""
    return all(part.area == 0 or part.buffer(-0.5).area > 0 for part in shapely.get_parts(shape))


@settings(max_examples=150, deadline=None)
@given(ring)
def test_an_outline_crosses_itself_where_geos_calls_it_not_simple(points: Points) -> None:
    line = shapely.LinearRing(points)
    noded = shapely.polygonize([shapely.union_all([line])])
    # Where a corner touches another side, GEOS says not simple, and nothing is cut apart.
    tips = shapely.points(points)
    after = points[1:] + points[:1]
    sides = [shapely.LineString(side) for side in zip(points, after, strict=True)]
    touches = any(
        0 < side.distance(tip) < 0.5 or (side.distance(tip) == 0 and tip not in side.boundary.geoms)
        for side in sides
        for tip in tips
    )
    assume(not touches and clear_of_the_tolerance(noded))
    found = [c for c in crossings(outline(points)) if c.kind == "itself"]
    assert bool(found) == (not line.is_simple)


@settings(max_examples=150, deadline=None)
@given(star_shaped(), star_shaped())
def test_two_outlines_cross_where_geos_says_they_overlap(one: Points, other: Points) -> None:
    first, second = shapely.Polygon(one), shapely.Polygon(other)
    parts = (first & second, first - second, second - first)
    assume(all(map(clear_of_the_tolerance, parts)))
    assume(min(s.exterior.distance(shapely.Point(p)) for s, ps in ((first, other), (second, one))
               for p in ps) > 0.5)  # fmt: skip
    slot = any(2 * s.area <= (OVERRUN_MM + 0.5) * s.length for s in (first, second))
    assume(not slot)
    found = crossings(outline(one), outline(other))
    assert bool(found) == first.overlaps(second)
    if found:
        assert found[0].count == len(shapely.get_parts(first.exterior & second.exterior))
        assert first.exterior.distance(shapely.Point(found[0].at)) < 1e-3
        assert second.exterior.distance(shapely.Point(found[0].at)) < 1e-3


@pytest.mark.parametrize(("poke", "told"), [(0.05, False), (0.2, True), (4.0, True)])
def test_a_window_over_the_edge_is_an_opening(poke: float, told: bool) -> None:
    wall = outline([(20, 20), (100, 20), (100, 100), (20, 100)])
    window = outline([(80, 40), (100 + poke, 40), (100 + poke, 80), (80, 80)])
    found = crossings(wall, window)
    assert [c.kind for c in found] == (["opening"] if told else [])
    assert [round(c.depth_mm, 3) for c in found] == ([poke] if told else [])


@pytest.mark.parametrize(("past", "told"), [(2.8, False), (3.3, True)])
@pytest.mark.parametrize("turn", [0.0, 0.4, 2.0])
def test_a_slit_may_run_a_little_past_the_edge(past: float, told: bool, turn: float) -> None:
    c, s = math.cos(turn), math.sin(turn)
    at = [(100 + c * x - s * y, 100 + s * x + c * y) for x, y in
          [(-30, -30), (30, -30), (30, 30), (-30, 30), (0, 0), (30 + past, 0)]]  # fmt: skip
    found = crossings(outline(at[:4]), lines([(*at[4], *at[5])]))
    assert [c.kind for c in found] == (["line"] if told else [])


def test_what_only_meets_is_no_crossing() -> None:
    for body in (
        outline([(10, 10), (50, 10), (50, 50), (10, 50)]) * 2,
        outline([(10, 10), (50, 10), (50, 50)]) + outline([(50, 50), (90, 50), (90, 90)]),
        outline([(10, 10), (90, 10), (90, 90), (10, 90)])
        + outline([(10, 30), (50, 30), (50, 60), (10, 60)]),
        lines([(10, y, 90, y) for y in (20, 40, 60)] + [(x, 10, x, 90) for x in (20, 40, 60)]),
    ):
        assert crossings(body) == [], body


def test_an_outline_of_several_lines_is_one() -> None:
    square = [(20, 20, 60, 20), (60, 20, 60, 60), (60, 60, 20, 60), (20, 60, 20, 20)]
    moved = [tuple(np.add(row, 25).tolist()) for row in square]
    found = crossings(lines(square), lines(moved))
    assert [(c.kind, c.count, len(c.lines)) for c in found] == [("outline", 2, 8)]


def test_many_crossings_are_one_finding() -> None:
    row = [outline([(x, 20), (x + 20, 20), (x + 20, 60), (x, 60)]) for x in range(10, 150, 15)]
    found = list(check(cut_out(*row), Limits()))
    assert len(found) == 1
