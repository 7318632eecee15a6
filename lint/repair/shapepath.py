"""Basic shapes as path data that draws the same, from the same point and the same way round."""

from __future__ import annotations

from math import copysign

from matready.lint.reading.faults import path_up_to_fault, points_up_to_fault
from matready.lint.reading.shapes import PathShape, PolyShape, Shape, draw_basic
from matready.lint.reading.strokes import ARC, CLOSE, MOVE, Strokes
from matready.lint.reading.units import format_number
from matready.lint.repair.refusal import Refused
from matready.lint.repair.segments import exact_decimals

# All but the last of a float: a small round corner of a large rectangle has to stay a quarter turn.
_DIGITS = 15


def data_of_shape(shape: Shape, decimals: int) -> str:
    """Path data that draws the shape; '' where it draws nothing.

    Numbers have fifteen significant digits, and more where `decimals` asks for them. Raises Refused
    where the shape is not drawn to its end.
    """
    if isinstance(shape, PathShape):
        if path_up_to_fault(shape.d).fault and shape.d.strip() != "none":
            raise Refused("its data cannot be read to the end")
        return shape.d
    if isinstance(shape, PolyShape):
        return _data_of_points(shape, decimals)
    strokes = Strokes()
    reason = draw_basic(shape, strokes)
    if reason:
        raise Refused(reason)
    return _data_of_strokes(strokes, decimals)


def _data_of_points(shape: PolyShape, decimals: int) -> str:
    found = points_up_to_fault(shape.points, shape.closed)
    if found.fault:
        raise Refused("its points cannot be read to the end")
    numbers = _spelled(found.commands.numbers, decimals)
    points = [f"{x} {y}" for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
    return ("M " + " L ".join(points) + " z" * shape.closed) if points else ""


def _data_of_strokes(strokes: Strokes, decimals: int) -> str:
    words: list[str] = []
    coords = strokes.coords
    at = 0
    for kind in strokes.kinds:
        taken = coords[at : at + (6 if kind == ARC else 2)]
        here = coords[at - 2 : at]
        at += len(taken)
        end = _spelled(taken[-2:], decimals, coords)
        if kind == ARC:
            # The signs of the radii hold the flags; the basic shapes know no rotation.
            radii = _spelled([abs(taken[0]), abs(taken[1])], decimals)
            flags = [str(int(copysign(1, taken[1]) < 0)), str(int(copysign(1, taken[0]) > 0))]
            words += ["A", *radii, "0", *flags, *end]
        elif kind == CLOSE:
            words.append("z")
        elif kind == MOVE or here != taken:  # a corner that is not round is a line of no length
            words += ["M" if kind == MOVE else "L", *end]
    return " ".join(words)


def _spelled(numbers: list[float], decimals: int, among: list[float] | None = None) -> list[str]:
    reach = max((abs(number) for number in among or numbers), default=0.0) or 1.0
    places = max(decimals, exact_decimals(reach, _DIGITS))
    return [format_number(number, places) for number in numbers]
