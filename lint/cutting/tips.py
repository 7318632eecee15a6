"""Tips: points of card, where an outline turns back on itself within a blade's offset."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from matready.lint.cutting.closedways import Outline, outlines_of
from matready.lint.cutting.cutout import Cutout
from matready.lint.drawing import Bools, Floats, Ints
from matready.lint.finding import Point

_AT_ONCE_MM = 0.25  # what turns within this way is one corner, in however many steps
_LEG_MM = 0.25  # the direction before and after a turn is taken over this length
_IN_LEGS = 0.7  # this much of a leg turns along with the bend; a test holds the radius within 8 %
_SMOOTH_DEG = 70.0  # a step of a curve turns less; a square corner turns more
_SLIT_DEG = 3.0  # legs that part by less lie in one place for a millimetre: a slit, there and back
_SLIT_MM = 0.5  # an outline narrower than this all along is a slit or a slot
_LEAST_MM = 3.0  # a shorter ring has no legs to measure
_ALL = slice(None)


@dataclass(frozen=True, eq=False, slots=True)
class Tip:
    """A turn of an outline, `angle_deg` between its two legs: a `sharp` corner, or else a bend."""

    at: Point
    angle_deg: float
    sharp: bool


def find_tips(cutout: Cutout, tip_deg: float, radius_mm: float) -> list[tuple[Outline, list[Tip]]]:
    """Outlines with corners sharper than `tip_deg` or bends tighter than `radius_mm`, and those.

    Only points of card count: at the root of a notch, and at the point of a hole, what is sharp is
    waste. A square end, as of a tab, is two corners and no bend, and the end of a slit that is cut
    there and back is neither. Directions are taken a little way before and after each turn, so the
    chords of a curve make no corner.
    """
    outlines = [o for o in outlines_of(cutout)[0] if len(o.points) > 3]
    if not outlines:
        return []
    counts = [len(outline.points) for outline in outlines]
    points = np.vstack([outline.points for outline in outlines])
    rings = shapely.linearrings(points, indices=np.repeat(np.arange(len(counts)), counts))
    around = shapely.length(rings)
    long = (around > _LEAST_MM) & (2 * shapely.area(shapely.polygons(rings)) > _SLIT_MM * around)
    if not long.any():
        return []
    ring = _Rings(rings[long])
    half_turn = np.radians(180 - tip_deg) * radius_mm
    at_once = ring.turns(_AT_ONCE_MM)
    bend = ring.turns(max(half_turn - _IN_LEGS * _LEG_MM, 0.0))
    sharp = (at_once > 180 - tip_deg) & (at_once < 180 - _SLIT_DEG)
    tight = (bend > 180 - tip_deg) & (at_once <= 180 - tip_deg)
    tight[tight] = ring.most_near(np.flatnonzero(tight), ring.steps, half_turn) < _SMOOTH_DEG
    for told, way_mm in ((sharp, _AT_ONCE_MM), (tight, half_turn)):
        told[told] = _holds_card(cutout, ring, np.flatnonzero(told), way_mm / 2 + _LEG_MM)
    found: dict[int, list[Tip]] = {}
    for row, turn in _peaks(ring, np.where(sharp, at_once, np.where(tight, bend, 0.0))):
        x, y = ring.points[row].tolist()
        tip = Tip((x, y), 180 - turn, bool(sharp[row]))
        found.setdefault(int(np.flatnonzero(long)[ring.of[row]]), []).append(tip)
    return [(outlines[of], tips) for of, tips in found.items()]


class _Rings:
    """Closed ways laid end to end, each vertex once, with places and turns along them."""

    def __init__(self, rings: object) -> None:
        coords, of = shapely.get_coordinates(rings, return_index=True)
        inner = np.ones(len(coords), bool)
        inner[np.flatnonzero(np.diff(of)).tolist()] = False
        inner[-1] = False
        self.points: Floats = coords[inner]
        self.of: Ints = of[inner]
        last = np.flatnonzero(~inner)
        first = np.concatenate([[0], last[:-1] + 1])
        step = np.hypot(*np.diff(coords, axis=0).T)
        step[last[:-1]] = 0.0
        ruler = np.concatenate([[0.0], np.cumsum(step)])
        self._ruler, self._coords = ruler, coords
        self.place: Floats = ruler[inner]
        self.start: Floats = ruler[first][self.of]
        self.total: Floats = (ruler[last] - ruler[first])[self.of]
        self.first: Ints = np.searchsorted(self.of, np.arange(len(last)))

    def at(self, shift_mm: float, rows: Ints | slice = _ALL) -> Floats:
        """The points `shift_mm` mm along the way from these vertices, (n, 2)."""
        start = self.start[rows]
        where = start + (self.place[rows] - start + shift_mm) % self.total[rows]
        return np.stack([np.interp(where, self._ruler, c) for c in self._coords.T], axis=1)

    def turns(self, within_mm: float) -> Floats:
        """By how many degrees the way turns within a length around each vertex."""
        half = within_mm / 2
        before = self.at(-half) - self.at(-half - _LEG_MM)
        after = self.at(half + _LEG_MM) - self.at(half)
        return _angle(before, after)

    @property
    def steps(self) -> Floats:
        """By how many degrees the way turns at each vertex."""
        n = np.arange(len(self.points))
        last = np.concatenate([self.first[1:], [len(n)]]) - 1
        before, after = n - 1, n + 1
        before[self.first], after[last] = last, self.first
        return _angle(self.points - self.points[before], self.points[after] - self.points)

    def most_near(self, rows: Ints, values: Floats, within_mm: float) -> Floats:
        """Of some vertices the largest value, from _SMOOTH_DEG up, half a length around each."""
        many = np.flatnonzero(values >= _SMOOTH_DEG)
        gap = np.abs(self.place[many][None, :] - self.place[rows][:, None])
        gap = np.minimum(gap, self.total[rows][:, None] - gap)
        near = (gap <= within_mm / 2) & (self.of[many][None, :] == self.of[rows][:, None])
        most: Floats = np.where(near, values[many][None, :], 0.0).max(axis=1, initial=0.0)
        return most


def _holds_card(cutout: Cutout, ring: _Rings, rows: Ints, leg_mm: float) -> Bools:
    """Whether card lies between the legs of these turns, half-way from one leg to the other."""
    between = shapely.points((ring.at(-leg_mm, rows) + ring.at(leg_mm, rows)) / 2)
    cards = shapely.STRtree([piece.card for piece in cutout.pieces])
    held = np.zeros(len(rows), bool)
    held[cards.query(between, "intersects")[0]] = True
    return held


def _angle(before: Floats, after: Floats) -> Floats:
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.degrees(np.abs(np.arctan2(cross, (before * after).sum(axis=1)))))


def _peaks(ring: _Rings, turn: Floats) -> list[tuple[int, float]]:
    """The sharpest vertex of each run of vertices that turn, and its turn."""
    rows = np.flatnonzero(turn)
    if not len(rows):
        return []
    new: Bools = np.ones(len(rows), bool)
    new[1:] = (np.diff(ring.place[rows]) > 2 * _LEG_MM) | (np.diff(ring.of[rows]) != 0)
    run = np.cumsum(new) - 1
    best = np.lexsort((-turn[rows], run))
    first = best[np.concatenate([[True], np.diff(run[best]) != 0])]
    return [(int(row), float(turn[row])) for row in rows[first]]
