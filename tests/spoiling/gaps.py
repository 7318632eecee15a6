"""Outlines whose ends miss each other by 0.035 to 0.45 mm: too little to see, enough to hold.

Each function takes a closed outline and gives back the open runs that draw it, with the place and
the width of each gap. None of the ends overshoots, since lines that cross have met: an end turns
aside by 25 degrees at most, and no part has a corner as sharp as that.
"""

from __future__ import annotations

import cmath
from random import Random
from typing import NamedTuple

from tests.planting.strokes import (
    Arc,
    Chain,
    Cubic,
    Line,
    Point,
    backwards,
    chain_length,
    part,
    started_at,
)

LEAST_MM, MOST_MM = 0.035, 0.45


class Gap(NamedTuple):
    """The two places that should be one (or a place and the point of a line it stops short of)."""

    one: Point
    other: Point

    @property
    def width_mm(self) -> float:
        return abs(self.one - self.other)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """left, top, right, bottom in mm."""
        xs = self.one.real, self.other.real
        ys = self.one.imag, self.other.imag
        return min(xs), min(ys), max(xs), max(ys)


def _width(rng: Random) -> float:
    """Mostly small, now and then near the limit."""
    return rng.choice([rng.uniform(LEAST_MM, 0.15), rng.uniform(0.1, MOST_MM)])


def shortened(chain: Chain, rng: Random) -> tuple[Chain, Gap]:
    """An open chain whose end stops short of where it ended, sometimes a little aside."""
    goal, width = chain[-1].end, _width(rng)
    cut = part(chain, 0.0, chain_length(chain) - width)
    aside = rng.choice([0.0, 0.0, rng.uniform(-25, 25)])
    last = cut[-1]
    if aside and not isinstance(last, Arc):
        end = goal + (last.end - goal) * cmath.rect(1, aside * cmath.pi / 180)
        tilted = Line(last.start, end) if isinstance(last, Line) else _bent(last, end)
        cut = (*cut[:-1], tilted)
    gap = Gap(cut[-1].end, goal)
    assert LEAST_MM * 0.8 < gap.width_mm < 0.49
    return cut, gap


def _bent(curve: Cubic, end: Point) -> Cubic:
    return Cubic(curve.start, curve.first, curve.second + end - curve.end, end)


def own_ends_miss(ring: Chain, rng: Random) -> tuple[list[Chain], list[Gap]]:
    """One run round the outline; its own ends miss each other."""
    ring = started_at(ring, rng.randrange(len(ring)))
    run, gap = shortened(backwards(ring) if rng.random() < 0.5 else ring, rng)
    return [backwards(run) if rng.random() < 0.5 else run], [gap]


def corner_misses(ring: Chain, rng: Random) -> tuple[list[Chain], list[Gap]]:
    """Two or three runs; at one or two of the corners where they should meet they do not."""
    ring = started_at(ring, rng.randrange(len(ring)))
    count = min(rng.choice([2, 2, 3]), len(ring))
    if count < 2:
        return own_ends_miss(ring, rng)
    stops = sorted(rng.sample(range(1, len(ring)), count - 1))
    runs = [ring[a:b] for a, b in zip([0, *stops], [*stops, len(ring)], strict=True)]
    gaps = []
    for index in rng.sample(range(count), rng.choice([1, 1, 2])):
        runs[index], gap = shortened(runs[index], rng)
        gaps.append(gap)
    runs = [backwards(run) if rng.random() < 0.4 else run for run in runs]
    rng.shuffle(runs)
    return runs, gaps


def sides_miss(ring: Chain, rng: Random) -> tuple[list[Chain], list[Gap]]:
    """One run a segment; one or two corners are open."""
    sides: list[Chain] = [(segment,) for segment in ring]
    if len(sides) < 2:
        return own_ends_miss(ring, rng)
    gaps = []
    for index in rng.sample(range(len(sides)), rng.choice([1, 2])):
        sides[index], gap = shortened(sides[index], rng)
        gaps.append(gap)
    sides = [backwards(side) if rng.random() < 0.4 else side for side in sides]
    rng.shuffle(sides)
    return sides, gaps


def divider(start: Point, end: Point, rng: Random) -> tuple[Chain, Gap]:
    """A line from edge to edge that stops short of the body of the second edge."""
    run, _ = shortened((Line(start, end),), rng)
    straight = (Line(start, end - (end - start) * (abs(run[-1].end - end) / abs(end - start))),)
    return (backwards(straight) if rng.random() < 0.5 else straight), Gap(straight[0].end, end)
