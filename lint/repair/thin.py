"""Takes points out of a line of straight steps, so that no place of it moves to speak of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import DRAW
from matready.lint.drawing import Floats
from matready.lint.reading.shapes import PolyShape
from matready.lint.reading.transforms import Matrix
from matready.lint.repair.curves import Bezier
from matready.lint.repair.edits import Edits, data_of, shape_of
from matready.lint.repair.pathtext import Subpath, read_subpaths
from matready.lint.repair.pen import Pen
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused

_SHARE = 0.8  # of same_place_mm: what stays must be the same line to the blade, with room to spare


@dataclass(frozen=True)
class Keep:
    """Draw a sub-path by straight lines to the ends of these of its segments only."""

    segments: tuple[int, ...]

    def redraw(self, pen: Pen) -> None:
        """Draw what is kept."""
        pen.begin(pen.subpath.start)
        for index in self.segments:
            segment = pen.subpath.segments[index]
            if segment.letter in "Zz":
                pen.close(index)
            else:
                pen.draw(Bezier((pen.current, segment.to)), index)


def plan_thin(cutout: Cutout, line: int) -> Plan:
    """How to draw a line by fewer points; raises Refused where it is not all straight steps."""
    drawing = cutout.drawing
    node = drawing.nodes[int(drawing.line_node[line])]
    number = int(drawing.geometry.subpath[line])
    if len(drawing.nodes_of(node.element)) > 1:
        raise Refused("the line is drawn in several places by a <use>; simplify it by hand")
    shape = shape_of(drawing, node.element)
    tag = Edits(drawing).tag(node.element)
    points = isinstance(shape, PolyShape)
    data = f"M{shape.points}" if isinstance(shape, PolyShape) else data_of(shape, tag, 0)
    subpath = next((one for one in read_subpaths(data) if one.number == number), None)
    if subpath is None or any(segment.letter not in "MmLlHhVvZz" for segment in subpath.segments):
        raise Refused("it is not all straight steps; simplify the curve in a drawing program")
    closing = isinstance(shape, PolyShape) and shape.closed
    places = _places(subpath, node.matrix, closing)
    kept = _kept(cutout, line, places)
    thinner = shapely.LineString(places[kept])
    moved = float(shapely.distance(thinner, shapely.points(places)).max())

    def enter(edits: Edits) -> None:
        wanted = [index for index in kept if index < len(subpath.segments)]
        if points:
            words = [_spelled(data, subpath, index) for index in wanted]
            edits.set(node.element, "points", " ".join(words))
        else:
            edits.change(node.element, number, Keep(tuple(wanted[1:])))

    done = f"{len(places) - len(kept)} of {len(places)} points were taken out"
    return Plan(frozenset([line]), done, enter, moved)


def _places(subpath: Subpath, matrix: Matrix, closing: bool) -> Floats:
    """Where each segment ends, in mm, the move first; a polygon comes back to its start."""
    ends = np.array([segment.to for segment in subpath.segments])
    if closing:
        ends = np.append(ends, ends[0])
    a, b, c, d, e, f = matrix
    x, y = ends.real, ends.imag
    return np.column_stack([a * x + c * y + e, b * x + d * y + f])


def _spelled(data: str, subpath: Subpath, index: int) -> str:
    spans = subpath.segments[index].spans
    return data[spans[0][0] : spans[-1][1]]


def _kept(cutout: Cutout, line: int, places: Floats) -> list[int]:
    """Which places stay: the ends, those where other lines come near, and what the shape needs."""
    steps = shapely.linestrings(np.stack([places[:-1], places[1:]], axis=1))
    geometry = cutout.drawing.geometry
    others = np.flatnonzero(cutout.roles.role != DRAW)
    others = others[others != line]
    near_mm = cutout.distances.same_place_mm
    fixed = {0, len(places) - 1}
    if len(others):
        drawn = [geometry.line(n) for n in others]
        tree = shapely.STRtree([shapely.LineString(each) for each in drawn])
        met = np.unique(tree.query(steps, "dwithin", distance=near_mm)[0])
        fixed |= {*met.tolist(), *(met + 1).tolist()}
    stops = sorted(fixed)
    kept = [0]
    for first, last in pairwise(stops):
        kept += [first + index for index in _needed(places[first : last + 1], _SHARE * near_mm)]
    return kept


def _needed(places: Floats, within_mm: float) -> Sequence[int]:
    """Which places of a run it needs after its first, by the way of Douglas and Peucker (1973)."""
    if len(places) < 3:
        return range(1, len(places))
    thinner = shapely.LineString(places).simplify(within_mm, preserve_topology=False)
    wanted = shapely.get_coordinates(thinner).tolist()
    found, at = [], 0
    rows = places.tolist()
    for place in wanted[1:-1]:
        at = rows.index(place, at + 1)
        found.append(at)
    return [*found, len(rows) - 1]
