"""Between millimetres on the page and an element's own path data."""

from __future__ import annotations

from matready.lint.cutting import Cutout
from matready.lint.drawing import Floats
from matready.lint.reading.transforms import Matrix
from matready.lint.repair.edits import data_of, shape_of
from matready.lint.repair.pathtext import Subpath, read_subpaths
from matready.lint.repair.refusal import Refused
from matready.lint.repair.tags import read_tag

_STRAIGHT = frozenset("LlHhVv")


def to_user(matrix: Matrix, place: Floats) -> complex:
    """A place in mm in user units; raises Refused where the transform cannot be undone."""
    a, b, c, d, e, f = matrix
    det = a * d - b * c
    if not det:
        raise Refused("its transform squeezes it to nothing")
    x, y = float(place[0]) - e, float(place[1]) - f
    return complex((d * x - c * y) / det, (a * y - b * x) / det)


def subpath_of(cutout: Cutout, line: int) -> Subpath:
    """The sub-path that draws a line; raises Refused where the file's data cannot be told."""
    drawing = cutout.drawing
    element = drawing.nodes[int(drawing.line_node[line])].element
    data = data_of(shape_of(drawing, element), read_tag(drawing.source, element), 12)
    number = int(drawing.geometry.subpath[line])
    subpaths = read_subpaths(data)
    if number >= len(subpaths):
        raise Refused("its data cannot be told apart")
    return subpaths[number]


def is_straight(cutout: Cutout, line: int, at_start: bool) -> bool:
    """Whether an open line is straight at its start, or at its end."""
    segments = subpath_of(cutout, line).segments
    return segments[1 if at_start else -1].letter in _STRAIGHT
