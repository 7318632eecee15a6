"""Doubled runs: stretches of a line that lie on an earlier line, to the blade the same cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from matready.lint.cutting.blade import SAME_MM, Blade
from matready.lint.drawing import Bools, Floats, Ints

_PARALLEL = 0.8  # cosine; chords of a small curve drawn twice may differ by some 15 degrees each
# Lines that cross or touch are near each other for a while too, but the stretch grows with the
# width looked at: as the width for a crossing, as its root for a tangent. A doubled run does not.
WIDER = 3.0  # widths looked at to tell
_STEADY = 0.72  # a tangent's stretch at one width is 0.58 of that at three
_WHOLE = 0.99  # share of a line that lies on others when the line is a whole copy
_DETOUR_MM = 2.0
_EVEN_DIGITS = 3  # lengths in mm that are the same to so many decimals differ by rounding alone
_STITCH = 3.0  # intervals nearer than this many widths are one run


class Stretches(NamedTuple):
    """The stretches that runs are made of, sorted by `run`; from `start` to `end` on line `other`.

    A run that lies on several lines, or on each chord of a curve, has as many.
    """

    run: Ints
    other: Ints
    start: Floats
    end: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Doubles:
    """r runs: `line` (r,) lies on `other` (r,) (an earlier line, or itself) from start to end.

    `start` and `end` are distances along `line` in mm. `other` is the line that it shares most of
    the run with, `tips` (r, 2) those that it lies on at its start and its end, `stretches` tell
    them all. Numbers are the Blade's.
    """

    line: Ints
    other: Ints
    tips: Ints
    start: Floats
    end: Floats
    stretches: Stretches

    @staticmethod
    def none() -> Doubles:
        """No run at all."""
        none, empty = np.zeros(0, np.int64), np.zeros(0)
        stretches = Stretches(none, none, empty, empty)
        return Doubles(none, none, none.reshape(0, 2), empty, empty, stretches)

    @property
    def length(self) -> Floats:
        """Length of each run in mm."""
        return np.asarray(self.end - self.start)

    def whole(self, blade: Blade) -> Bools:
        """Which runs make their line a whole copy, (r,)."""
        return np.asarray(self.length >= _WHOLE * blade.total[self.line])

    def cover(self, line: Ints, along: Floats, margin: float) -> Bools:
        """True for places that lie in a run of their own line, or within `margin` mm of it."""
        return np.asarray(self.run_at(line, along, margin) >= 0)

    def run_at(self, line: Ints, along: Floats, margin: float) -> Ints:
        """The run of its own line that each place lies in, or within `margin` mm of; else -1."""
        if not len(self.line) or not len(line):
            return np.full(len(line), -1)
        stride = float(max(self.end.max(), along.max())) + 2 * margin + 1
        at = np.searchsorted(
            self.start - margin + self.line * stride, along + line * stride, "right"
        )
        at = np.maximum(at - 1, 0)
        inside = self.line[at] == line
        inside &= (along <= self.end[at] + margin) & (along >= self.start[at] - margin)
        return np.where(inside, at, -1)

    def earliest_on(self, run: Ints, along: Floats) -> Ints:
        """The earliest of the lines that each run lies on at a place along its line."""
        kept = self.stretches
        first, last = np.searchsorted(kept.run, run), np.searchsorted(kept.run, run, "right")
        other = np.zeros(len(run), np.int64)
        for row, (low, high, place) in enumerate(zip(first, last, along.tolist(), strict=True)):
            away = np.maximum(kept.start[low:high] - place, place - kept.end[low:high])
            here = away <= max(float(away.min()), SAME_MM)
            other[row] = kept.other[low:high][here].min()
        return other


def _shared(blade: Blade, i: Ints, j: Ints, width: float) -> tuple[Floats, Floats, Bools]:
    """The part of segment j within `width` of segment i: from, to in mm along j's line; is any."""
    di = (blade.b[i] - blade.a[i]) / blade.length[i, None]
    dj = (blade.b[j] - blade.a[j]) / blade.length[j, None]
    offset = blade.a[j] - blade.a[i]
    cos = np.einsum("ij,ij->i", di, dj)
    sin = di[:, 0] * dj[:, 1] - di[:, 1] * dj[:, 0]
    away = di[:, 0] * offset[:, 1] - di[:, 1] * offset[:, 0]  # signed distance of a[j] from line i
    ahead = np.einsum("ij,ij->i", di, offset)
    low, high = np.zeros(len(i)), blade.length[j].copy()
    # Along j both the distance from line i and the place along i change linearly.
    for value, slope, least, most in (
        (away, sin, -width, width),
        (ahead, cos, 0.0, blade.length[i]),
    ):
        steep = np.abs(slope) > 1e-12
        rate = np.where(steep, slope, 1.0)
        t0, t1 = (least - value) / rate, (most - value) / rate
        low = np.where(steep, np.maximum(low, np.minimum(t0, t1)), low)
        high = np.where(steep, np.minimum(high, np.maximum(t0, t1)), high)
        high = np.where(~steep & ((value < least) | (value > most)), -1.0, high)
    found = (high > low) & (np.abs(cos) > _PARALLEL)
    # Neighbouring chords of one small curve lie near each other too: a line that runs on the same
    # way doubles itself only after a detour.
    detour = np.abs(blade.along[j] - blade.along[i])
    line = blade.line[i]
    seam = np.where(blade.closed[line], blade.total[line] - detour, np.inf)
    found &= (line != blade.line[j]) | (cos < 0) | (np.minimum(detour, seam) > _DETOUR_MM)
    base = blade.along[j]
    return base + low, base + high, found


def _merge(line: Ints, start: Floats, end: Floats, slack: float) -> tuple[Ints, Ints]:
    """Sort intervals by line and start and join those nearer than `slack`: order, run of each."""
    order = np.lexsort((start, line))
    # One ruler for all lines, each beginning far behind the end of the one before.
    stride = float(end.max()) + 1 + slack
    s, e = start[order] + line[order] * stride, end[order] + line[order] * stride
    reach = np.maximum.accumulate(e)
    new = np.ones(len(s), bool)
    new[1:] = s[1:] > reach[:-1] + slack
    return order, np.cumsum(new) - 1


def _extents(run: Ints, line: Ints, low: Floats, high: Floats) -> tuple[Ints, Floats, Floats]:
    """The line, the start and the end of each run, from its intervals; `run` numbers them."""
    runs = int(run[-1]) + 1
    start, end = np.full(runs, np.inf), np.full(runs, -np.inf)
    np.minimum.at(start, run, low)
    np.maximum.at(end, run, high)
    of = np.zeros(runs, np.int64)
    of[run] = line
    return of, start, end


def find_doubles(blade: Blade, i: Ints, j: Ints, same_place: float, shortest: float) -> Doubles:
    """Runs longer than `shortest` that lie within `same_place` mm of an earlier line.

    `i` < `j` are the segment pairs of near.segment_pairs at WIDER times `same_place`.
    """
    swap = blade.line[i] > blade.line[j]
    i, j = np.where(swap, j, i), np.where(swap, i, j)
    low, high, found = _shared(blade, i, j, same_place)
    wide_low, wide_high, wide_found = _shared(blade, i, j, WIDER * same_place)
    if not found.any():
        return Doubles.none()
    line, other = blade.line[j[found]], blade.line[i[found]]
    low, high = low[found], high[found]
    order, run = _merge(line, low, high, _STITCH * same_place)
    runs = int(run[-1]) + 1
    run_line, start, end = _extents(run, line[order], low[order], high[order])
    wide = _wide_length(
        blade.line[j[wide_found]],
        wide_low[wide_found],
        wide_high[wide_found],
        run_line,
        start,
        end,
        WIDER * _STITCH * same_place,
    )
    partner = _main_partner(run, other[order], (high - low)[order], runs)
    tips = np.zeros((runs, 2), np.int64)
    for side, outer in ((0, -low[order]), (1, high[order])):
        first = np.lexsort((-other[order], np.round(outer, _EVEN_DIGITS)))
        tips[run[first], side] = other[order][first]  # the outermost interval is written last
    keep = (end - start > shortest) & (end - start >= _STEADY * wide)
    number = np.where(keep, np.cumsum(keep) - 1, -1)[run]
    of_kept = order[number >= 0]
    stretches = Stretches(number[number >= 0], other[of_kept], low[of_kept], high[of_kept])
    return Doubles(run_line[keep], partner[keep], tips[keep], start[keep], end[keep], stretches)


def _wide_length(
    line: Ints, low: Floats, high: Floats, run_line: Ints, start: Floats, end: Floats, slack: float
) -> Floats:
    """For each run the length of the same run when lines WIDER times as far off count too."""
    order, run = _merge(line, low, high, slack)
    of, begin, stop = _extents(run, line[order], low[order], high[order])
    stride = float(max(stop.max(), end.max())) + 1
    middle = (start + end) / 2 + run_line * stride
    at = np.maximum(np.searchsorted(begin + of * stride, middle, "right") - 1, 0)
    return np.asarray((stop - begin)[at])


def _main_partner(run: Ints, other: Ints, length: Floats, runs: int) -> Ints:
    """For each run the other line that shares most of it, the earliest of several copies."""
    key = run * (int(other.max()) + 1) + other
    keys, back = np.unique(key, return_inverse=True)
    shared = np.round(np.bincount(back.reshape(-1), weights=length), _EVEN_DIGITS)
    owner, sharer = np.divmod(keys, int(other.max()) + 1)
    best = np.lexsort((-sharer, shared, owner))
    partner = np.zeros(runs, np.int64)
    partner[owner[best]] = sharer[best]  # the last of each run is its longest
    return partner
