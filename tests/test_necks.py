"""Thin bridges: shapes whose narrowest place is known by construction, turned and moved at random.

The widths are checked with GEOS (through shapely) too: a card loses its bridge in an erosion by
half its width and a little more, and keeps it in one by a little less.
"""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from matready.lint.cutting.necks import Neck, necks_of

from tests.drawn import cut_out, path

LIMIT_MM = 1.0
width = st.one_of(st.floats(0.3, 0.95), st.floats(1.05, 2.0))
place = st.tuples(st.floats(0, 360), st.floats(-10, 10), st.sampled_from([1.0, -1.0]))
Place = tuple[float, float, float]


def moved(shape: shapely.Geometry, where: Place) -> shapely.Geometry:
    turn, shift, mirror = where
    shape = affinity.scale(shape, mirror, 1.0, origin=(0, 0))
    return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), 100 + shift, 100 - shift)


def way(line: shapely.Geometry, end: str = "") -> str:
    points = list(line.coords)
    return "M" + "L".join(f"{x:.6f} {y:.6f} " for x, y in points) + end


def necks(card: shapely.Polygon, *slits: shapely.LineString) -> list[Neck]:
    rings = [path(way(ring, "Z")) for ring in (card.exterior, *card.interiors)]
    cutout = cut_out(*rings, *(path(way(slit)) for slit in slits))
    return [neck for _, found in necks_of(cutout, LIMIT_MM) for neck in found]


def assert_told(found: list[Neck], wide: float, count: int = 1) -> None:
    assert len(found) == (count if wide < LIMIT_MM else 0)
    assert all(abs(neck.width_mm - wide) < 0.03 for neck in found)


@settings(max_examples=60, deadline=None)
@given(width, st.floats(0.5, 30), place)
def test_the_bar_of_a_dumb_bell(wide: float, long: float, where: Place) -> None:
    bar = shapely.box(-long / 2 - 1, -wide / 2, long / 2 + 1, wide / 2)
    ends = [shapely.box(x, -8, x + 20, 8) for x in (-long / 2 - 20, long / 2)]
    card = shapely.union_all([bar, *ends])
    assert shapely.get_num_geometries(card.buffer(-wide / 2 - 0.01)) == 2
    assert shapely.get_num_geometries(card.buffer(-wide / 2 + 0.01)) == 1
    found = necks(moved(card, where))
    assert_told(found, wide)
    assert all(abs(neck.length_mm - long) < 1.0 for neck in found)


@settings(max_examples=60, deadline=None)
@given(width, place)
def test_the_wall_of_a_ring(wide: float, where: Place) -> None:
    ring = shapely.Point(0, 0).buffer(20, 64) - shapely.Point(0, 0).buffer(20 - wide, 64)
    assert_told(necks(moved(ring, where)), wide)


@settings(max_examples=60, deadline=None)
@given(width, place)
def test_two_holes_and_the_edge(wide: float, where: Place) -> None:
    card = shapely.box(-40, -30, 40, 30)
    holes = [shapely.box(-20, -10, -wide / 2, 10), shapely.box(wide / 2, -10, 20, 10)]
    assert_told(necks(moved(card - shapely.union_all(holes), where)), wide)
    beside = card - shapely.box(0, -10, 40 - wide, 10)
    assert_told(necks(moved(beside, where)), wide)


@settings(max_examples=60, deadline=None)
@given(width, place)
def test_slits_side_by_side_and_short_of_the_edge(wide: float, where: Place) -> None:
    card = shapely.box(-40, -30, 40, 30)
    slits = [shapely.LineString([(-20, y), (20, y)]) for y in (0, wide)]
    turned = [moved(slit, where) for slit in slits]
    assert_told(necks(moved(card, where), *turned), wide)
    short = shapely.LineString([(0, 0), (0, 30 - wide)])
    assert_told(necks(moved(card, where), moved(short, where)), wide)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.3, 2.0), st.floats(4, 25), place)
def test_teeth_points_and_corners_are_no_bridges(wide: float, long: float, where: Place) -> None:
    body = shapely.box(-30, -20, 30, 0)
    teeth = [shapely.box(x, -1, x + wide, long) for x in (-20, -5, 10)]
    assert necks(moved(shapely.union_all([body, *teeth]), where)) == []
    spikes = [shapely.Polygon([(x, -1), (x + wide + 1, -1), (x, long)]) for x in (-20, -5, 10)]
    assert necks(moved(shapely.union_all([body, *spikes]), where)) == []
    leaf = shapely.Point(0, long / 2 + 20).buffer(long / 2 + 21, 64)
    pointed = leaf & affinity.scale(leaf, 1, -1, origin=(0, 0))
    assert necks(moved(pointed, where)) == []


@pytest.mark.parametrize(("apart", "count"), [(0.0, 0), (0.01, 0), (0.02, 0)])
def test_a_curved_slit_in_two_parts_is_one_slit(apart: float, count: int) -> None:
    # A wave of two curves; to the blade ends 0.025 mm apart are one point.
    wave = path("M30 50Q40 40 45 50"), path(f"M45 {50 + apart}Q50 {60 + apart} 60 50")
    cutout = cut_out(path("M10 10H90V90H10Z"), *wave)
    assert len([neck for _, found in necks_of(cutout, LIMIT_MM) for neck in found]) == count
