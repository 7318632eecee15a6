"""Path data taken apart: which characters draw which segment of which sub-path, and its curve."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from math import floor, isfinite, log10

from matready.lint.reading.faults import Spelled, spelled_path
from matready.lint.repair.curves import Arc, Bezier, Curve
from matready.lint.repair.refusal import Refused

SPACES = " \t\n\r\f"
_DIGITS = 12  # how many significant digits a place keeps that has to stay where it is


@dataclass(frozen=True)
class Segment:
    """One segment; a number is data[spans[i][0]:spans[i][1]].

    `letter` is the command in force: 'l' for the pairs after an 'm'. `start` and `end` are its
    characters, its own letter included where it has one, no separators around it. It leads from
    `at` to `to`, in user units.
    """

    letter: str
    start: int
    end: int
    numbers: tuple[float, ...]
    spans: tuple[tuple[int, int], ...]
    at: complex
    to: complex


@dataclass(frozen=True)
class Subpath:
    """One sub-path, numbered as in `Geometry.subpath`: every move counts.

    The first segment is its move, with start == end where drawing follows Z without one. `start`
    and `end` are its first point and the last one drawn before a Z. `stop` is the character after
    its text, further Z in a row included.
    """

    number: int
    segments: tuple[Segment, ...]
    start: complex
    end: complex
    closed: bool
    stop: int

    @cached_property
    def curves(self) -> tuple[Curve, ...]:
        """The curve of each segment; the move and the Z are lines, the move one of no length."""
        curves: list[Curve] = []
        for segment in self.segments:
            curves.append(_curve(segment, curves[-1] if curves else None))
        return tuple(curves)

    @cached_property
    def reach(self) -> float:
        """The largest coordinate in it, either way; never 0."""
        points = [self.start]
        for curve in self.curves:
            points += curve.points if isinstance(curve, Bezier) else (curve.start, curve.end)
        return max(max(abs(p.real), abs(p.imag)) for p in points) or 1.0

    @property
    def follows(self) -> bool:
        """True where its first point is measured from what stands before it."""
        head = self.segments[0]
        return self.number > 0 and (head.letter == "m" or head.start == head.end)


def mirror(curve: Curve | None, count: int, current: complex) -> complex:
    """The control point that S (count 4) or T (count 3) makes of the curve before it.

    SVG 2, 9.3.6 and 9.3.7: that curve's last one mirrored, if it is of the same kind.
    """
    if isinstance(curve, Bezier) and len(curve.points) == count:
        return 2 * curve.points[-1] - curve.points[-2]
    return current


def _curve(segment: Segment, before: Curve | None) -> Curve:
    at, to, numbers = segment.at, segment.to, segment.numbers
    kind = segment.letter.upper()
    if kind == "M":
        return Bezier((to, to))
    base = at if segment.letter.islower() else 0j
    if kind == "A":
        rx, ry, rotation, large, sweep = numbers[:5]
        return Arc(at, rx, ry, rotation, large == 1, sweep == 1, to)
    inner = [base + complex(*pair) for pair in zip(numbers[:-2:2], numbers[1:-2:2], strict=True)]
    if kind == "S":
        inner.insert(0, mirror(before, 4, at))
    elif kind == "T":
        inner.insert(0, mirror(before, 3, at))
    return Bezier((at, *inner, to))


@lru_cache(maxsize=64)  # each part taken from a long path asks for all of it
def read_subpaths(data: str) -> tuple[Subpath, ...]:
    """The sub-paths of path data; raises Refused where they cannot all be told."""
    if data.strip(SPACES) == "none":
        return ()
    try:
        spelled = spelled_path(data)
    except ValueError:
        raise Refused("its data cannot be read to the end") from None
    rows = list(_rows(spelled))
    begins = [row[0].start for row in rows] + [len(data)]
    subpaths = []
    for number, (row, (begin, until)) in enumerate(zip(rows, pairwise(begins), strict=True)):
        closed = row[-1].letter in "Zz"
        last = row[-2] if closed else row[-1]
        stop = begin + len(data[begin:until].rstrip(SPACES))
        subpaths.append(Subpath(number, tuple(row), row[0].to, last.to, closed, stop))
    if not all(isfinite(n) for subpath in subpaths for s in subpath.segments for n in _sizes(s)):
        raise Refused("a number in its data is too large")
    return tuple(subpaths)


def _sizes(segment: Segment) -> tuple[float, ...]:
    return (segment.to.real, segment.to.imag, *segment.numbers)


def _rows(spelled: list[Spelled]) -> Iterator[list[Segment]]:
    """The segments of each sub-path."""
    row: list[Segment] = []
    at = 0j
    for each in spelled:
        start, letter = each.offset, each.letter
        closed = bool(row) and row[-1].letter in "Zz"
        if letter in "Zz" and closed:
            continue  # a second Z in a row draws nothing
        if row and (letter in "Mm" or closed):
            yield row
            row = []
        if not row and letter not in "Mm":  # drawing after Z: a new sub-path from the old start
            row.append(Segment("M", start, start, (), (), at, at))
        to = row[0].to if letter in "Zz" else _target(each, at)
        end = each.spans[-1][1] if each.spans else start + 1
        row.append(Segment(letter, start, end, tuple(each.numbers), tuple(each.spans), at, to))
        at = to
    if row:
        yield row


def _target(each: Spelled, at: complex) -> complex:
    """Where a segment leads."""
    kind, numbers = each.letter.upper(), each.numbers
    base = at if each.letter.islower() else 0j
    if kind == "H":
        return complex(base.real + numbers[0], at.imag)
    if kind == "V":
        return complex(at.real, base.imag + numbers[0])
    return base + complex(*numbers[-2:])


def exact_decimals(reach: float, digits: int = _DIGITS) -> int:
    """How many decimals keep so many significant digits of a coordinate as large as `reach`."""
    return max(0, digits - 1 - floor(log10(reach)))
