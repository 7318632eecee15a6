"""Where cut lines meet: ends in one point, crossings, touches, and the ends of doubled runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from matready.lint.cutting.blade import Blade
from matready.lint.cutting.doubles import Doubles
from matready.lint.cutting.near import clusters, components
from matready.lint.drawing import Bools, Floats, Ints

_NOT_AN_END = 1e-6  # mm
_ON_MM = 1e-3  # an end this near a line was drawn on it
_APART = 10.0  # joins along a line that two of its own places must be apart to count as touching


@dataclass(frozen=True, eq=False, slots=True)
class Meetings:
    """e places on lines where something meets, sorted by line and place; `node` numbers the spots.

    Places with one `node` are one point to the blade. `at` (e, 2) is that node's point in mm.
    """

    line: Ints
    along: Floats
    node: Ints
    at: Floats


class _Ties(NamedTuple):
    """Pairs of places that are one point: (line, along) and (other, place), in mm along each."""

    line: Ints
    along: Floats
    other: Ints
    place: Floats


def _crossings(blade: Blade, i: Ints, j: Ints) -> _Ties:
    """Where segments cross properly."""
    a, b = blade.a, blade.b
    d1, d2, w = b[i] - a[i], b[j] - a[j], a[j] - a[i]
    det = d1[:, 0] * d2[:, 1] - d1[:, 1] * d2[:, 0]
    # Lines closer to parallel than 1 in 10,000 have no sharp crossing: doubled runs cover those.
    sharp = np.abs(det) > 1e-4 * blade.length[i] * blade.length[j]
    safe = np.where(sharp, det, 1.0)
    t = (w[:, 0] * d2[:, 1] - w[:, 1] * d2[:, 0]) / safe
    u = (w[:, 0] * d1[:, 1] - w[:, 1] * d1[:, 0]) / safe
    # Where an end lies on the other segment it is a touch, found with its own tolerance.
    ti, uj = _NOT_AN_END / blade.length[i], _NOT_AN_END / blade.length[j]
    hit = sharp & (t > ti) & (t < 1 - ti) & (u > uj) & (u < 1 - uj)
    i, j = i[hit], j[hit]
    along = blade.along[i] + t[hit] * blade.length[i]
    return _Ties(blade.line[i], along, blade.line[j], blade.along[j] + u[hit] * blade.length[j])


def _touches(blade: Blade, i: Ints, j: Ints, join: float, tip: Bools) -> _Ties:
    """Vertices that lie on another segment, tied to the place they touch.

    `tip` (n, 2) marks segments whose start or end is a free end of its line: two tips that are
    apart are a gap, not a touch, so a tip never touches the tip's own neighbourhood.
    """
    out: list[tuple[Ints, Floats, Ints, Floats]] = []
    for vertex, body in ((i, j), (j, i)):
        for side, points in ((0, blade.a), (1, blade.b)):
            d = blade.b[body] - blade.a[body]
            w = points[vertex] - blade.a[body]
            along = np.einsum("ij,ij->i", w, d) / blade.length[body]
            away = np.abs(w[:, 0] * d[:, 1] - w[:, 1] * d[:, 0]) / blade.length[body]
            inner = (along > -join) & (along < blade.length[body] + join)
            hit = inner & (away <= join)
            free = tip[vertex, side]
            # At an acute corner an end may lie beside the other line's end and still be a gap.
            reach = np.where(away > _ON_MM, 4 * join, join)
            near_tip = (tip[body, 0] & (along < reach)) | (
                tip[body, 1] & (along > blade.length[body] - reach)
            )
            hit &= ~(free & near_tip)
            v, s = vertex[hit], body[hit]
            place = blade.along[v] + (blade.length[v] if side else 0.0)
            out.append((v, place, s, np.clip(along[hit], 0, blade.length[s])))
    vs, places, ss, alongs = zip(*out, strict=True)
    v, place, s, along = map(np.concatenate, (vs, places, ss, alongs))
    apart = _apart_on_own_line(blade, v, place, s, along, join)
    v, s = v[apart], s[apart]
    return _Ties(
        blade.line[v], place[apart], blade.line[s], blade.along[s] + along[apart]
    )  # fmt: skip


def _apart_on_own_line(
    blade: Blade, v: Ints, place: Floats, s: Ints, along: Floats, join: float
) -> Bools:
    """False where the vertex and the touched place are neighbours on one line."""
    line = blade.line[v]
    gap = np.abs(place - blade.along[s] - along)
    gap = np.where(blade.closed[line], np.minimum(gap, blade.total[line] - gap), gap)
    return np.asarray((line != blade.line[s]) | (gap > _APART * join))


def _undoubled(ties: _Ties, doubles: Doubles, join: float) -> _Ties:
    """The ties without those on a doubled run: there its twin meets what is to be met."""
    free = ~doubles.cover(ties.line, ties.along, join)
    free &= ~doubles.cover(ties.other, ties.place, join)
    return _Ties(ties.line[free], ties.along[free], ties.other[free], ties.place[free])


def _run_ties(blade: Blade, doubles: Doubles, join: float) -> _Ties:
    """Both ends of each doubled run, tied to the nearest place on the line it lies on.

    Where that line itself lies on an earlier one, the tie goes on to that one, and so on to the
    line that the blade is left with there: a doubled run carries nothing.
    """
    rows = np.flatnonzero(~(blade.closed[doubles.line] & doubles.whole(blade)))
    line, other = np.tile(doubles.line[rows], 2), doubles.tips[rows].ravel("F")
    along = np.concatenate([doubles.start[rows], doubles.end[rows]])
    run = np.tile(rows, 2)
    steps = []
    while len(line):
        at = blade.locate(line, along)
        place = _nearest_place(blade, at, other, line, doubles.start[run], join)
        steps.append(_Ties(line, along, other, place))
        run = doubles.run_at(other, place, join)
        more = (run >= 0) & (other != line)
        line, along, run = other[more], place[more], run[more]
        other = doubles.earliest_on(run, along)
    return _joined(steps)


def _nearest_place(
    blade: Blade, points: Floats, other: Ints, line: Ints, start: Floats, join: float
) -> Floats:
    """How far into the line `other` each point lies, (n,); on its own `line`, before `start`.

    What leads up to a run on its own line counts only where the line turns back there.
    """
    place, apart = np.zeros(len(points)), _APART * join
    for row, (point, on) in enumerate(zip(points, other.tolist(), strict=True)):
        own = on == line[row]
        for most in (start[row] - apart, start[row]) if own else (np.inf,):
            place[row], away = _nearest_on(blade, on, point, most)
            if away < apart / 2:
                break
    return place


def _nearest_on(blade: Blade, line: int, point: Floats, most: float) -> tuple[float, float]:
    """The place on a line that is nearest to a point, no farther in than `most`; how near it is."""
    part = slice(int(blade.first[line]), int(blade.last[line]) + 1)
    a, length, along = blade.a[part], blade.length[part], blade.along[part]
    d = blade.b[part] - a
    t = np.clip(((point - a) * d).sum(axis=1) / length**2, 0, 1)
    t = np.minimum(t, np.clip((most - along) / length, 0, 1))
    away = np.where(along <= most, np.hypot(*(a + d * t[:, None] - point).T), np.inf)
    seg = int(np.argmin(away))
    return float(along[seg] + t[seg] * length[seg]), float(away[seg])


def _joined(ties: Sequence[_Ties]) -> _Ties:
    """Several lots of ties as one."""
    if not ties:
        empty = np.zeros(0, np.int64)
        return _Ties(empty, np.zeros(0), empty, np.zeros(0))
    return _Ties(*(np.concatenate(column) for column in zip(*ties, strict=True)))


def find_meetings(blade: Blade, i: Ints, j: Ints, doubles: Doubles, join: float) -> Meetings:
    """All places where the blade's lines meet; `i`, `j` are pairs of near segments."""
    opened = np.flatnonzero(~blade.closed)
    tip = np.zeros((len(blade.a), 2), bool)
    tip[blade.first[opened], 0] = True
    tip[blade.last[opened], 1] = True
    straight_on = (blade.line[i] == blade.line[j]) & (j - i == 1)
    i, j = i[~straight_on], j[~straight_on]
    found = (
        _undoubled(_touches(blade, i, j, join, tip), doubles, join),
        _undoubled(_crossings(blade, i, j), doubles, join),
        _run_ties(blade, doubles, join),
    )
    ties = _joined(found)
    # Ends first: a node's point is that of its first place, and ends should not move.
    line = np.concatenate([opened, opened, ties.line, ties.other])
    along = np.concatenate(
        [np.zeros(len(opened)), blade.total[opened], ties.along, ties.place]
    )  # fmt: skip
    ends, count = 2 * len(opened), len(ties.line)
    first = ends + np.arange(count)
    at = blade.locate(line, along)
    met = clusters(at[:ends], join)
    order = np.lexsort((along, line))
    close = (line[order][1:] == line[order][:-1]) & (np.diff(along[order]) <= join)
    left, right = order[:-1][close], order[1:][close]
    seam = _seams(blade, line, along, order, join)
    node = components(
        len(line),
        np.concatenate([np.arange(ends), first, left, seam[0]]),
        np.concatenate([met, first + count, right, seam[1]]),
    )
    return Meetings(line[order], along[order], node[order], at[node[order]])


def _seams(blade: Blade, line: Ints, along: Floats, order: Ints, join: float) -> tuple[Ints, Ints]:
    """Places at both sides of a closed line's seam that are one point."""
    if not len(line):
        return order, order
    new = np.flatnonzero(np.diff(line[order]) != 0)
    first = order[np.concatenate([[0], new + 1])]
    last = order[np.concatenate([new, [len(order) - 1]])]
    span = along[first] + blade.total[line[last]] - along[last]
    one = blade.closed[line[first]] & (span <= join) & (first != last)
    return first[one], last[one]
