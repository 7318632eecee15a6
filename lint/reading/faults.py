"""The slow and exact reading of path data and points: where a text stops, and why.

A text that breaks the grammar is drawn up to the segment that breaks it (SVG 2, 9.5.4), so what
stands before the fault is read here, number by number, for `pathdata` to draw.
"""

from __future__ import annotations

import re
from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass

from matready.lint.reading.pathdata import Commands

_SPACE = re.compile(r"[ \t\n\r\f]*")
_SEPARATOR = re.compile(r"[ \t\n\r\f]*(,?)[ \t\n\r\f]*")
# Digits need not follow the dot: SVG 1.1 has it so, and SVG 2 lets viewers read such files.
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_FLAG = re.compile("[01]")
_ARGUMENTS = {
    **dict.fromkeys("MmLlTt", (_NUMBER,) * 2),
    **dict.fromkeys("HhVv", (_NUMBER,)),
    **dict.fromkeys("Cc", (_NUMBER,) * 6),
    **dict.fromkeys("SsQq", (_NUMBER,) * 4),
    **dict.fromkeys("Aa", (_NUMBER, _NUMBER, _NUMBER, _FLAG, _FLAG, _NUMBER, _NUMBER)),
    **dict.fromkeys("Zz", ()),
}
_THEN = {"M": "L", "m": "l"}  # what further pairs after a move are


@dataclass(frozen=True, slots=True)
class UpToFault:
    """What of a text can be drawn.

    `commands` are for `draw_path`. `offsets` tells for each segment that they draw, moves and
    closes included, at which character of the text it stands. `fault` is the character where the
    text stops early and the reason, None if it does not.
    """

    commands: Commands
    offsets: list[int]
    fault: tuple[int, str] | None


@dataclass(frozen=True, slots=True)
class Spelled:
    """One segment as it is written: its letter (that of its run where it has none of its own).

    `offset` is the character where it begins, `spans` are the characters of each number.
    """

    letter: str
    offset: int
    numbers: list[float]
    spans: list[tuple[int, int]]


class _Fault(Exception):
    def __init__(self, offset: int, reason: str) -> None:
        super().__init__(reason)
        self.place = (offset, reason)


def path_up_to_fault(data: str) -> UpToFault:
    """Path data up to its first fault."""
    return _gathered(_path(data))


def spelled_path(data: str) -> list[Spelled]:
    """All segments of path data, each Z included; raises ValueError where a fault stands in it."""
    try:
        return list(_path(data))
    except _Fault as fault:
        raise ValueError(str(fault)) from None


def points_up_to_fault(data: str, closed: bool) -> UpToFault:
    """The points of a polyline, or of a polygon where `closed`, up to their first fault."""
    found = _gathered(_points(data))
    if not closed or not found.offsets:
        return found
    drawn = found.commands
    commands = Commands(drawn.letters + "z", drawn.numbers, [*drawn.bounds, drawn.bounds[-1]])
    return UpToFault(commands, [*found.offsets, len(data)], found.fault)


def _gathered(segments: Iterable[Spelled]) -> UpToFault:
    letters: list[str] = []
    numbers: list[float] = []
    bounds = [0]
    offsets: list[int] = []
    fault = None
    closed = False
    try:
        for segment in segments:
            # As in draw_path: Z after Z draws nothing, and anything but M after Z moves first.
            if not closed or segment.letter not in "Zz":
                letters.append(segment.letter)
                numbers += segment.numbers
                bounds.append(len(numbers))
                offsets += [segment.offset] * (1 + (closed and segment.letter not in "Mm"))
            closed = segment.letter in "Zz"
    except _Fault as stop:
        fault = stop.place
    return UpToFault(Commands("".join(letters), numbers, bounds), offsets, fault)


def _path(data: str) -> Iterator[Spelled]:
    at = _skip(data, 0)
    first = True
    while at < len(data):
        start, letter = at, data[at]
        if first and letter not in "Mm":
            raise _Fault(at, "path data must begin with M")
        if letter not in _ARGUMENTS:
            raise _Fault(at, f"{letter!r} is not a path command")
        first = False
        at = _skip(data, at + 1)
        if _ARGUMENTS[letter]:
            at = yield from _run(data, at, letter, start)
        else:
            yield Spelled(letter, start, [], [])


def _points(data: str) -> Iterator[Spelled]:
    at = _skip(data, 0)
    if at < len(data):
        at = yield from _run(data, at, "M", at)
    if at < len(data):
        raise _Fault(at, f"{data[at]!r} is not a number")


def _run(data: str, at: int, letter: str, offset: int) -> Generator[Spelled, None, int]:
    """The segments of one command, as many as its numbers make; returns where they end."""
    while True:
        spans = _spans(data, at, letter)
        yield Spelled(letter, offset, [float(data[a:b]) for a, b in spans], spans)
        at = spans[-1][1]
        letter = _THEN.get(letter, letter)
        separator = _SEPARATOR.match(data, at)
        assert separator is not None  # it matches anything, nothing included
        at = offset = separator.end()
        if not separator[1] and not _NUMBER.match(data, at):
            return at


def _spans(data: str, at: int, letter: str) -> list[tuple[int, int]]:
    """The characters of each number of one segment."""
    spans: list[tuple[int, int]] = []
    for pattern in _ARGUMENTS[letter]:
        if spans:
            at = _skip(data, at, _SEPARATOR)
        found = pattern.match(data, at)
        if not found:
            raise _Fault(at, _missing(data[at : at + 1], pattern))
        spans.append(found.span())
        at = found.end()
    return spans


def _missing(found: str, pattern: re.Pattern[str]) -> str:
    if not found or found == "," or found in _ARGUMENTS:
        return "a number is missing"
    if pattern is _FLAG:
        return f"an arc flag must be 0 or 1, not {found!r}"
    return f"{found!r} is not a number"


def _skip(data: str, at: int, pattern: re.Pattern[str] = _SPACE) -> int:
    found = pattern.match(data, at)
    return found.end() if found else at
