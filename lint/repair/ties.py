"""Where a dash-styled fold is not to be cut: the gaps that it shows, and a tie at every edge."""

from __future__ import annotations

import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.dashstyle import LEAST_DASH_MM
from matready.lint.repair.dashlook import shown_gaps
from matready.lint.repair.declared import Declared

# Cut up to the edge, a fold would begin to tear there. The least tie of standard perforating
# rule, 0.020 in (a rule maker's table), and what is rounded away.
_TIE_MM = 0.52
_AT_END_MM = 3.0  # what lies near an edge for longer does not run up to it but along it

Stretches = list[tuple[float, float]]


def gaps_of(cutout: Cutout, declared: Declared, line: int, total_mm: float) -> Stretches:
    """The stretches of a line of this length to leave, from and to in mm from its beginning.

    A dash that would be no more than a dot is left too. Raises Refused where they cannot be told.
    """
    node = int(cutout.drawing.line_node[line])
    gaps = shown_gaps(cutout.drawing, declared, node, total_mm)
    return _joined([*gaps, *_ties(cutout, line, total_mm)], total_mm)


def _ties(cutout: Cutout, line: int, total_mm: float) -> Stretches:
    """Where the line comes to an edge of a piece that is folded there."""
    geometry = cutout.drawing.geometry
    points = geometry.line(line)
    path = shapely.LineString(points)
    edges = [
        piece.card.boundary
        for piece in cutout.pieces
        if any(line in cutout.folds[fold].lines for fold in piece.folds)
    ]
    near = shapely.intersection(path, shapely.buffer(shapely.union_all(edges), _TIE_MM))
    scale = total_mm / path.length if path.length else 1.0
    ties = []
    for part in shapely.get_parts(near):
        if part.is_empty or part.geom_type != "LineString" or part.length > _AT_END_MM:
            continue
        ends = sorted(path.project(shapely.Point(part.coords[k])) * scale for k in (0, -1))
        ties.append((ends[0], ends[1]))
    return ties


def _joined(gaps: Stretches, total_mm: float) -> Stretches:
    """The stretches in order, those with too little between them as one."""
    joined: Stretches = []
    for start, end in sorted(gaps):
        before = joined[-1][1] if joined else 0.0
        if start - before < LEAST_DASH_MM and (joined or start > 0.0):
            start, end = (joined.pop()[0] if joined else 0.0), max(before, end)
        joined.append((start, end))
    if joined and total_mm - joined[-1][1] < LEAST_DASH_MM:
        joined[-1] = (joined[-1][0], total_mm)
    return joined
