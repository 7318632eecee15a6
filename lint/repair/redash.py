"""Draws a row of dashes anew along its own straight line, with cuts and ties that fold well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.perforation import straight_line
from matready.lint.drawing import Floats
from matready.lint.repair.curves import round_point
from matready.lint.repair.edits import Edits
from matready.lint.repair.licence import Licence, May
from matready.lint.repair.pathtext import Drop
from matready.lint.repair.pen import Pen
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused
from matready.lint.repair.scores import ScoreCutter
from matready.lint.repair.space import to_user

# Cut 3 mm, leave 1 mm: the ratio of a line printer's perforations that are folded and not torn.
_CUT, _TIE = 3.0, 1.0
_LEAST = 0.5  # the pattern is not made smaller than half of that
_TO_EDGE_MM = 4.0  # a row that ends this near to an edge is a fold up to the edge
_CLEAR_MM = 0.52  # what a dash keeps of an edge: the least tie and what is rounded away
_MOST_TIE = 3.0  # longer ties at the edge would not bend
_SPARE_MM = 0.5  # a shorter part of a fold is left out
_FREE, _CROSSING, _EDGE = 0.0, _TIE / 2, _TIE  # what of a tie stands at the end of a stretch


@dataclass(frozen=True)
class Redraw:
    """Draw straight dashes in place of a sub-path; each from and to, in user units."""

    dashes: tuple[tuple[complex, complex], ...]

    def redraw(self, pen: Pen) -> None:
        """Draw the dashes."""
        for nth, (start, end) in enumerate(self.dashes):
            at = round_point(start, pen.decimals)
            if nth:
                pen.move(at)
            else:
                pen.begin(at)
            pen.line(round_point(end, pen.decimals))


def layout(
    length_mm: float, before: float, after: float, begin_mm: float = 0.0
) -> list[tuple[float, float]]:
    """Dashes over a stretch, from and to in mm; `before` and `after` are the ties at its ends.

    The ratio of cut to tie is kept, and both are fitted to the length. Raises Refused where that
    would make them too small.
    """
    ends = before + after
    count = max(1, round((length_mm + _TIE - ends) / (_CUT + _TIE)))
    size = length_mm / (count * (_CUT + _TIE) - _TIE + ends)
    if size < _LEAST:
        raise Refused("a fold is too short for cuts and ties that hold")
    starts = [begin_mm + (before + n * (_CUT + _TIE)) * size for n in range(count)]
    return [(start, start + _CUT * size) for start in starts]


def plan_redash(cutout: Cutout, cutter: ScoreCutter, folds: Sequence[int]) -> list[Plan]:
    """Ways to draw rows of dashes anew, the best first; raises Refused."""
    axes = {fold: _axis(cutout, fold) for fold in _rows_beside(cutout, folds)}
    changes: list[tuple[int, list[Floats]]] = []
    holds: set[int] = set()
    licences = []
    for fold in folds:
        axis = axes[fold]
        if axis is None:
            raise Refused("a fold is curved; draw its dashes by hand")
        lines = cutout.folds[fold].lines
        for line in lines:
            cutter.refuse_to_cut(line)
        others = [other for number, other in axes.items() if number != fold and other is not None]
        dashes = [dash for part in _parts(cutout, fold, axis, others) for dash in part]
        changes.append((fold, dashes))
        holds.update(lines)
        path = np.vstack([dashes[0][:1], axis, dashes[-1][1:]])
        licences.append(Licence(path, May.REDASH))

    def enter(edits: Edits) -> None:
        for fold, dashes in changes:
            _redraw(cutout, edits, fold, dashes)

    def named(edits: Edits) -> None:
        enter(edits)
        for fold, _ in changes:
            cutter.name(edits, int(cutout.drawing.line_node[cutout.folds[fold].lines[0]]))

    done = "the fold was dashed anew, with a tie at each edge and each crossing"
    return [Plan(frozenset(holds), done, way, licences=tuple(licences)) for way in (enter, named)]


def _rows_beside(cutout: Cutout, folds: Sequence[int]) -> list[int]:
    """The rows of dashes of all pieces that hold one of the folds."""
    wanted = set(folds)
    near = {
        fold
        for piece in cutout.pieces
        if not wanted.isdisjoint(piece.folds)
        for fold in piece.folds
    }
    return sorted(fold for fold in near if len(cutout.folds[fold].lines) > 1)


def _axis(cutout: Cutout, fold: int) -> Floats | None:
    blade = blade_of(cutout.drawing, np.array(cutout.folds[fold].lines))
    return straight_line(np.stack([blade.a[blade.first], blade.b[blade.last]], axis=1))


def _parts(cutout: Cutout, fold: int, axis: Floats, others: Sequence[Floats]) -> list[list[Floats]]:
    """The new dashes, each (2, 2) in mm, of every stretch from edge or crossing to the next."""
    start, way = axis[0], axis[1] - axis[0]
    length = float(np.hypot(*way))
    way = way / length
    cards = [piece.card for piece in cutout.pieces if fold in piece.folds]
    long = shapely.LineString([start - _TO_EDGE_MM * way, start + (length + _TO_EDGE_MM) * way])
    inside = shapely.intersection(long, shapely.union_all(cards))
    crossings = sorted(_crossings_at(start, way, others))
    parts = []
    for part in shapely.get_parts(inside):
        a, b = sorted(
            float((np.array(end) - start) @ way) for end in part.coords[:: len(part.coords) - 1]
        )
        if min(b, length) - max(a, 0.0) < _SPARE_MM:
            continue
        first = _EDGE if a > -_TO_EDGE_MM else _FREE
        last = _EDGE if b < length + _TO_EDGE_MM else _FREE
        a, b = (a if first else 0.0), (b if last else length)
        inner = [(c, _CROSSING) for c in crossings if a < c < b]
        inner += [(t, _EDGE) for t in _touches(cards, start, way, a + _EDGE, b - _EDGE)]
        inner.sort()
        runs = _clear_of_edges(cards, start, way, [(a, first), *inner, (b, last)])
        parts += [[start + np.outer(dash, way) for dash in run] for run in runs]
    if not parts:
        raise Refused("a fold lies outside its piece for the most part")
    return parts


def _touches(
    cards: Sequence[shapely.Polygon], start: Floats, way: Floats, low: float, high: float
) -> list[float]:
    """How far along a line it comes to an edge on its way, such as the corner of a notch."""
    if high <= low:
        return []
    line = shapely.LineString(start + np.outer([low, high], way))
    edges = shapely.union_all([card.boundary for card in cards])
    near = shapely.get_parts(shapely.intersection(line, edges.buffer(_CLEAR_MM)))
    return [
        float((np.array(part.centroid.coords[0]) - start) @ way)
        for part in near
        if not part.is_empty and part.length < 4 * _CLEAR_MM
    ]


def _clear_of_edges(
    cards: Sequence[shapely.Polygon], start: Floats, way: Floats, stops: list[tuple[float, float]]
) -> list[list[tuple[float, float]]]:
    """Dashes from stop to stop; where a fold meets an edge aslant, its tie there is made longer."""
    edges = shapely.union_all([card.boundary for card in cards])
    while True:
        runs = [
            layout(high - low, before, after, low)
            for (low, before), (high, after) in pairwise(stops)
        ]
        short = []
        for nth, dash in ((0, runs[0][0]), (-1, runs[-1][-1])):
            path = shapely.LineString(start + np.outer(dash, way))
            if stops[nth][1] and path.distance(edges) < _CLEAR_MM:
                short.append(nth)
        if not short or max(stops[nth][1] for nth in short) >= _MOST_TIE:
            return runs
        for nth in short:
            stops[nth] = (stops[nth][0], stops[nth][1] + _TIE / 2)


def _crossings_at(start: Floats, way: Floats, others: Sequence[Floats]) -> list[float]:
    """How far along a line others cross it, not merely end at it."""
    found = []
    for other in others:
        along = (other - start) @ way
        aside = way[0] * (other - start)[:, 1] - way[1] * (other - start)[:, 0]
        if aside[0] * aside[1] < 0 and np.abs(aside).min() > _SPARE_MM:
            share = aside[0] / (aside[0] - aside[1])
            found.append(float(along[0] + share * (along[1] - along[0])))
    return found


def _redraw(cutout: Cutout, edits: Edits, fold: int, dashes: Sequence[Floats]) -> None:
    drawing = cutout.drawing
    for nth, line in enumerate(cutout.folds[fold].lines):
        node = drawing.nodes[int(drawing.line_node[line])]
        subpath = int(drawing.geometry.subpath[line])
        if nth:
            edits.change(node.element, subpath, Drop())
            continue
        ends = [(to_user(node.matrix, a), to_user(node.matrix, b)) for a, b in dashes]
        edits.change(node.element, subpath, Redraw(tuple(ends)))
