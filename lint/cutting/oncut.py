"""Scores that run along a cut: what lies there is cut off, not folded."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

import numpy as np
import shapely

from matready.lint.cutting.blade import Blade, blade_of
from matready.lint.cutting.doubles import WIDER, find_doubles
from matready.lint.cutting.near import segment_pairs
from matready.lint.cutting.roles import CUT, SCORE, Roles
from matready.lint.drawing import Drawing, Ints

_SHORTEST_MM = 0.3  # a shorter run is a crossing, or a stub


class OnCut(NamedTuple):
    """A stretch of a score, mm from its beginning, and the cut line that it lies on."""

    start: float
    end: float
    other: int


def scores_on_cuts(drawing: Drawing, roles: Roles, same_place: float) -> dict[int, list[OnCut]]:
    """For each score line that runs along a cut line the stretches that do, in order."""
    scores, cuts = np.flatnonzero(roles.role == SCORE), np.flatnonzero(roles.role == CUT)
    if not len(scores) or not len(cuts):
        return {}
    reach = WIDER * same_place
    cuts = _near(drawing, scores, cuts, reach)
    scores = _near(drawing, cuts, scores, reach) if len(cuts) else scores[:0]
    if not len(scores):
        return {}
    blade = blade_of(drawing, np.concatenate([cuts, scores]))  # a run is told of the later line
    i, j = segment_pairs(blade.a, blade.b, reach)
    mixed = (blade.line[i] < len(cuts)) != (blade.line[j] < len(cuts))
    doubles = find_doubles(blade, i[mixed], j[mixed], same_place, _SHORTEST_MM)
    found: dict[int, list[OnCut]] = defaultdict(list)
    source = blade.source
    for line, other, start, end in zip(
        source[doubles.line].tolist(), source[doubles.other].tolist(),
        doubles.start.tolist(), doubles.end.tolist(), strict=True,
    ):  # fmt: skip
        found[line].append(OnCut(start, end, other))
    return {line: sorted(runs) for line, runs in found.items()}


def _near(drawing: Drawing, to: Ints, lines: Ints, reach: float) -> Ints:
    """Those of the lines with a segment whose box comes within reach of a segment of others."""
    one, other = blade_of(drawing, to), blade_of(drawing, lines)
    tree = shapely.STRtree(_boxes(one, reach))
    near = tree.query(_boxes(other, 0.0))[0]
    return np.asarray(lines[np.unique(other.line[near])])


def _boxes(blade: Blade, margin: float) -> np.ndarray:
    """A diagonal for the box of each segment, which has the same envelope."""
    low, high = np.minimum(blade.a, blade.b) - margin, np.maximum(blade.a, blade.b) + margin
    return np.asarray(shapely.linestrings(np.stack([low, high], axis=1)))
