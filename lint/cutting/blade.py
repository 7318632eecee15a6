"""The lines that a blade follows, as segments with their place along each line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from matready.lint.cutting.near import spread
from matready.lint.drawing import Bools, Drawing, Floats, Ints

SAME_MM = 1e-6  # places on a line nearer than this are one: rounding, not drawing


@dataclass(frozen=True, eq=False, slots=True)
class Blade:
    """Segments of some lines of a drawing, line after line; n segments, k lines.

    `line` numbers the lines 0..k-1 here; `source[line]` is the line's number in the drawing.
    `along` is how far into its line a segment starts, in mm, and `ruler` the same with all lines
    laid end to end.
    """

    a: Floats  # (n, 2)
    b: Floats  # (n, 2)
    line: Ints  # (n,)
    along: Floats  # (n,)
    ruler: Floats  # (n,)
    length: Floats  # (n,)
    first: Ints  # (k,) first segment of each line
    last: Ints  # (k,) last segment of each line
    total: Floats  # (k,) length of each line
    closed: Bools  # (k,)
    source: Ints  # (k,)

    def points_of(self, line: int) -> Floats:
        """The line's own points, (m + 1, 2); a closed line repeats its first."""
        first, last = self.first[line], self.last[line]
        return np.vstack([self.a[first : last + 1], self.b[last : last + 1]])

    def locate(self, line: Ints, along: Floats) -> Floats:
        """Points (r, 2) at the distances `along` (r,) into the lines `line` (r,)."""
        place = self.ruler[self.first[line]] + along
        seg = np.searchsorted(self.ruler, place, "right") - 1
        seg = np.clip(seg, self.first[line], self.last[line])
        t = np.clip((along - self.along[seg]) / self.length[seg], 0, 1)
        return np.asarray(self.a[seg] + (self.b[seg] - self.a[seg]) * t[:, None])

    def part(self, line: int, start: float, end: float) -> Floats:
        """The points of a line from one distance along it to another, (m, 2)."""
        first, last = int(self.first[line]), int(self.last[line])
        where = self.along[first : last + 1]
        inside = self.a[first : last + 1][(where > start + SAME_MM) & (where < end - SAME_MM)]
        tips = self.locate(np.array([line, line]), np.array([start, end]))
        return np.vstack([tips[:1], inside, tips[1:]])


def blade_of(drawing: Drawing, lines: Ints) -> Blade:
    """The segments of the lines numbered in `lines`."""
    geometry = drawing.geometry
    begin = geometry.offsets[lines]
    count = geometry.offsets[lines + 1] - begin - 1
    index = spread(begin, count)
    a, b = geometry.points[index], geometry.points[index + 1]
    line = np.repeat(np.arange(len(lines)), count)
    length = np.hypot(b[:, 0] - a[:, 0], b[:, 1] - a[:, 1])
    last = np.cumsum(count) - 1
    first = last - count + 1
    ruler = np.concatenate([[0.0], np.cumsum(length)])
    return Blade(
        a=a,
        b=b,
        line=line,
        along=ruler[:-1] - ruler[first][line],
        ruler=ruler[:-1],
        length=length,
        first=first,
        last=last,
        total=ruler[last + 1] - ruler[first],
        closed=geometry.closed[lines],
        source=lines,
    )
