"""Cut lines that lie on other cut lines: whole copies, shared edges, lines that run on."""

from __future__ import annotations

import cmath
from random import Random

from tests.planting.strokes import (
    Arc,
    Chain,
    Line,
    as_cubics,
    backwards,
    chain_length,
    moved,
    part,
    polyline,
    shift,
    started_at,
)


def copy_of(ring: Chain, rng: Random) -> Chain:
    """The closed outline again: as it is, the other way round, from another start, as cubics.

    One in four lies up to 0.02 mm beside the first, which is still one line to a blade.
    """
    copy = started_at(ring, rng.randrange(len(ring))) if rng.random() < 0.5 else ring
    copy = backwards(copy) if rng.random() < 0.4 else copy
    if rng.random() < 0.3 and _gentle(copy):
        copy = as_cubics(copy)
    if rng.random() < 0.25:
        copy = moved(copy, shift(cmath.rect(rng.uniform(0.002, 0.02), rng.uniform(0, 6.3))))
    return copy


def _gentle(chain: Chain) -> bool:
    """Cubics stay within 0.03 % of the radius of an arc: 0.01 mm at 30 mm."""
    return all(segment.radius < 30 for segment in chain if isinstance(segment, Arc))


def sides_of(ring: Chain, rng: Random) -> list[Chain]:
    """The closed outline again, one run a segment, in any order."""
    sides: list[Chain] = [(segment,) for segment in ring]
    sides = [backwards(side) if rng.random() < 0.5 else side for side in sides]
    rng.shuffle(sides)
    return sides


def runs_on(edge: Line, inwards: complex, rng: Random) -> tuple[Chain, float]:
    """A line that follows part of an edge, then turns in and ends as a slit; and what is doubled.

    `inwards` points into the piece, one mm long. The edge has to be 12 mm long or more.
    """
    size = abs(edge.end - edge.start)
    begin, doubled = rng.uniform(2, size - 9), rng.uniform(3, 6)
    along = part((edge,), begin, begin + doubled)
    turn = along[-1].end
    slit = polyline([turn, turn + inwards * rng.uniform(3, 6)])
    run = (*along, *slit)
    return (backwards(run) if rng.random() < 0.5 else run), doubled


def total(chains: list[Chain]) -> float:
    """Length of chains in mm."""
    return sum(chain_length(chain) for chain in chains)
