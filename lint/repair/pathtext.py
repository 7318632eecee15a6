"""Path data changed sub-path by sub-path, every character that need not change left as it is.

Points are complex numbers x + iy in user units.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Protocol

from matready.lint.repair.curves import Arc, round_point
from matready.lint.repair.pen import Pen
from matready.lint.repair.refusal import Refused
from matready.lint.repair.segments import Segment, Subpath, read_subpaths

__all__ = [
    "Close", "Drop", "Extend", "MoveEnds", "Operation", "Segment", "Subpath", "extract",
    "read_subpaths", "rewrite",
]  # fmt: skip


class Operation(Protocol):
    """A change of one sub-path."""

    def redraw(self, pen: Pen) -> None:
        """Draw the changed sub-path with the pen; raises Refused where that cannot be done."""


@dataclass(frozen=True)
class Drop:
    """Take the sub-path away."""

    def redraw(self, pen: Pen) -> None:
        """Draw nothing."""


@dataclass(frozen=True)
class MoveEnds:
    """Move the ends of an open sub-path; None: stays.

    The control point next to an end moves by the same vector. An arc's end stays, and a straight
    line leads on from it. With `close` the end goes exactly to the start, and Z follows.
    """

    start: complex | None = None
    end: complex | None = None
    close: bool = False

    def redraw(self, pen: Pen) -> None:
        """Draw the sub-path between its new ends; raises Refused for one without ends."""
        subpath = pen.subpath
        _check_open(subpath)
        start = None if self.start is None else round_point(self.start, pen.decimals)
        end = None if self.end is None else round_point(self.end, pen.decimals)
        first, last = 1, len(subpath.segments) - 1
        begin = subpath.start if start is None else start
        if self.close:
            # Z leads on from an arc by itself.
            end = None if isinstance(subpath.curves[last], Arc) else begin
        pen.begin(begin)
        for index in range(first, last + 1):
            moved = (start if index == first else None, end if index == last else None)
            for curve in subpath.curves[index].between(*moved):
                pen.draw(curve, index)
        if self.close:
            pen.close()


@dataclass(frozen=True)
class Extend:
    """Lead an open sub-path on by one straight line, from its end or to its start."""

    at_start: bool
    to: complex

    def redraw(self, pen: Pen) -> None:
        """Draw the sub-path and the line; raises Refused for one without ends."""
        subpath = pen.subpath
        _check_open(subpath)
        to = round_point(self.to, pen.decimals)
        pen.begin(to if self.at_start else subpath.start)
        if self.at_start:
            pen.line(subpath.start)
        for index, curve in enumerate(subpath.curves[1:], 1):
            pen.draw(curve, index)
        if not self.at_start:
            pen.line(to)


@dataclass(frozen=True)
class Close:
    """Lead an open sub-path home in a straight line, by Z."""

    def redraw(self, pen: Pen) -> None:
        """Draw the sub-path and Z; raises Refused for one without ends."""
        subpath = pen.subpath
        _check_open(subpath)
        pen.begin(subpath.start)
        for index, curve in enumerate(subpath.curves[1:], 1):
            pen.draw(curve, index)
        pen.close()


def _check_open(subpath: Subpath) -> None:
    if subpath.closed:
        raise Refused("it is closed")
    if len(subpath.segments) == 1:
        raise Refused("it draws nothing")


def rewrite(data: str, changes: Mapping[int, Operation], decimals: int) -> str:
    """Path data with the operations made on the numbered sub-paths; '' where nothing is left.

    Sub-paths that are not named keep every character, but for a move that was measured from what
    has changed. `decimals` are those of new places. Raises Refused.
    """
    if not changes:
        return data
    subpaths = read_subpaths(data)
    if not changes.keys() <= {subpath.number for subpath in subpaths}:
        raise Refused("it has no such line in it")
    before = subpaths[0].segments[0].start
    text = start = data[:before]
    afresh = drawn = False
    for subpath in subpaths:
        lead, before = data[before : subpath.segments[0].start], subpath.stop
        operation = changes.get(subpath.number)
        if operation is None:
            written = _unchanged(data, subpath, afresh)
            afresh = False
            drawn = drawn or len(subpath.segments) > 1
        else:
            pen = Pen(data, subpath, decimals, afresh)
            operation.redraw(pen)
            written, afresh = pen.text, _has_moved(pen)
            drawn = drawn or bool(written)
        if written:
            text += written if text == start else lead + written
    return text + data[before:] if drawn else ""


def _has_moved(pen: Pen) -> bool:
    """True where a sub-path that follows would start elsewhere than it did."""
    subpath = pen.subpath
    old = subpath.start if subpath.closed else subpath.end
    ended_otherwise = subpath.closed and not pen.closed
    return not pen.text or ended_otherwise or abs(pen.current - old) > pen.same


def _unchanged(data: str, subpath: Subpath, afresh: bool) -> str:
    head = subpath.segments[0]
    if not (afresh and subpath.follows):
        return data[head.start : subpath.stop]
    pen = Pen(data, subpath, 0, afresh)
    pen.move(head.to)
    if len(subpath.segments) > 1:
        follower = subpath.segments[1]
        own = data[follower.start].isalpha()
        pen.text += " " + ("" if own else follower.letter) + data[follower.start : subpath.stop]
    return pen.text


def extract(data: str, numbers: Collection[int]) -> str:
    """Just these sub-paths, as data of its own; '' where they draw nothing. Raises Refused."""
    subpaths = read_subpaths(data)
    others = {each.number: Drop() for each in subpaths if each.number not in numbers}
    return rewrite(data, others, 0)
