"""Scores told by colour: one colour, only of open lines, that lie inside outlines of another."""

from __future__ import annotations

import numpy as np
import shapely

from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.doubles import Doubles
from matready.lint.cutting.faces import Face, find_faces
from matready.lint.cutting.folds import samples_of
from matready.lint.cutting.meeting import find_meetings
from matready.lint.cutting.network import build_network
from matready.lint.cutting.roles import (
    CUT,
    UNTOLD,
    Roles,
    colour_candidates,
    with_colour,
)  # fmt: skip
from matready.lint.cutting.sweep import Sweep, sweep
from matready.lint.drawing import Drawing, Ints
from matready.lint.settings import Distances


def sweep_by_colour(drawing: Drawing, roles: Roles, distances: Distances) -> tuple[Sweep, Roles]:
    """Cut without the lines that their colour may tell to be scores; see if they lie in pieces."""
    cut_lines = np.flatnonzero((roles.role == CUT) | (roles.role == UNTOLD))
    candidates = colour_candidates(drawing, roles)
    candidates = {
        paint: lines for paint, lines in candidates.items()
        if not _encloses(drawing, lines, distances)
    }  # fmt: skip
    if not candidates:
        return sweep(drawing, cut_lines, distances), roles
    maybe = np.concatenate(list(candidates.values()))
    passed = sweep(drawing, np.setdiff1d(cut_lines, maybe), distances)
    faces = [*passed.faces, *passed.unfinished]
    told = [lines for lines in candidates.values() if _inside(drawing, lines, faces)]
    if told:
        roles = with_colour(drawing, roles, np.concatenate(told))
    if len(told) < len(candidates):
        left = (roles.role == CUT) | (roles.role == UNTOLD)
        passed = sweep(drawing, np.flatnonzero(left), distances)
    return passed, roles


def _encloses(drawing: Drawing, lines: Ints, distances: Distances) -> bool:
    """True when open lines alone make a closed outline, end to end."""
    blade = blade_of(drawing, lines)
    none = np.zeros(0, np.int64)
    doubles = Doubles.none()
    network = build_network(
        blade, doubles, find_meetings(blade, none, none, doubles, distances.hairline_mm)
    )
    return bool(find_faces(blade, network, distances.same_place_mm))


def _inside(drawing: Drawing, lines: Ints, faces: list[Face]) -> bool:
    """True when every one of the lines lies in some face, its ends on the edge at the most."""
    if not faces:
        return False
    points = samples_of(drawing, lines).reshape(-1, 2)
    tree = shapely.STRtree([face.polygon for face in faces])
    which = tree.query(shapely.points(points), "dwithin", distance=0.5)[0]
    return len(np.unique(which)) == len(points)
