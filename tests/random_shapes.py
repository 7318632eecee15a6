"""Random outlines for property tests: any polygon, with or without holes, in one or two parts."""

from __future__ import annotations

import math

import shapely
from hypothesis import strategies as st

from matready.lint.sheets.raster import Shape


def _star(count: int, radii: list[float], turn: float, scale: float) -> shapely.Polygon:
    corners = [
        (
            scale * radii[k % len(radii)] * math.cos(turn + 2 * math.pi * k / count),
            scale * radii[k % len(radii)] * math.sin(turn + 2 * math.pi * k / count),
        )
        for k in range(count)
    ]
    return shapely.Polygon(corners)


@st.composite
def shapes(draw: st.DrawFn, most_mm: float) -> Shape:
    """A valid shape, at most so wide and high, anywhere near the origin."""
    half = draw(st.floats(1.0, most_mm / 2))
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(0.35, 1.0), min_size=1, max_size=12))
    turn = draw(st.floats(0, 6.3))
    kind = draw(st.sampled_from(["star", "box", "frame", "ring", "pair"]))
    if kind == "star":
        shape: Shape = _star(count, radii, turn, half)
    elif kind == "ring":
        disc = shapely.Point(0, 0).buffer(half)
        shape = disc.difference(shapely.affinity.scale(disc, radii[0] * 0.9, radii[0] * 0.9))
    else:
        width, height = half * radii[0], half * radii[-1]
        shape = shapely.box(-width, -height, width, height)
        if kind == "frame":
            shape = shape.difference(shapely.affinity.scale(shape, 0.7, 0.5))
        elif kind == "pair":
            shape = shape.difference(shapely.box(-0.1 * width, -half, 0.1 * width, half))
    dx, dy = draw(st.tuples(st.floats(-50, 50), st.floats(-50, 50)))
    return shapely.affinity.translate(shape, dx, dy)
