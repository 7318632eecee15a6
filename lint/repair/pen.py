"""The pen: writes a changed sub-path anew, with the source's own characters wherever they draw it.

Whoever changes a sub-path draws it with the pen, curve by curve, and says which segment of the
source a curve is. The pen knows where it stands, and so whether that segment's text still draws
the curve from there, would with other numbers in it, or has to be written anew.
"""

from __future__ import annotations

from matready.lint.reading.units import format_number
from matready.lint.repair.curves import Arc, Bezier, Curve
from matready.lint.repair.segments import (
    Segment,
    Subpath,
    exact_decimals,
    mirror,
)

_NUMBERS = "0123456789."
_LETTERS = {2: "L", 3: "Q", 4: "C"}  # by how many points a curve has
_SAME = 1e-12  # of the largest coordinate: two places that only differ by rounding errors


class Pen:
    """Writes one sub-path into `text`, and stands at `current`.

    `afresh` is true where the place before the sub-path is no longer what it was in the source.
    `closed` tells whether a Z was written.
    """

    def __init__(self, data: str, subpath: Subpath, decimals: int, afresh: bool) -> None:
        self.subpath = subpath
        self.decimals = decimals
        self.text = ""
        self.current = 0j
        self.closed = False
        self.same = subpath.reach * _SAME
        self._data = data
        self._afresh = afresh and subpath.follows
        self._exact = exact_decimals(subpath.reach)
        self._before: Curve | None = None
        self._kept: int | None = None  # the segment of the source that was written last
        self._edited = False  # whether its last number is a new one

    def begin(self, start: complex) -> None:
        """Go to where the sub-path starts, by the source's own move as far as it will do."""
        head = self.subpath.segments[0]
        explicit = head.start < head.end
        if self._afresh or not (explicit or abs(start - head.to) <= self.same):
            self.move(start)
            return
        base = head.at if head.letter == "m" else 0j
        self._keep(0, _pairs([start], base) if explicit else [])
        self.current = start

    def move(self, start: complex) -> None:
        """Start a further sub-path."""
        self._write("M", _pairs([start], 0j))
        self.current = start
        self._before = None

    def draw(self, curve: Curve, index: int | None = None) -> None:
        """Draw a curve from where the pen stands; `index` is the segment that it was or is of."""
        if index is not None:
            numbers = self._numbers(self.subpath.segments[index].letter, curve)
            if numbers is not None:
                self._keep(index, numbers)
                self._drawn(curve)
                return
        if isinstance(curve, Arc):
            flags = [float(curve.large), float(curve.sweep)]
            radii = [curve.rx, curve.ry, curve.rotation]
            self._write("A", [*radii, *flags, *_pairs([curve.end], 0j)])
        else:
            self._write(_LETTERS[len(curve.points)], _pairs(curve.points[1:], 0j))
        self._drawn(curve)

    def line(self, to: complex) -> None:
        """Draw a straight line."""
        self.draw(Bezier((self.current, to)))

    def close(self, index: int | None = None) -> None:
        """Close the sub-path with Z; `index` is the segment of the source that does it there."""
        if index is None:
            self._write("Z", [])
        else:
            self._keep(index, [])
        self.current = self.subpath.start
        self.closed = True

    def _drawn(self, curve: Curve) -> None:
        self.current = curve.end
        self._before = curve

    def _numbers(self, letter: str, curve: Curve) -> list[float] | None:
        """The numbers with which the command draws the curve from here; None where none do."""
        kind = letter.upper()
        base = self.current if letter.islower() else 0j
        if isinstance(curve, Arc):
            flags = [float(curve.large), float(curve.sweep)]
            shape = [curve.rx, curve.ry, curve.rotation, *flags]
            return [*shape, *_pairs([curve.end], base)] if kind == "A" else None
        points, step = curve.points, curve.end - self.current
        if kind == "H" and len(points) == 2 and abs(step.imag) <= self.same:
            return [curve.end.real - base.real]
        if kind == "V" and len(points) == 2 and abs(step.real) <= self.same:
            return [curve.end.imag - base.imag]
        if kind == _LETTERS[len(points)]:
            return _pairs(points[1:], base)
        if {"S": 4, "T": 3}.get(kind) == len(points):
            taken_over = mirror(self._before, len(points), self.current)
            if abs(taken_over - points[1]) <= self.same:
                return _pairs(points[2:], base)
        return None

    def _write(self, letter: str, numbers: list[float]) -> None:
        words = [letter, *(format_number(number, self._exact) for number in numbers)]
        self.text += " " * bool(self.text) + " ".join(words)
        self._kept = None

    def _keep(self, index: int, numbers: list[float]) -> None:
        """Write a segment in the source's own characters but for the numbers that are others."""
        segments = self.subpath.segments
        segment = segments[index]
        new = {
            nth: format_number(number, self._exact)
            for nth, (number, old) in enumerate(zip(numbers, segment.numbers, strict=True))
            if abs(number - old) > self.same
        }
        if self._kept is not None and self._kept == index - 1:
            gap = self._data[segments[index - 1].end : segment.start]
        else:
            gap = " " * bool(self.text)
            # A segment without a letter of its own loses the one of its run.
            if segment.start < segment.end and not self._data[segment.start].isalpha():
                gap += segment.letter
            self._edited = False
        self.text += gap
        self._spell(segment, new)
        self._kept = index

    def _spell(self, segment: Segment, new: dict[int, str]) -> None:
        at, edited = segment.start, self._edited
        for nth, (begin, end) in enumerate(segment.spans):
            word = new.get(nth, self._data[begin:end])
            self.text += self._data[at:begin]
            # What nothing parted before, as in 1-2 or .5.5, may run together now.
            parted = not (self.text and self.text[-1] in _NUMBERS and word[0] in _NUMBERS)
            self.text += word if parted or not (edited or nth in new) else " " + word
            at, edited = end, nth in new
        self.text += self._data[at : segment.end]
        self._edited = edited


def _pairs(points: list[complex] | tuple[complex, ...], base: complex) -> list[float]:
    numbers = []
    for point in points:
        numbers += [point.real - base.real, point.imag - base.imag]
    return numbers
