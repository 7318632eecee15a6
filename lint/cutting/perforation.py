"""Rows of dashes as perforations: how much of a fold is cut, and where ties are missing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.dashes import GAP_MM
from matready.lint.drawing import Floats, Ints

_ASIDE_MM = 0.1  # a straight row's dashes lie this near to one straight line
# An edge that slants to the fold leaves a wedge of card beside the last dash. Where the fold stops
# a tie short of the edge along its own way, the wedge may be this share of a tie wide: at a tie's
# distance that is an edge at 19 degrees. Common practice, no source: glue tabs and pyramids have
# their folds end on such edges.
ASLANT = 1 / 3
_ON_THE_WAY_MM = 0.02  # a corner that lies on the fold's way is met by it, whatever was rounded
_INSIDE_MM = 0.1  # dashes cross where they do so this far from their ends; else they only meet


@dataclass(frozen=True, eq=False, slots=True)
class Perforation:
    """A fold (index into Cutout.folds) in a piece (index into Cutout.pieces), cut dash by dash.

    `cut_share` is that of a dash and the gap behind it, as they are on average between the row's
    ends; `tie_mm` the narrowest gap. `at_edge` and `crossing` are places (n, 2) where a dash comes
    to an edge of the piece, nearer than the tie that is asked for, or crosses one of another fold.
    `line` are the ends (2, 2) of the straight line that the row lies on, None for a curved one.
    """

    fold: int
    piece: int
    cut_share: float
    tie_mm: float
    at_edge: Floats
    crossing: Floats
    line: Floats | None


def perforations(cutout: Cutout, tie_mm: float) -> list[Perforation]:
    """Every row of dashes that lies in a piece; an edge asks for a tie of `tie_mm`."""
    rows = [
        (fold, number)
        for number, piece in enumerate(cutout.pieces)
        for fold in piece.folds
        if len(cutout.folds[fold].lines) > 1 and not cutout.mostly_on_cuts(cutout.folds[fold].lines)
    ]
    if not rows:
        return []
    crossings = _crossings(cutout, sorted({fold for fold, _ in rows}))
    found = []
    for fold, number in rows:
        lines = np.array(cutout.folds[fold].lines)
        blade = blade_of(cutout.drawing, lines)
        ends = np.stack([blade.a[blade.first], blade.b[blade.last]], axis=1)
        axis = straight_line(ends)
        cuts, gaps = _along(ends, axis) if axis is not None else _in_turn(ends, blade.total)
        inner = cuts[1:-1] if len(cuts) > 2 else cuts
        if not len(gaps) or float(np.median(gaps)) <= cutout.distances.join_mm:
            continue  # what touches is one cut
        cut, gap = float(inner.mean()), float(gaps.mean())
        found.append(
            Perforation(
                fold,
                number,
                cut / (cut + gap),
                float(gaps.min()),
                _at_edge(cutout, number, lines, tie_mm),
                crossings.get(fold, np.zeros((0, 2))),
                axis,
            )
        )
    return found


def straight_line(ends: Floats) -> Floats | None:
    """The two outermost (2, 2) of the ends (k, 2, 2) of dashes on one straight line, else None.

    That which is nearer to the beginning of the first dash comes first.
    """
    points = ends.reshape(-1, 2)
    far = points[np.argmax(np.hypot(*(points - points[0]).T))]
    other = points[np.argmax(np.hypot(*(points - far).T))]
    way = other - far
    length = float(np.hypot(*way))
    if not length:
        return None
    rest = points - far
    aside = np.abs(way[0] * rest[:, 1] - way[1] * rest[:, 0]) / length
    if aside.max() > _ASIDE_MM:
        return None
    turned = np.hypot(*(points[0] - far)) > np.hypot(*(points[0] - other))
    return np.stack([other, far] if turned else [far, other])


def _along(ends: Floats, axis: Floats) -> tuple[Floats, Floats]:
    """Lengths of dashes and of gaps on a straight line; what is drawn twice counts once."""
    way = axis[1] - axis[0]
    at = np.sort((ends - axis[0]) @ way / np.hypot(*way), axis=1)
    at = at[np.argsort(at[:, 0])]
    reach = np.maximum.accumulate(at[:, 1])
    new = np.concatenate([[True], at[1:, 0] > reach[:-1]])
    first = np.flatnonzero(new)
    last = np.append(first[1:] - 1, len(at) - 1)
    return np.asarray(reach[last] - at[first, 0]), np.asarray(at[first[1:], 0] - reach[last[:-1]])


def _in_turn(ends: Floats, lengths: Floats) -> tuple[Floats, Floats]:
    """The same for dashes along a curve, which are in their order but for some at the end."""
    apart = np.linalg.norm(ends[:-1, :, None] - ends[1:, None, :], axis=-1)
    gaps = apart.reshape(len(ends) - 1, 4).min(axis=1)
    return lengths, gaps[gaps <= GAP_MM]


def _paths(cutout: Cutout, lines: Ints) -> np.ndarray:
    points = [cutout.drawing.geometry.line(n) for n in lines.tolist()]
    owner = np.repeat(np.arange(len(points)), [len(each) for each in points])
    return np.asarray(shapely.linestrings(np.vstack(points), indices=owner))


def _at_edge(cutout: Cutout, piece: int, lines: Ints, tie_mm: float) -> Floats:
    """Where dashes come nearer to an edge of their piece than a tie, as `ASLANT` has it."""
    edge, paths = cutout.pieces[piece].card.boundary, _paths(cutout, lines)
    apart, least = shapely.distance(paths, edge), tie_mm - 1e-3
    near = apart < least
    for dash in np.flatnonzero(near & (apart >= ASLANT * least)).tolist():
        near[dash] = not _stops_short(paths[dash], edge, least)
    places = shapely.get_point(shapely.shortest_line(paths[near], edge), 0)
    return np.asarray(shapely.get_coordinates(places))


def _stops_short(dash: shapely.LineString, edge: shapely.Geometry, tie_mm: float) -> bool:
    """Whether a dash is near an edge only where it ends, a tie short of it along its own way."""
    points = shapely.get_coordinates(dash)
    nearest = shapely.get_point(shapely.shortest_line(dash, edge), 0)
    for end, before in ((points[-1], points[-2]), (points[0], points[1])):
        if shapely.distance(shapely.Point(end), nearest) > _ON_THE_WAY_MM:
            continue
        way = (end - before) / np.hypot(*(end - before))
        ahead = shapely.LineString([end, end + way * tie_mm / ASLANT])
        met = shapely.intersection(ahead.buffer(_ON_THE_WAY_MM), edge)
        return not met.is_empty and bool(shapely.distance(shapely.Point(end), met) >= tie_mm)
    return False


def _crossings(cutout: Cutout, folds: list[int]) -> dict[int, Floats]:
    """For each fold the places where one of its dashes crosses a dash of another one."""
    lines = np.array([line for fold in folds for line in cutout.folds[fold].lines])
    owner = np.repeat(folds, [len(cutout.folds[fold].lines) for fold in folds])
    paths = _paths(cutout, lines)
    one, other = shapely.STRtree(paths).query(paths, "crosses")
    apart = owner[one] != owner[other]
    one, other = one[apart], other[apart]
    places = shapely.centroid(shapely.intersection(paths[one], paths[other]))
    ends = shapely.boundary(paths)
    inside = np.minimum(shapely.distance(places, ends[one]), shapely.distance(places, ends[other]))
    kept = inside > _INSIDE_MM
    found: dict[int, list[tuple[float, float]]] = {}
    for fold, place in zip(owner[one[kept]].tolist(), places[kept], strict=True):
        found.setdefault(fold, []).append((place.x, place.y))
    return {fold: np.array(at) for fold, at in found.items()}
