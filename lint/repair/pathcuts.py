"""Stretches taken out of a sub-path, and where on it a distance along it lies.

Points are complex numbers x + iy in user units.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from matready.lint.reading.flatten import flatten
from matready.lint.reading.flatten import place as place_strokes
from matready.lint.reading.strokes import CUBIC, Strokes
from matready.lint.reading.transforms import Matrix
from matready.lint.repair.curves import Arc, Bezier, Curve, round_point
from matready.lint.repair.pen import Pen
from matready.lint.repair.refusal import Refused
from matready.lint.repair.segments import Subpath

Place = tuple[int, float]  # an index into Subpath.segments, and how far along it: 0 to 1

_SNAP_MM = 0.01
_NO_LENGTH = 1e-9  # of the largest coordinate: shorter than this nothing is drawn
_HALVINGS = 40


@dataclass(frozen=True)
class Stretch:
    """What to take out, forward along the drawing from `begin` to `end`.

    On a closed sub-path it may run past the seam. What remains before it ends at `ends_at`, what
    remains after it begins at `begins_at`; None: where the stretch does.
    """

    begin: Place
    end: Place
    ends_at: complex | None = None
    begins_at: complex | None = None


@dataclass(frozen=True)
class Cut:
    """Take stretches out of the sub-path; the line of a Z can be taken like any other.

    What remains are open sub-paths, each drawn the way it was; where nothing does, the sub-path
    goes. Stretches may overlap.
    """

    stretches: tuple[Stretch, ...]

    def redraw(self, pen: Pen) -> None:
        """Draw what remains; raises Refused for a stretch that runs backward on an open line."""
        subpath = pen.subpath
        stretches = _merged(subpath, self.stretches)
        if not stretches:
            _draw_whole(pen)
            return
        for remain in _remains(subpath, stretches):
            _draw_remain(pen, remain)


@dataclass(frozen=True)
class _Remain:
    """What is kept between two places, and where its ends go; None: they stay."""

    begin: Place
    end: Place
    begins_at: complex | None
    ends_at: complex | None


def _merged(subpath: Subpath, stretches: Sequence[Stretch]) -> list[Stretch]:
    """The stretches in order and apart from each other, none of them empty.

    An end past the seam counts on: its index is larger by the number of drawn segments.
    """
    count = len(subpath.segments) - 1
    unrolled = []
    for stretch in stretches:
        begin, end = _normal(stretch.begin), _normal(stretch.end)
        if end < begin:
            if not subpath.closed:
                raise Refused("what is to be taken out runs backward")
            end = (end[0] + count, end[1])
        if begin < end:
            unrolled.append(replace(stretch, begin=begin, end=end))
    unrolled.sort(key=lambda each: (each.begin, each.end))
    merged: list[Stretch] = []
    for stretch in unrolled:
        if merged and stretch.begin <= merged[-1].end:
            merged[-1] = _joined(merged[-1], stretch)
        else:
            merged.append(stretch)
    while subpath.closed and len(merged) > 1:
        if (merged[-1].end[0] - count, merged[-1].end[1]) < merged[0].begin:
            break
        first = merged.pop(0)
        merged[-1] = _joined(merged[-1], replace(first, end=(first.end[0] + count, first.end[1])))
    return merged


def _joined(one: Stretch, other: Stretch) -> Stretch:
    if other.end <= one.end:
        return one
    return replace(one, end=other.end, begins_at=other.begins_at)


def _normal(place: Place) -> Place:
    """The same place with the end of a segment as the start of the next one."""
    index, t = place
    if index < 1:
        return 1, 0.0
    return (index + 1, 0.0) if t >= 1 else (index, max(t, 0.0))


def _remains(subpath: Subpath, stretches: list[Stretch]) -> list[_Remain]:
    count = len(subpath.segments) - 1
    first, last = stretches[0], stretches[-1]
    remains = [
        _Remain(one.end, other.begin, one.begins_at, other.ends_at)
        for one, other in pairwise(stretches)
    ]
    if subpath.closed:
        around = (first.begin[0] + count, first.begin[1])
        remains.append(_Remain(last.end, around, last.begins_at, first.ends_at))
    else:
        remains.insert(0, _Remain((1, 0.0), first.begin, None, first.ends_at))
        remains.append(_Remain(last.end, (count + 1, 0.0), last.begins_at, None))
    return [remain for remain in remains if remain.begin < remain.end]


def _draw_whole(pen: Pen) -> None:
    pen.begin(pen.subpath.start)
    for index, segment in enumerate(pen.subpath.segments[1:], 1):
        if segment.letter in "Zz":
            pen.close(index)
        else:
            pen.draw(pen.subpath.curves[index], index)


def _draw_remain(pen: Pen, remain: _Remain) -> None:
    subpath = pen.subpath
    pieces = [
        piece
        for piece in _pieces(subpath, remain, pen.decimals)
        if piece[1].extent() > subpath.reach * _NO_LENGTH
    ]
    if not pieces:
        return
    begins_at, ends_at = (
        None if place is None else round_point(place, pen.decimals)
        for place in (remain.begins_at, remain.ends_at)
    )
    ready: list[tuple[int, Curve]] = []
    for nth, (index, piece) in enumerate(pieces):
        start = begins_at if nth == 0 else None
        end = ends_at if nth == len(pieces) - 1 else None
        ready += [(index, curve) for curve in piece.between(start, end)]
    start = ready[0][1].start
    if not pen.text and not subpath.closed and remain.begin == (1, 0.0):
        pen.begin(start)
    else:
        pen.move(start)
    for index, curve in ready:
        pen.draw(curve, index)


def _pieces(subpath: Subpath, remain: _Remain, decimals: int) -> list[tuple[int, Curve]]:
    """The curves between two places, whole ones as they are, and the segments that they are of."""
    count = len(subpath.segments) - 1
    (first, begin), (last, end) = remain.begin, remain.end
    pieces: list[tuple[int, Curve]] = []
    for index in range(first, last + 1):
        t0, t1 = begin if index == first else 0.0, end if index == last else 1.0
        own = (index - 1) % count + 1
        curve = subpath.curves[own]
        if (t0, t1) == (0.0, 1.0):
            pieces.append((own, curve))
        elif t0 < t1:
            pieces += [(own, part) for part in curve.parts(t0, t1, decimals)]
    return pieces


def length_of(subpath: Subpath, matrix: Matrix, flatten_mm: float) -> float:
    """The length in mm of the line that `places` measures along."""
    placed, _ = flatten(place_strokes(_strokes(subpath), np.array([matrix])), flatten_mm)
    return float(np.abs(np.diff(placed)).sum())


def places(
    subpath: Subpath, matrix: Matrix, along_mm: Sequence[float], flatten_mm: float = 0.01
) -> list[Place]:
    """Where the distances along the sub-path's line lie, the line of a Z included.

    The line is what `read_geometry` makes of the sub-path with the same `matrix` to mm and the same
    `flatten_mm`. A distance within 0.01 mm of the end of a segment, or off either end of the line,
    is that end. Raises Refused where nothing is drawn.
    """
    placed, ends = flatten(place_strokes(_strokes(subpath), np.array([matrix])), flatten_mm)
    along = np.concatenate(([0.0], np.abs(np.diff(placed)).cumsum()))
    if not along[-1] > 0:
        raise Refused("it draws nothing")
    line = _Line(subpath, matrix, placed.tolist(), along.tolist(), ends.tolist())
    return [line.place(distance) for distance in along_mm]


@dataclass(frozen=True)
class _Line:
    """A sub-path as flattened: its points in mm, how far along each lies, where segments end."""

    subpath: Subpath
    matrix: Matrix
    points: list[complex]
    along: list[float]
    ends: list[int]

    def place(self, distance: float) -> Place:
        stops = [self.along[end] for end in self.ends]
        index = min(bisect_left(stops, distance), len(stops) - 1)
        nearest = min(index, max(index - 1, 0), key=lambda each: abs(stops[each] - distance))
        if abs(stops[nearest] - distance) <= _SNAP_MM or not 0 < distance < stops[-1]:
            return (nearest, 1.0) if nearest else (1, 0.0)
        first, last = self.ends[index - 1], self.ends[index]
        after = bisect_left(self.along, distance, first, last)
        share = (distance - self.along[after - 1]) / (self.along[after] - self.along[after - 1])
        return index, self._along_chord(index, after, share, first, last - first)

    def _along_chord(self, index: int, after: int, share: float, first: int, steps: int) -> float:
        """The parameter at which the curve stands beside a share of the chord that ends there.

        Chords are equal steps of the parameter, but along one it may run unevenly.
        """
        here, chord = self.points[after - 1], self.points[after] - self.points[after - 1]
        curve = self.subpath.curves[index]
        low, high = (after - 1 - first) / steps, (after - first) / steps
        if isinstance(curve, Bezier) and len(curve.points) == 2:
            return low + share * (high - low)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            step = self._placed(curve.point(middle)) - here
            if (step * chord.conjugate()).real < share * abs(chord) ** 2:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def _placed(self, point: complex) -> complex:
        a, b, c, d, e, f = self.matrix
        x, y = point.real, point.imag
        return complex(a * x + c * y + e, b * x + d * y + f)


def _strokes(subpath: Subpath) -> Strokes:
    strokes = Strokes()
    for segment, curve in zip(subpath.segments, subpath.curves, strict=True):
        end = (segment.to.real, segment.to.imag)
        if segment.letter in "Mm":
            strokes.move(*end)
        elif segment.letter in "Zz":
            strokes.close(*end)
        elif isinstance(curve, Arc):
            shape = (curve.rx, curve.ry, curve.rotation, float(curve.large), float(curve.sweep))
            strokes.arc(*shape, *end)
        elif len(curve.points) == 2:
            strokes.line(*end)
        elif len(curve.points) == 3:
            control = curve.points[1]
            strokes.quad(control.real, control.imag, *end)
        else:
            for point in curve.points[1:]:
                strokes.coords += (point.real, point.imag)
            strokes.kinds.append(CUBIC)
    strokes.end_shape()
    return strokes
