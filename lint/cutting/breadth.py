"""Breadth: the largest circle that fits into a shape, where that is smaller than a limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from matready.lint.drawing import Bools
from matready.lint.finding import Point

_GRID = 8  # places tried along each side before the exact circle is worked out
_STEP_MM = 0.005  # how exactly the circle is found


@dataclass(frozen=True, slots=True)
class Breadth:
    """How broad a shape is at its widest: diameter and centre of the circle, in mm.

    It was drawn no broader than `at_most_mm`. `times` is how many times as long as broad the shape
    is, whichever way it bends: the length of a strip of its area and breadth, over that breadth.
    """

    across_mm: float
    at_most_mm: float
    at: Point
    times: float


def narrow(
    shapes: Sequence[shapely.Polygon], limits_mm: Sequence[float], flatten_mm: float
) -> list[Breadth | None]:
    """For each shape its breadth where it was drawn narrower than its own limit, else None."""
    if not shapes:
        return []
    wide = _surely_wide(shapes, limits_mm).tolist()
    return [
        None if sure else _breadth(shape, limit_mm, flatten_mm)
        for shape, limit_mm, sure in zip(shapes, limits_mm, wide, strict=True)
    ]


def _surely_wide(shapes: Sequence[shapely.Polygon], limits_mm: Sequence[float]) -> Bools:
    """Shapes that need no closer look: without holes, and with a large area for their outline.

    The inradius of a region without holes is at least its area over its perimeter: R. Osserman,
    "Bonnesen-style isoperimetric inequalities", Amer. Math. Monthly 86 (1979); from memory.
    """
    rows, limits = np.array(shapes), np.array(limits_mm)
    whole = shapely.get_num_interior_rings(rows) == 0
    return np.asarray(whole & (2 * shapely.area(rows) >= limits * shapely.length(rows)))


def _is_roomy(shape: shapely.Polygon, across_mm: float) -> bool:
    """True when one of a grid of places is far enough from every edge; False tells nothing."""
    x0, y0, x1, y1 = shape.bounds
    if min(x1 - x0, y1 - y0) < across_mm:
        return False
    steps = (np.arange(_GRID) + 0.5) / _GRID
    x, y = np.repeat(x0 + (x1 - x0) * steps, _GRID), np.tile(y0 + (y1 - y0) * steps, _GRID)
    points = shapely.points(x, y)[shapely.contains_xy(shape, x, y)]
    return bool((shapely.distance(shape.boundary, points) >= across_mm / 2).any())


def _breadth(shape: shapely.Polygon, limit_mm: float, flatten_mm: float) -> Breadth | None:
    if _is_roomy(shape, limit_mm):
        return None
    radius = shapely.maximum_inscribed_circle(shape, tolerance=_STEP_MM)
    across_mm = 2 * float(shapely.length(radius))
    # Chords cut curves short and the search stops a step early: both make the circle look smaller.
    at_most_mm = across_mm + 2 * (flatten_mm + _STEP_MM)
    if at_most_mm >= limit_mm:
        return None
    x, y = radius.coords[0]
    times = float(shape.area) / across_mm**2 if across_mm else float("inf")
    return Breadth(across_mm, at_most_mm, (x, y), times)
