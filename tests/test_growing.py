"""Shapes grown by half the gap keep all of it, held against distances that shapely measures."""

from __future__ import annotations

import math

import pytest
import shapely

from matready.lint.sheets.growing import grow


def _arc(sign: int) -> list[tuple[float, float]]:
    """A shallow arc of radius 60 mm, from left to right; sign tells which way it bulges."""
    steps = [math.radians(-20 + k) for k in range(41)]
    return [(60 * math.sin(a), sign * 60 * (math.cos(a) - 1)) for a in steps]


@pytest.mark.parametrize(
    "points",
    [
        [*_arc(1), (20, 40), (-20, 40)],
        [*_arc(-1), (20, 40), (-20, 40)],
        # A corner of 16.5 degrees is spanned by one chord, which runs well inside its arc.
        [(0, 0), (20, 0), (39.18, 5.68), (20, 30), (0, 30)],
    ],
)
@pytest.mark.parametrize("by_mm", [0.5, 1.0, 2.5])
def test_a_grown_outline_is_nowhere_too_near(
    points: list[tuple[float, float]], by_mm: float
) -> None:
    shape = shapely.Polygon(points)
    assert shapely.distance(grow(shape, by_mm).boundary, shape) >= by_mm - 1e-7


def test_a_shape_of_straight_edges_grows_by_no_more_than_it_has_to() -> None:
    # Two halves that fill a sheet must still fit.
    assert grow(shapely.box(0, 0, 40, 30), 1.0).bounds == pytest.approx((-1, -1, 41, 31), abs=1e-9)
