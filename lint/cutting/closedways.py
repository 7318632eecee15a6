"""Outlines: the closed ways that the blade is told to follow, by one line or by several in turn."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.near import clusters
from matready.lint.drawing import Floats, Ints


@dataclass(frozen=True, eq=False, slots=True)
class Outline:
    """A closed way of the blade: its points, the first of them again at the end, and its lines."""

    points: Floats
    lines: tuple[int, ...]


def outlines_of(cutout: Cutout) -> tuple[list[Outline], list[int]]:
    """The blade's closed ways, and the open lines that are part of none; whole copies left out.

    Open lines make one where each of their ends meets one other end within the hairline distance.
    """
    blade, hairline_mm = cutout.blade, cutout.distances.hairline_mm
    first = np.ones(len(blade.total), bool)
    first[cutout.doubles.line[cutout.doubles.whole(blade)]] = False
    loops = np.flatnonzero(blade.closed & first).tolist()
    outlines = [Outline(blade.points_of(n), (n,)) for n in loops]
    opened = np.flatnonzero(~blade.closed & first & (blade.total > 2 * hairline_mm))
    tips = np.vstack([blade.a[blade.first[opened]], blade.b[blade.last[opened]]])
    spot = clusters(tips, hairline_mm).reshape(2, -1)
    at_spot: dict[int, list[int]] = defaultdict(list)
    for side in spot.tolist():
        for row, where in enumerate(side):
            at_spot[where].append(row)
    used = set[int]()
    for row in range(len(opened)):
        ring = _ring_from(row, spot, at_spot) if row not in used else []
        used.update(n for n, _ in ring)
        if ring:
            parts = [blade.points_of(int(opened[n]))[:: -1 if back else 1] for n, back in ring]
            points = np.vstack([*parts, parts[0][:1]])
            outlines.append(Outline(points, tuple(int(opened[n]) for n, _ in ring)))
    return outlines, [int(line) for row, line in enumerate(opened) if row not in used]


def _ring_from(row: int, spot: Ints, at_spot: dict[int, list[int]]) -> list[tuple[int, bool]]:
    """The open lines in turn, from one of them back to its start, each with True if backwards."""
    start, here = int(spot[0, row]), int(spot[1, row])
    ring = [(row, False)]
    while here != start:
        meet = at_spot[here]
        if len(meet) != 2:
            return []
        after = meet[0] if meet[1] == ring[-1][0] else meet[1]
        if after == ring[-1][0]:
            return []
        back = int(spot[1, after]) == here
        ring.append((after, back))
        here = int(spot[0, after] if back else spot[1, after])
    return ring if len(at_spot[start]) == 2 else []
