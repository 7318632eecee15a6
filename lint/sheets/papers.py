"""Papers: which sheets of which paper are at hand, how pieces may be turned, what is cut from it.

Plain data that can be sent to another process, and quick to load: the settings hold papers.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from matready.lint.sizes import MM_PER_INCH, parse_size

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matready.lint.stocks import Stock

Turn = Literal["any", "quarter", "half", "none"]
Grain = Literal["x", "y"]

TURNS: tuple[Turn, ...] = ("any", "quarter", "half", "none")
"""How pieces may be turned, from the freest to the strictest."""

GRAINS: tuple[Grain, ...] = ("x", "y")
MOST_SHEETS = 10_000  # of one size; more is a slip
_LENGTH = re.compile(r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(mm|cm|in)?")
_MM_PER_UNIT = {None: 1.0, "mm": 1.0, "cm": 10.0, "in": MM_PER_INCH}
_SHEET_FORM = "write SIZE or SIZE:COUNT, such as 12x12in or 100x150mm:2"


@dataclass(frozen=True, slots=True)
class Sheet:
    """Sheets of one size; `count` None means that there are as many as needed."""

    width_mm: float
    height_mm: float
    count: int | None = None


@dataclass(frozen=True, slots=True)
class Picks:
    """Which pieces are cut from a paper; a piece is that any one of these names.

    `files` are patterns of paths from `folder` on, an absolute one; `layers` and `ids` patterns of
    names, `fills` colours as "#rrggbb".
    """

    files: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    ids: tuple[str, ...] = ()
    fills: tuple[str, ...] = ()
    folder: str = ""

    def __bool__(self) -> bool:
        return bool(self.files or self.layers or self.ids or self.fills)


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper: its sheets at hand, the larger ones and scraps alike, in the order they were named.

    Without any sheets it is as large as the mat, and there is as much of it as needed. `stock` None
    means the stock that the drawing is checked for. `grain` runs along a sheet's width
    ("x") or height ("y"); `printed` paper looks right one way up only.
    """

    name: str
    sheets: tuple[Sheet, ...]
    stock: Stock | None = None
    grain: Grain | None = None
    printed: bool = False
    picks: Picks = Picks()

    def turn(self, wished: Turn) -> Turn:
        """How pieces may be turned on this paper where they may be turned as wished elsewhere."""
        own: Turn = "none" if self.printed else "half" if self.grain else "any"
        return TURNS[max(TURNS.index(wished), TURNS.index(own))]


@dataclass(frozen=True, slots=True)
class OnMat:
    """Distances and the speed that `[sheets]` sets.

    `speed_mm_s` is how fast the blade goes on a line; the cutting list's times follow from it.
    """

    margin_mm: float = 6.0
    gap_mm: float = 2.0
    speed_mm_s: float = 50.0


def length_of(text: str) -> float:
    """A length in mm of `6`, `6mm`, `0.6cm` or `0.25in`; raises ValueError with one sentence."""
    match = _LENGTH.fullmatch(text.strip().lower())
    if match is None:
        raise ValueError(f'"{text.strip()[:40]}" is not a length; write 6, 6mm or 0.25in')
    length = round(float(match[1]) * _MM_PER_UNIT[match[2]], 6)
    if length > 1e4:
        raise ValueError(f'"{text.strip()[:40]}" is longer than any mat; write 6, 6mm or 0.25in')
    return length


def sheet_of(text: str) -> Sheet:
    """The sheets of `12x12in:3`, or of `12x12in`, which are as many as needed.

    Raises ValueError with one sentence.
    """
    size, colon, number = text.partition(":")
    try:
        width, height = parse_size(size)
    except ValueError as error:
        raise ValueError(str(error)) from None
    if not colon:
        return Sheet(width, height)
    count = int(number) if number.strip().isdecimal() and len(number) < 10 else 0
    if not 1 <= count <= MOST_SHEETS:
        raise ValueError(
            f'"{number.strip()[:40]}" is no number of sheets from 1 to {MOST_SHEETS}; {_SHEET_FORM}'
        )
    return Sheet(width, height, count)


def named_sheet(text: str) -> tuple[str, Sheet]:
    """Name and sheets of `NAME=12x12in:3`; raises ValueError with one sentence."""
    name, sign, rest = text.partition("=")
    if not sign or not has_word(name):
        raise ValueError(f'"{text[:60]}" does not say NAME=SIZE, such as cream-card=12x12in:3')
    return name.strip(), sheet_of(rest)


def has_word(name: str) -> bool:
    """Whether a paper may be called so: a letter or a digit is in it, and it fits on a line."""
    return any(c.isalnum() for c in name) and name.strip().isprintable() and len(name) <= 60


def overlaid(papers: Sequence[Paper], given: Iterable[tuple[str, Sheet]]) -> tuple[Paper, ...]:
    """The papers with the sheets that a command names in place of their own.

    A paper that is named anew comes last; the same name again is another size of it.
    """
    found = {paper.name: paper for paper in papers}
    met: set[str] = set()
    for name, sheet in given:
        old = found.get(name, Paper(name, ()))
        kept = old.sheets if name in met else ()
        found[name] = replace(old, sheets=(*kept, sheet))
        met.add(name)
    return tuple(found.values())
