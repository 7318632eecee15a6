"""What a part takes up on its paper: its shape, and what its curves may be off their chords."""

from __future__ import annotations

from collections.abc import Iterable

from matready.lint.repair.curves import Bezier, Curve
from matready.lint.sheets.growing import clipped
from matready.lint.sheets.parts import Part
from matready.lint.sheets.raster import Shape

_STRAIGHT = 2  # so many points has a curve that is a straight line
_WAYS = (-1 + 0j, -1j, 1 + 0j, 1j)  # left, up, right, down
_LOOKS = 16  # places along a curve between which its farthest point is looked for
_HALVINGS = 30
_HAIR_MM = 1e-9


def room_of(part: Part, flatten_mm: float) -> Shape:
    """What must stay free of other parts, in mm on the page of its source.

    Its chords may be off the curves, and so may those of whoever reads the mat and measures the
    gap, so a part with curves is a little larger. But it ends where its curves do to the left and
    right, up and down: what is exactly as large as its paper within the margins fits.
    """
    curves = [curve for line in part.lines for curve in line.curves if not _is_straight(curve)]
    if not curves:
        return part.shape
    return clipped(part.shape.buffer(2 * flatten_mm), _box(part.shape, curves))


def _is_straight(curve: Curve) -> bool:
    return isinstance(curve, Bezier) and len(curve.points) == _STRAIGHT


def _box(shape: Shape, curves: Iterable[Curve]) -> tuple[float, float, float, float]:
    """The box around a shape and the curves that its edges follow."""
    x0, y0, x1, y1 = shape.bounds
    reach = [-x0, -y0, x1, y1]
    for curve in curves:
        farthest = 2 * curve.extent()  # of an arc that is how far its middle lies, or its end
        for k, way in enumerate(_WAYS):
            if _along(curve.start, way) + farthest > reach[k] + _HAIR_MM:
                reach[k] = max(reach[k], _reach(curve, way))
    return -reach[0], -reach[1], reach[2], reach[3]


def _along(point: complex, way: complex) -> float:
    return (point * way.conjugate()).real


def _reach(curve: Curve, way: complex) -> float:
    """How far a curve reaches one way."""
    best = max(range(_LOOKS + 1), key=lambda k: _along(curve.point(k / _LOOKS), way))
    low, high = max(best - 1, 0) / _LOOKS, min(best + 1, _LOOKS) / _LOOKS
    for _ in range(_HALVINGS):
        third = (high - low) / 3
        if _along(curve.point(low + third), way) < _along(curve.point(high - third), way):
            low += third
        else:
            high -= third
    ends = (curve.start, curve.point((low + high) / 2), curve.end)
    return max(_along(point, way) for point in ends)
