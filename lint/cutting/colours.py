"""Scores told by colour: one of open lines only, hardly bent, inside outlines of another colour."""

from __future__ import annotations

import numpy as np
import shapely

from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.doubles import Doubles
from matready.lint.cutting.faces import find_faces
from matready.lint.cutting.folds import samples_of
from matready.lint.cutting.meeting import find_meetings
from matready.lint.cutting.network import build_network
from matready.lint.cutting.roles import CUT, UNTOLD, Roles, colour_candidates, with_colour
from matready.lint.cutting.sweep import Sweep, sweep
from matready.lint.drawing import Bools, Drawing, Floats, Ints
from matready.lint.settings import Distances

_AT_LEAST = 0.6  # share of a colour's lines that must lie inside outlines
_BESIDE_MM = 0.5  # a line on an outline lies in it
_MOST_TURN_DEG = 150.0  # a curved fold turns by up to 120 or so; common practice, no source
_CORNER_DEG = (40.0, 135.0)  # a curve is drawn in smaller steps, and a line that turns back in more
_MOSTLY = 0.8  # share of a colour's length that must hardly bend
_HELD_ENDS = 4  # two lines with both ends on an edge, or two corners where two lines end each
_OVERRUN_MM = 3.0  # folds are drawn past the edge by up to this; common practice, no source


def sweep_by_colour(drawing: Drawing, roles: Roles, distances: Distances) -> tuple[Sweep, Roles]:
    """Cut without the lines that their colour may tell to be scores; see if they lie in pieces."""
    cut_lines = np.flatnonzero((roles.role == CUT) | (roles.role == UNTOLD))
    candidates = colour_candidates(drawing, roles)
    if candidates:
        sure = np.setdiff1d(cut_lines, np.concatenate(list(candidates.values())))
        outlines = _tree_of(drawing, sure)
        candidates = {
            paint: lines for paint, lines in candidates.items()
            if _hardly_bends(drawing, lines, outlines, distances)
            and not _encloses(drawing, lines, outlines, distances)
        }  # fmt: skip
    if not candidates:
        return sweep(drawing, cut_lines, distances), roles
    maybe = np.concatenate(list(candidates.values()))
    passed = sweep(drawing, np.setdiff1d(cut_lines, maybe), distances)
    tree = shapely.STRtree([face.polygon for face in (*passed.faces, *passed.unfinished)])
    told = np.concatenate([_inside(drawing, lines, tree) for lines in candidates.values()])
    if len(told):
        roles = with_colour(drawing, roles, told)
    if len(told) < len(maybe):
        left = (roles.role == CUT) | (roles.role == UNTOLD)
        passed = sweep(drawing, np.flatnonzero(left), distances)
    return passed, roles


def _tree_of(drawing: Drawing, lines: Ints) -> shapely.STRtree:
    blade = blade_of(drawing, lines)
    return shapely.STRtree(
        [shapely.LineString(blade.points_of(n)) for n in range(len(blade.total))]
    )


def _hardly_bends(
    drawing: Drawing, lines: Ints, outlines: shapely.STRtree, distances: Distances
) -> bool:
    """True when most of the lines' length is straight, or of gentle curves, as folds are.

    Card does not fold along a wriggle: hair, hatching and the like are drawn to be cut. Several
    straight folds in one stroke turn from one to the next at an edge, which does not count.
    """
    blade = blade_of(drawing, lines)
    drawn = [shapely.LineString(blade.points_of(line)) for line in range(len(lines))]
    # Points of no consequence turn this way and that.
    plain = shapely.simplify(drawn, distances.join_mm)
    points, line = shapely.get_coordinates(plain, return_index=True)
    step = np.diff(points, axis=0)
    along, across = (step[:-1] * step[1:]).sum(axis=1), _cross(step[:-1], step[1:])
    turn = np.degrees(np.abs(np.arctan2(across, along)))
    turn[line[:-2] != line[2:]] = 0.0
    corners = np.flatnonzero((turn > _CORNER_DEG[0]) & (turn < _CORNER_DEG[1]))
    at_edge = _within(points[corners + 1][:, None], outlines, distances.hairline_mm)[:, 0]
    turned = np.bincount(line[1:-1], weights=turn, minlength=len(lines))
    turn[corners[at_edge]] = 0.0
    elsewhere = np.bincount(line[1:-1], weights=turn, minlength=len(lines))
    gentle = (turned <= _MOST_TURN_DEG) | (elsewhere < _CORNER_DEG[0])
    return bool(blade.total[gentle].sum() >= _MOSTLY * blade.total.sum())


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _encloses(
    drawing: Drawing, lines: Ints, outlines: shapely.STRtree, distances: Distances
) -> bool:
    """True when open lines alone make a closed outline, end to end, that stands by itself.

    The folds around the floor of a box make one too, but they run from edge to edge of their piece;
    a window drawn side by side touches no edge.
    """
    blade = blade_of(drawing, lines)
    none = np.zeros(0, np.int64)
    doubles = Doubles.none()
    network = build_network(
        blade, doubles, find_meetings(blade, none, none, doubles, distances.hairline_mm)
    )
    rings: dict[int, set[int]] = {}
    for face in find_faces(blade, network, distances.same_place_mm):
        rings.setdefault(face.part, set()).update(face.lines)
    if not rings:
        return False
    tips = np.stack([blade.a[blade.first], blade.b[blade.last]], axis=1)
    held = _within(tips, outlines, distances.hairline_mm).sum(axis=1)
    return any(held[list(ring)].sum() < _HELD_ENDS for ring in rings.values())


def _inside(drawing: Drawing, lines: Ints, faces: shapely.STRtree) -> Ints:
    """Those of the lines that lie in some face for the most part; none where many do not.

    A line that strayed off its piece tells nothing about the others. What runs past an edge by no
    more than an overrun does not count against a line, or it would against a fold of a small flap;
    a line that lies beside an edge all the way is left as it is.
    """
    points = samples_of(drawing, lines)
    inside = _within(points, faces, _BESIDE_MM)
    near = _within(points, faces, _OVERRUN_MM).all(axis=1)
    mostly = (inside.mean(axis=1) > 0.5) | (near & inside[:, points.shape[1] // 2])
    telling = mostly[mostly | ~near]
    return lines[mostly] if len(telling) and telling.mean() >= _AT_LEAST else lines[:0]


def _within(points: Floats, faces: shapely.STRtree, margin: float) -> Bools:
    """Which of the points (k, s, 2) lie in some face or within `margin` mm of one, (k, s)."""
    which = faces.query(shapely.points(points.reshape(-1, 2)), "dwithin", distance=margin)[0]
    within = np.zeros(points.shape[:2], bool)
    within.ravel()[which] = True
    return within
