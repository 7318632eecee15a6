"""Glue tabs, and what of a piece a tab can be glued to, told from the shape alone.

A tab is a narrow flap with slanted ends, folded off an outer edge along the whole of that edge.
Lengths are mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.folds import Fold
from matready.lint.cutting.pieces import Piece
from matready.lint.cutting.rims import Ring, ring_of
from matready.lint.drawing import Floats
from matready.lint.finding import Box

# Depth of a glue tab: 12.7 mm in a published cube, smaller in small models. Common practice.
SHALLOWEST_MM, DEEPEST_MM = 3.0, 20.0
_OFF_LINE_MM = 0.2  # a fold bends no more, and a corner this near to its line lies on it
_SHORT_OF_EDGE_MM = 5.0  # a row of dashes ends this far before the edge at most: one pitch
_SLANT_DEG = 5.0  # ends that run in less are square: a lip, a hem or a wall
_TOP_SHARE = 0.3  # a tab's outer edge is at least this share of its fold, or it is a pennant
_PARALLEL_DEG = 3.0
_LARGEST_SHARE = 0.6  # of the card on the other side of the fold; a larger flap is a panel
_MANY_CORNERS = 4_000_000  # folds times corners of a piece: beyond this no tabs are looked for


@dataclass(frozen=True, eq=False, slots=True)
class Crease:
    """A straight fold across a piece: `fold` (of Cutout.folds) in mm from edge to edge.

    `start` and `end` are where it meets the outline, in mm along that.
    """

    fold: int
    length: float
    ends: Floats  # (2, 2)
    start: float
    end: float


@dataclass(frozen=True, eq=False, slots=True)
class Tab:
    """A glue tab: the crease it is folded along, its depth, and where it lies.

    `start` to `end` is the tab's stretch of the outline, in mm along it; `end` may run past the
    outline's seam.
    """

    crease: Crease
    depth: float
    box: Box
    start: float
    end: float


@dataclass(frozen=True, eq=False, slots=True)
class Folded:
    """A piece with its outline, its creases from edge to edge, and those of them with a tab."""

    piece: Piece
    ring: Ring
    creases: tuple[Crease, ...]
    tabs: tuple[Tab, ...]


@lru_cache(maxsize=1)
def folded_pieces(cutout: Cutout) -> list[Folded]:
    """Every piece with a fold that runs from edge to edge; kept for the next who asks."""
    found = []
    for piece in cutout.pieces:
        if not piece.folds:
            continue
        ring = ring_of(piece.card.exterior)
        if len(piece.folds) * len(ring.points) > _MANY_CORNERS:
            continue
        made = (_crease(n, cutout.folds[n], cutout, ring) for n in piece.folds)
        creases = tuple(one for one in made if one is not None)
        tabs = (_tab(crease, piece, ring, creases) for crease in creases)
        found.append(Folded(piece, ring, creases, tuple(tab for tab in tabs if tab is not None)))
    return [one for one in found if one.creases]


def _crease(number: int, fold: Fold, cutout: Cutout, ring: Ring) -> Crease | None:
    """The fold as it runs from edge to edge of its piece; None for one that bends or stops."""
    geometry = cutout.drawing.geometry
    parts = [geometry.line(n) for n in fold.lines]
    points = np.vstack(parts)
    far = points[np.argmax(np.hypot(*(points - points[0]).T))]
    start = points[np.argmax(np.hypot(*(points - far).T))]
    length = float(np.hypot(*(far - start)))
    if length < SHALLOWEST_MM:
        return None
    way = (far - start) / length
    across = np.array([-way[1], way[0]])
    if np.abs((points - start) @ across).max() > _OFF_LINE_MM:
        return None
    u, v = (ring.points - start) @ way, (ring.points - start) @ across
    on = np.abs(v) <= _OFF_LINE_MM
    next_u, next_v = np.append(u[1:], u[0]), np.append(v[1:], v[0])
    crosses = ~on & (np.abs(next_v) > _OFF_LINE_MM) & (v * next_v < 0)
    share = np.where(crosses, v / np.where(crosses, v - next_v, 1.0), 0.0)
    along = u + (next_u - u) * share
    place = ring.along + ring.length * share
    met = on | crosses
    ends = []
    for target in (0.0, length):
        off = np.where(met, np.abs(along - target), np.inf)
        nearest = int(np.argmin(off))
        if off[nearest] > _SHORT_OF_EDGE_MM:
            return None
        ends.append((float(along[nearest]), float(place[nearest])))
    (low, first), (high, last) = ends
    if high - low < SHALLOWEST_MM:
        return None
    tips = np.array([start + way * low, start + way * high])
    return Crease(number, high - low, tips, first, last)


def _tab(crease: Crease, piece: Piece, ring: Ring, creases: Sequence[Crease]) -> Tab | None:
    """The tab on one side of a crease, None where neither side is one."""
    side = crease.start, crease.end
    if (side[1] - side[0]) % ring.total > ring.total / 2:
        side = side[1], side[0]
    # With ends that run in, the way round a tab is no longer than its fold and twice its depth.
    if (side[1] - side[0]) % ring.total > crease.length + 2 * min(DEEPEST_MM, crease.length):
        return None
    flap = ring.part(*side)
    depth = _depth(flap, crease) if len(flap) > 2 else None
    if depth is None:
        return None
    area = shapely.Polygon(flap).area
    if area > _LARGEST_SHARE * (shapely.Polygon(ring.points).area - area):
        return None
    polygon = shapely.Polygon(flap).buffer(-_OFF_LINE_MM)
    others = [other.ends.mean(axis=0) for other in creases if other is not crease]
    if any(polygon.intersects(hole.waste) for hole in piece.holes) or (
        len(others) and shapely.contains_xy(polygon, *np.array(others).T).any()
    ):
        return None
    low, high = flap.min(axis=0).tolist(), flap.max(axis=0).tolist()
    start, end = side
    end += ring.total if end < start else 0.0
    return Tab(crease, depth, (low[0], low[1], high[0], high[1]), start, end)


def _depth(flap: Floats, crease: Crease) -> float | None:
    """How deep a flap is, when it is shaped as a tab; `flap` runs from one end to the other."""
    way = (crease.ends[1] - crease.ends[0]) / crease.length
    offset = flap - crease.ends[0]
    u, v = offset @ way, np.abs(offset @ np.array([-way[1], way[0]]))
    depth = float(v.max())
    if not SHALLOWEST_MM <= depth <= min(DEEPEST_MM, crease.length):
        return None
    if u.min() < -_OFF_LINE_MM or u.max() > crease.length + _OFF_LINE_MM:
        return None
    # The outer edge: what is as deep as the tab, but for a slope of a few degrees or round corners.
    outer = u[v >= depth - max(crease.length * np.tan(np.radians(_PARALLEL_DEG)), _OFF_LINE_MM)]
    run_in = depth * np.tan(np.radians(_SLANT_DEG))
    low, high = float(outer.min()), float(outer.max())
    if low < run_in or high > crease.length - run_in or high - low < _TOP_SHARE * crease.length:
        return None
    hull = shapely.MultiPoint(flap).convex_hull.area
    return depth if shapely.Polygon(flap).area >= 0.97 * hull else None
