"""The curves of path data, one at a time: points on them, parts of them, ends moved.

Points are complex numbers x + iy in user units.
"""

from __future__ import annotations

from cmath import rect
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import ceil, pi, radians, sin

import numpy as np

from matready.lint.reading.arcs import axis_vectors

# A part of an arc goes no further round than this. Past it, and most of all near a half turn, the
# last digit of an end would move the arc by far more than itself.
_MOST_SWEEP = 2 * pi / 3
# Nearer than this, in user units, an arc needs no line to a place.
_JOINED = 1e-9


@dataclass(frozen=True)
class Bezier:
    """A line, a quadratic or a cubic curve: two, three or four points."""

    points: tuple[complex, ...]

    @property
    def start(self) -> complex:
        """Where it begins."""
        return self.points[0]

    @property
    def end(self) -> complex:
        """Where it ends."""
        return self.points[-1]

    def point(self, t: float) -> complex:
        """The point at a parameter of 0 to 1."""
        return self._until(t)[-1]

    def _until(self, t: float) -> list[complex]:
        """The points of the part from the start to t, by de Casteljau."""
        if t == 1:
            return list(self.points)
        row, until = list(self.points), [self.points[0]]
        while len(row) > 1:
            row = [(1 - t) * one + t * other for one, other in pairwise(row)]
            until.append(row[0])
        return until

    def parts(self, begin: float, end: float, decimals: int) -> list[Curve]:
        """The part between two parameters, rounded; ends that were its own stay to the last bit."""
        points = self._until(end)
        if begin > 0:
            points = Bezier(tuple(points[::-1]))._until(1 - begin / end)[::-1]
        rounded = [round_point(point, decimals) for point in points]
        if begin == 0:
            rounded[0] = self.start
        if end == 1:
            rounded[-1] = self.end
        return [Bezier(tuple(rounded))]

    def between(self, start: complex | None, end: complex | None) -> list[Curve]:
        """The same with its ends moved, each with the control point next to it; None: stays.

        A quadratic that moves becomes a cubic: its one control point belongs to both ends.
        """
        first = 0j if start is None else start - self.start
        last = 0j if end is None else end - self.end
        if not first and not last:
            return [self]
        points = self.points
        if len(points) == 3:
            a, b, c = points
            points = (a, (a + 2 * b) / 3, (2 * b + c) / 3, c)
        half = len(points) // 2
        moved = [point + (first if n < half else last) for n, point in enumerate(points)]
        # The ends to the last bit, not as what a difference gives back.
        moved[0] = self.start if start is None else start
        moved[-1] = self.end if end is None else end
        return [Bezier(tuple(moved))]

    def extent(self) -> float:
        """How far from its start it can reach; 0 for a curve of no length."""
        return max(abs(point - self.start) for point in self.points)


@dataclass(frozen=True)
class Arc:
    """An elliptical arc in the numbers of path data; `rotation` is in degrees.

    SVG 2, 9.5.1: without a radius it is a straight line, from a point to itself it is nothing.
    """

    start: complex
    rx: float
    ry: float
    rotation: float
    large: bool
    sweep: bool
    end: complex

    @cached_property
    def _round(self) -> tuple[complex, complex, float] | None:
        """The vectors u and v and the sweep of `reading.arcs`; None for a straight line."""
        if not self.rx or not self.ry or self.start == self.end:
            return None
        rx = abs(self.rx) if self.sweep else -abs(self.rx)
        ry = -abs(self.ry) if self.large else abs(self.ry)
        turn = rect(1.0, radians(self.rotation % 360))
        chord, radii = np.array([self.end - self.start]), np.array([complex(rx, ry)])
        u, v, sweep = axis_vectors(chord, radii, np.array([turn]))
        return complex(u[0]), complex(v[0]), float(sweep[0])

    def point(self, t: float) -> complex:
        """The point at a share of 0 to 1 of its angle."""
        if t in (0, 1):
            return self.end if t else self.start
        if self._round is None:
            return (1 - t) * self.start + t * self.end
        u, v, sweep = self._round
        return self.start + sin(sweep * t) * v - 2 * sin(sweep * t / 2) ** 2 * u

    def parts(self, begin: float, end: float, decimals: int) -> list[Curve]:
        """The part between two shares of the angle, rounded, as arcs of a third of a turn at most.

        Ends that were its own stay to the last bit. The radii are those in use: SVG 2, B.2.5.
        """
        if self._round is None:
            return Bezier((self.start, self.end)).parts(begin, end, decimals)
        count = max(1, ceil((end - begin) * self._round[2] / _MOST_SWEEP))
        shares = [begin + (end - begin) * n / count for n in range(count)] + [end]
        points = [
            self.point(share) if share in (0, 1) else round_point(self.point(share), decimals)
            for share in shares
        ]
        half = (self.end - self.start) / 2 / rect(1.0, radians(self.rotation % 360))
        enlarged = max(1.0, abs(complex(half.real / self.rx, half.imag / self.ry)))
        rx, ry = abs(self.rx) * enlarged, abs(self.ry) * enlarged
        whole = replace(self, rx=rx, ry=ry, large=False)
        return [replace(whole, start=one, end=other) for one, other in pairwise(points)]

    def between(self, start: complex | None, end: complex | None) -> list[Curve]:
        """The same arc with straight lines from and to new places of its ends; None: stays.

        Its own ends never move: a tiny shift can move an arc by hundreds of times as much.
        """
        curves: list[Curve] = [self]
        if start is not None and abs(start - self.start) > _JOINED:
            curves.insert(0, Bezier((start, self.start)))
        if end is not None and abs(end - self.end) > _JOINED:
            curves.append(Bezier((self.end, end)))
        return curves

    def extent(self) -> float:
        """How far from its start its end or its middle lies; 0 for an arc of no length."""
        return max(abs(self.end - self.start), abs(self.point(0.5) - self.start))


Curve = Bezier | Arc


def round_point(point: complex, decimals: int) -> complex:
    """The point with both coordinates rounded to so many decimals."""
    return complex(round(point.real, decimals), round(point.imag, decimals))
