"""The rim of a piece or of a hole as a ring of straight edges, and the lengths of its stretches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from matready.lint.drawing import Bools, Floats

# A ring that turns by more than this at a point has a corner there: a polygon of twelve sides, by
# which curves are often drawn, turns by 30 degrees. Common practice, no source.
TURN_DEG = 31.0
STRAIGHT_DEG = 2.0  # two edges that turn by less are one straight edge
_FOLLOW_MM = 0.05  # how near the ring keeps to the true rim
_MANY_STOPS = 200  # of one ring; beyond this only neighbours are added up


@dataclass(frozen=True, eq=False, slots=True)
class Ring:
    """A closed ring of n edges, from each of `points` (n, 2) to the next.

    `along` (n,) is where each edge starts and `length` (n,) how long it is, `total` once around,
    in mm. `turn_deg` (n,) is by how much the ring turns where an edge starts, left is positive.
    """

    points: Floats
    along: Floats
    length: Floats
    turn_deg: Floats
    total: float

    def at(self, place: float) -> Floats:
        """The point (2,) at a distance along the ring."""
        place %= self.total
        edge = int(np.searchsorted(self.along, place, "right")) - 1
        share = (place - self.along[edge]) / self.length[edge]
        step = self.points[(edge + 1) % len(self.points)] - self.points[edge]
        return np.asarray(self.points[edge] + step * share)

    def part(self, start: float, end: float) -> Floats:
        """The points (m, 2) from one place on the ring to another, past the seam if need be."""
        start, end = start % self.total, end % self.total
        end += self.total if end < start else 0.0
        twice = np.concatenate([self.along, self.along + self.total])
        inside = np.flatnonzero((twice > start + 1e-6) & (twice < end - 1e-6)) % len(self.along)
        return np.vstack([self.at(start), self.points[inside], self.at(end)])


def ring_of(rim: shapely.LinearRing) -> Ring:
    """The ring without points that lie on a straight edge."""
    points = shapely.get_coordinates(shapely.simplify(rim, _FOLLOW_MM))[:-1]
    step = np.roll(points, -1, axis=0) - points
    if len(points) > 3 and abs(_turns(step)[0]) < STRAIGHT_DEG:
        points = points[1:]  # the drawing may start amid an edge
        step = np.roll(points, -1, axis=0) - points
    length = np.hypot(step[:, 0], step[:, 1])
    ends = np.cumsum(length)
    return Ring(points, ends - length, length, _turns(step), float(ends[-1]))


def _turns(step: Floats) -> Floats:
    return _angles(np.roll(step, 1, axis=0), step)


def _angles(before: Floats, after: Floats) -> Floats:
    """By how many degrees each step turns off the one before it."""
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))


def rim_lengths(rims: Sequence[shapely.LinearRing]) -> list[Floats]:
    """For each rim the lengths of its straight edges, and of its curves from corner to corner."""
    if not len(rims):
        return []
    points, ring = shapely.get_coordinates(np.array(rims), return_index=True)
    step = np.diff(points, axis=0)
    edge = ring[1:] == ring[:-1]
    step, ring = step[edge], ring[1:][edge]
    length = np.hypot(step[:, 0], step[:, 1])
    first = np.flatnonzero(np.diff(ring, prepend=-1))
    last = np.append(first[1:], len(ring)) - 1
    before = np.arange(-1, len(ring) - 1)
    before[first] = last
    turn = np.abs(_angles(step[before], step))
    sums, owners = [], []
    for limit_deg in (STRAIGHT_DEG, TURN_DEG):
        corner = turn > limit_deg
        starts = corner.copy()
        starts[first] = True
        chain = np.cumsum(starts) - 1
        # A chain that does not begin at a corner goes on from the end of its ring.
        joined = np.arange(chain[-1] + 1)
        joined[chain[first]] = np.where(corner[first], chain[first], chain[last])
        chain = joined[chain]
        total = np.bincount(chain, weights=length, minlength=len(joined))
        used = np.unique(chain, return_index=True)
        sums.append(total[used[0]])
        owners.append(ring[used[1]])
    found, owner = np.concatenate(sums), np.concatenate(owners)
    order = np.argsort(owner, kind="stable")
    return np.split(found[order], np.searchsorted(owner[order], np.arange(1, len(rims))))


def stretches(
    ring: Ring, stops: Sequence[float], taken: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Every stretch (start, end) that runs straight, or in one smooth curve, between two stops.

    Where the ring has a corner it stops, and at `stops` (where a fold meets the rim); but for
    corners a stretch may run on. What is `taken` (by tabs) is part of none; an end may lie past
    the seam.
    """
    return [
        found
        for limit_deg in (STRAIGHT_DEG, TURN_DEG)
        for found in _between(ring, np.abs(ring.turn_deg) > limit_deg, stops, taken)
    ]


def _between(
    ring: Ring, corner: Bools, stops: Sequence[float], taken: Sequence[tuple[float, float]]
) -> Iterator[tuple[float, float]]:
    """Stretches without a corner inside, those of neighbours with the stop between them too."""
    hard = ring.along[corner]
    ends = np.array([*stops, *(place for pair in taken for place in pair)]) % ring.total
    places = np.unique(np.round(np.concatenate([hard, ends]), 6))
    n = len(places)
    is_hard = np.isin(places, np.round(hard, 6)).tolist()
    after = np.append(places[1:], places[0] + ring.total)
    middle = (places + after) / 2
    bare = np.ones(n, bool)
    for start, end in taken:
        for shift in (-ring.total, 0.0, ring.total):
            bare &= (middle + shift <= start) | (middle + shift >= end)
    free, at = bare.tolist(), places.tolist()
    for first in range(n):
        for count in range(1, (n if n <= _MANY_STOPS else 2) + 1):
            last = first + count
            if not free[(last - 1) % n]:
                break
            yield at[first], at[last % n] + ring.total * (last // n)
            if is_hard[last % n]:
                break
