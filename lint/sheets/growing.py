"""Shapes grown by half the gap: where two grown ones do not overlap, the gap is kept."""

from __future__ import annotations

import math

import shapely

from matready.lint.sheets.raster import Shape

_SEGMENTS = 8  # chords of a quarter turn around a corner

_HAIR_MM = 1e-8
_ROUNDS = 5  # two do as a rule

# How far a corner may reach beyond the true distance where nothing rounds it off, as a multiple.
_MITRE = 2.0


def grow(shape: Shape, by_mm: float) -> Shape:
    """Every point within a distance of the shape, and at corners a hair more.

    Chords run inside the arc around a corner and would take a little off the gap. So the arc is
    drawn as much larger as its chords need; straight edges are held to the exact distance by
    mitres, or two halves that fill a sheet would fit no more.
    """
    if by_mm <= _HAIR_MM:
        return shape
    grown, more_mm = _grown(shape, by_mm), by_mm
    for _ in range(_ROUNDS):
        # The library makes shallow hollows straight before it grows a shape (up to a hundredth of
        # the distance), and spans small turns by one chord: what is lost so is measured and added.
        short_mm = by_mm - shapely.distance(grown.boundary, shape)
        if short_mm <= _HAIR_MM:
            break
        more_mm += short_mm
        grown = _grown(shape, more_mm)
    return grown


def _grown(shape: Shape, by_mm: float) -> Shape:
    round_ = shape.buffer(by_mm / math.cos(math.pi / 4 / _SEGMENTS), quad_segs=_SEGMENTS)
    straight = shape.buffer(by_mm, join_style="mitre", mitre_limit=_MITRE)
    return _solid(shapely.intersection(round_, straight))


def turned(shape: Shape, turn_deg: float) -> Shape:
    """The shape turned about (0, 0): x' = x cos - y sin, y' = x sin + y cos."""
    cos, sin = cos_sin(turn_deg)
    return shapely.affinity.affine_transform(shape, [cos, -sin, sin, cos, 0.0, 0.0])


def cos_sin(turn_deg: float) -> tuple[float, float]:
    """Both of an angle in degrees, exact for quarter turns."""
    quarters, rest = divmod(turn_deg, 90.0)
    cos, sin = (
        (1.0, 0.0) if not rest else (math.cos(math.radians(rest)), math.sin(math.radians(rest)))
    )
    for _ in range(int(quarters) % 4):
        cos, sin = -sin, cos
    return cos, sin


def clipped(shape: Shape, box: tuple[float, float, float, float]) -> Shape:
    """What of a shape lies in a box of edges; of parts without an area nothing."""
    return _solid(shapely.intersection(shape, shapely.box(*box)))


def _solid(shape: shapely.Geometry) -> Shape:
    """Only what has an area: an intersection may leave lines behind."""
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon)]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
