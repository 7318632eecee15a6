"""Path data, read by the grammar of SVG 2, 9.3.9.

The texts of a whole file are turned into numbers in one go, then drawn command by command. This
quick way either reads a text rightly or declines it without telling why; `faults` is the slow
and exact way, for the few texts that need it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate, chain
from operator import add
from typing import NamedTuple

import msgspec

from matready.lint.reading.strokes import CLOSE, CUBIC, LINE, QUAD, Strokes

_Draw = Callable[[Strokes, list[float]], None]

_LETTERS = "MmZzLlHhVvCcSsQqTtAa"
_BETWEEN = "!"  # stands between two texts, and is no character of the grammar
_SPACES = " \t\n\r\f"
_NUMERIC = ("0123456789eE+-.," + _SPACES).encode()
_PARTS = (_LETTERS + _BETWEEN).encode()
_TO_SPACES = bytes.maketrans(b",\t\n\r\f", b"     ")
_TO_BARS = bytes.maketrans(_PARTS, b"|" * len(_PARTS))
# A comma may only stand between two numbers.
_COMMA_AFTER = re.compile(rf"[{_LETTERS}{_BETWEEN}]\s*+,".encode())
_COMMA_BEFORE = re.compile(rf",\s*+[{_LETTERS}{_BETWEEN},]".encode())
# Atomic, so that no number gives up a digit to let the rest match.
_NUMBER = r" *+((?>[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?))"
_ARC = re.compile((_NUMBER * 3 + " *+([01]) *+([01])" + _NUMBER * 2).encode())
_ARC_RUN = re.compile(rf"(?<=[aA])[^{_LETTERS}{_BETWEEN}]++".encode())
_FLAGS = frozenset((b"0", b"1"))
# Read from the end, a dot that has only digits between it and the next dot: 5.5.1.
_SECOND_DOT = re.compile(rb"\.(?=[0-9]++\.)")
_read_json = msgspec.json.Decoder(list[float]).decode


class Commands(NamedTuple):
    """The commands of one path, as a part of what may be the numbers of a whole file.

    After letter i stand numbers[bounds[first + i]:bounds[first + i + 1]].
    """

    letters: str
    numbers: list[float]
    bounds: list[int]
    first: int = 0


def read_commands(texts: Sequence[str]) -> Iterator[Commands | None]:
    """The commands of each text.

    None stands for a text that is not by the grammar, or spells it in a way that only
    `faults` knows. How many numbers a command has is not looked at here.
    """
    try:
        data = (_BETWEEN.join(texts) + _BETWEEN).encode("ascii")
        letters = data.translate(None, _NUMERIC)
        if letters.translate(None, _PARTS) or letters.count(b"!") != len(texts):
            raise ValueError("a foreign character")
        runs = _runs_of_json(_spelled_out(data, letters))
        numbers = _read_json(b"[" + b",".join(filter(None, runs)) + b"]")
    except ValueError:  # UnicodeEncodeError and msgspec.DecodeError among them
        for text in texts:
            yield from read_commands([text]) if len(texts) > 1 else [None]
        return
    bounds = [0, *accumulate(run.count(b",") + 1 if run else 0 for run in runs)]
    before = 0  # where in `bounds` stands what comes before the first letter of a text
    for letters_of_text in letters.decode().split(_BETWEEN)[:-1]:
        first = before + 1
        if bounds[before] == bounds[first]:
            yield Commands(letters_of_text, numbers, bounds, first)
        else:
            yield None
        before = first + len(letters_of_text)


def _spelled_out(data: bytes, letters: bytes) -> bytes:
    """The same with spaces between all numbers, commas gone; raises ValueError."""
    if b"," in data and (_COMMA_AFTER.search(data) or _COMMA_BEFORE.search(data)):
        raise ValueError("a comma that is not between two numbers")
    data = data.translate(_TO_SPACES).replace(b"-", b" -")
    if b"e" in data or b"E" in data:  # the sign of an exponent belongs to its number
        data = data.replace(b"e -", b"e-").replace(b"E -", b"E-")
    # A second dot starts a new number: 1.5.5 is 1.5 and 0.5.
    data = _SECOND_DOT.sub(b". ", data[::-1])[::-1]
    if b"a" in letters or b"A" in letters:
        data = _ARC_RUN.sub(_part_flags, data)
    return data


def _part_flags(run: re.Match[bytes]) -> bytes:
    """The numbers of one arc command; flags need nothing between them and what follows."""
    words = run[0].split()
    if len(words) % 7 == 0 and _FLAGS.issuperset(words[3::7] + words[4::7]):
        return run[0]
    parted = list(chain.from_iterable(_ARC.findall(run[0])))
    if b"".join(parted) != b"".join(words):
        raise ValueError("not the numbers of an arc")
    return b" ".join(parted)


def _runs_of_json(spelled: bytes) -> list[bytes]:
    """What stands between the letters, each as JSON numbers with commas between them.

    JSON is read ten times as fast as `float` reads, and wants a digit before each dot. What else
    it refuses (a plus sign, a leading zero, a dot at the end) is left to `faults`.
    """
    words = b",".join(spelled.translate(_TO_BARS).split())
    words = words.replace(b",|", b"|").replace(b"|,", b"|")
    words = words.replace(b",.", b",0.").replace(b"|.", b"|0.").replace(b"-.", b"-0.")
    return words.split(b"|")


def draw_path(commands: Commands, strokes: Strokes) -> None:
    """Draw one path; raises ValueError, maybe in the midst of it, where numbers are missing."""
    letters, numbers, bounds, first = commands
    if letters and letters[0] not in "Mm":
        raise ValueError("path data must begin with M")
    kinds = strokes.kinds
    start: tuple[float, float] | None = None
    for at, letter in enumerate(letters, first):
        values = numbers[bounds[at] : bounds[at + 1]]
        if letter in "Zz":
            if values:
                raise ValueError("a number after Z")
            if start and kinds[-1] != CLOSE:  # a second Z in a row draws nothing
                strokes.close(*start)
            continue
        width, draw = _COMMANDS[letter]
        if not values or len(values) % width:
            raise ValueError("a number is missing")
        if letter in "Mm":
            # The first m of a path is absolute, but the pairs after it are relative all the same.
            x, y = strokes.coords[-2:] if letter == "m" and start else (0.0, 0.0)
            start = (x + values[0], y + values[1])
            strokes.move(*start)
            if len(values) == 2:
                continue
            del values[:2]
        elif start and kinds[-1] == CLOSE:  # drawing after Z: a new sub-path from the old start
            strokes.move(*start)
        draw(strokes, values)


def _line_to(strokes: Strokes, values: list[float]) -> None:
    strokes.coords += values
    strokes.kinds += _LINE * (len(values) // 2)


def _line_by(strokes: Strokes, values: list[float]) -> None:
    coords = strokes.coords
    x, y = coords[-2], coords[-1]
    for at in range(0, len(values), 2):
        x += values[at]
        y += values[at + 1]
        coords += (x, y)
    strokes.kinds += _LINE * (len(values) // 2)


def _across_to(strokes: Strokes, values: list[float]) -> None:
    for x in values:
        strokes.line(x, strokes.coords[-1])


def _across_by(strokes: Strokes, values: list[float]) -> None:
    for dx in values:
        strokes.line(strokes.coords[-2] + dx, strokes.coords[-1])


def _down_to(strokes: Strokes, values: list[float]) -> None:
    for y in values:
        strokes.line(strokes.coords[-2], y)


def _down_by(strokes: Strokes, values: list[float]) -> None:
    for dy in values:
        strokes.line(strokes.coords[-2], strokes.coords[-1] + dy)


def _cubic_to(strokes: Strokes, values: list[float]) -> None:
    strokes.coords += values
    strokes.kinds += _CUBIC * (len(values) // 6)


def _cubic_by(strokes: Strokes, values: list[float]) -> None:
    coords = strokes.coords
    x, y = coords[-2], coords[-1]
    for at in range(0, len(values), 6):
        x1, y1, x2, y2, dx, dy = values[at : at + 6]
        coords += (x + x1, y + y1, x + x2, y + y2, x + dx, y + dy)
        x += dx
        y += dy
    strokes.kinds += _CUBIC * (len(values) // 6)


def _quad_to(strokes: Strokes, values: list[float]) -> None:
    for at in range(0, len(values), 4):
        strokes.quad(*values[at : at + 4])


def _smooth_cubic_to(strokes: Strokes, values: list[float]) -> None:
    """The control point before is mirrored, if there is one: SVG 2, 9.3.6."""
    coords = strokes.coords
    for at in range(0, len(values), 4):
        x, y = coords[-2], coords[-1]
        if strokes.kinds[-1] == CUBIC:
            x, y = 2 * x - coords[-4], 2 * y - coords[-3]
        coords += (x, y, *values[at : at + 4])
        strokes.kinds.append(CUBIC)


def _smooth_quad_to(strokes: Strokes, values: list[float]) -> None:
    """The same for the one control point of a quadratic: SVG 2, 9.3.7."""
    coords = strokes.coords
    for at in range(0, len(values), 2):
        x, y = coords[-2], coords[-1]
        if strokes.kinds[-1] == QUAD:  # drawn as a cubic: (2 control + end) / 3 stands before it
            x, y = (5 * x - 3 * coords[-4]) / 2, (5 * y - 3 * coords[-3]) / 2
        strokes.quad(x, y, values[at], values[at + 1])


def _relative(width: int, draw: _Draw) -> _Draw:
    """The command that draws the same from numbers measured from where each segment starts."""

    def draw_by(strokes: Strokes, values: list[float]) -> None:
        for at in range(0, len(values), width):
            here = strokes.coords[-2:] * (width // 2)
            draw(strokes, [*map(add, here, values[at : at + width])])

    return draw_by


def _arc_to(strokes: Strokes, values: list[float]) -> None:
    for at in range(0, len(values), 7):
        strokes.arc(*values[at : at + 7])


def _arc_by(strokes: Strokes, values: list[float]) -> None:
    for at in range(0, len(values), 7):
        rx, ry, rotation, large, sweep, dx, dy = values[at : at + 7]
        x, y = strokes.coords[-2:]
        strokes.arc(rx, ry, rotation, large, sweep, x + dx, y + dy)


_LINE, _CUBIC = bytes([LINE]), bytes([CUBIC])
# Letter -> how many numbers a segment takes, and what draws a run of such segments. A move is
# drawn before its run, which is of lines.
_COMMANDS: dict[str, tuple[int, _Draw]] = {
    "M": (2, _line_to),
    "m": (2, _line_by),
    "L": (2, _line_to),
    "l": (2, _line_by),
    "H": (1, _across_to),
    "h": (1, _across_by),
    "V": (1, _down_to),
    "v": (1, _down_by),
    "C": (6, _cubic_to),
    "c": (6, _cubic_by),
    "S": (4, _smooth_cubic_to),
    "s": (4, _relative(4, _smooth_cubic_to)),
    "Q": (4, _quad_to),
    "q": (4, _relative(4, _quad_to)),
    "T": (2, _smooth_quad_to),
    "t": (2, _relative(2, _smooth_quad_to)),
    "A": (7, _arc_to),
    "a": (7, _arc_by),
}
