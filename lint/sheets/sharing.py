"""How much can be shared out at most where not everything goes everywhere: the largest flow."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_NOTHING = 1e-6
_ROUNDS = 2000  # far more than a project needs; the answer holds however early it ends


def most_shared(amounts: Floats, rooms: Floats, fits: Bools) -> float:
    """At least the largest total of amounts that goes into the rooms, each where it fits.

    Amounts may be split. Ways for more are looked for until there is none; then it is exact.

    Args:
        amounts: one each, not negative.
        rooms: one each, not negative.
        fits: amounts by rooms.
    """
    left, spare, flow = amounts.copy(), rooms.copy(), np.zeros(fits.shape)
    for _ in range(_ROUNDS):
        way, seen = _way(left > _NOTHING, spare > _NOTHING, fits, flow > _NOTHING)
        if not way:
            break
        _send(way, left, spare, flow)
    # Whatever was seen: what of it is shared out goes into rooms where it fits, all else is all.
    return float(rooms[fits[seen].any(axis=0)].sum() + amounts[~seen].sum())


def _way(
    starts: Bools, ends: Bools, fits: Bools, used: Bools
) -> tuple[list[tuple[int, int]], Bools]:
    """A shortest way from an amount to a room, from its end, and the amounts that were seen.

    On it stand amount and room in turn: the amount goes into the room, and from the next room on
    the way some of it is taken back.
    """
    seen, full = starts.copy(), np.zeros(len(ends), bool)
    into, out_of = np.full(len(ends), -1), np.full(len(starts), -1)
    edge = np.flatnonzero(starts)
    while edge.size:
        rooms = np.flatnonzero(fits[edge].any(axis=0) & ~full)
        full[rooms] = True
        into[rooms] = edge[fits[np.ix_(edge, rooms)].argmax(axis=0)]
        if ends[rooms].any():
            return _back(int(rooms[ends[rooms].argmax()]), into, out_of), seen
        edge = np.flatnonzero(used[:, rooms].any(axis=1) & ~seen)
        seen[edge] = True
        out_of[edge] = rooms[used[np.ix_(edge, rooms)].argmax(axis=1)] if edge.size else -1
    return [], seen


def _back(
    room: int, into: npt.NDArray[np.int64], out_of: npt.NDArray[np.int64]
) -> list[tuple[int, int]]:
    """The way that ends at a room."""
    way = []
    while room >= 0:
        amount = int(into[room])
        way.append((amount, room))
        room = int(out_of[amount])
    return way


def _send(way: list[tuple[int, int]], left: Floats, spare: Floats, flow: Floats) -> None:
    """As much as can go this way."""
    returned = [(amount, room) for (amount, _), (_, room) in itertools.pairwise(way)]
    start, end = way[-1][0], way[0][1]
    much = min(left[start], spare[end], *(flow[pair] for pair in returned))
    left[start] -= much
    spare[end] -= much
    for pair in way:
        flow[pair] += much
    for pair in returned:
        flow[pair] -= much
