"""Splices: stretches of the source's text replaced, everything else byte for byte as it was."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.source import Source


@dataclass(frozen=True, slots=True)
class Copied:
    """A stretch of the source's text, with whatever is spliced into it."""

    start: int
    end: int


@dataclass(eq=False, slots=True)
class Made:
    """A start tag written anew; `of` is the element whose place it takes, None for a new group."""

    text: str
    of: _Element | None = None


Part = str | Copied | Made


@dataclass(frozen=True, slots=True)
class Splice:
    """Replaces text[start:end] by parts; offsets are in Source.text, `start` == `end` inserts."""

    start: int
    end: int
    parts: tuple[Part, ...]

    def with_instead(self, made: Made, other: Part) -> Splice:
        """The same splice with another part in place of one."""
        if made not in self.parts:
            return self
        parts = tuple(other if part is made else part for part in self.parts)
        return Splice(self.start, self.end, parts)


class Chunk(NamedTuple):
    """A run of the copy's text: where it begins there, and whence it came."""

    at: int
    start: int  # offset in the source's text, -1 for new text
    made: Made | None


@dataclass(frozen=True, eq=False, slots=True)
class Spliced:
    """The copy's bytes, and where each run of its text came from."""

    data: bytes
    chunks: tuple[Chunk, ...]

    def origin(self, offset: int) -> int | Made | None:
        """Whence the character at an offset of the copy's text came: an offset, or what made it."""
        chunk = self.chunks[bisect_right(self.chunks, offset, key=lambda c: c.at) - 1]
        if chunk.start >= 0:
            return chunk.start + offset - chunk.at
        return chunk.made


def splice(source: Source, splices: Iterable[Splice]) -> Spliced:
    """The source with all splices made.

    A splice that lies within another's stretch is made only where that stretch is Copied. Of
    several at one place the first given comes first.
    """
    ordered = sorted(splices, key=lambda s: (s.start, s.end > s.start, -s.end))
    mark = source.at(0)
    data, chunks, at = [source.data[:mark]], [], 0
    for part in _rendered(source, ordered, 0, len(source.text)):
        if isinstance(part, Copied):
            start, made = part.start, None
            piece = source.data[source.at(part.start) : source.at(part.end)]
            length = part.end - part.start
        else:
            start, made = -1, part if isinstance(part, Made) else None
            text = part.text if isinstance(part, Made) else part
            piece = text.encode(source.encoding, "xmlcharrefreplace")
            length = len(piece.decode(source.encoding).encode("utf-8"))
        if length:
            chunks.append(Chunk(at, start, made))
            data.append(piece)
            at += length
    return Spliced(b"".join(data), tuple(chunks))


def _rendered(source: Source, ordered: list[Splice], start: int, end: int) -> Iterator[Part]:
    """The stretch from start to end with the splices inside it made, but for one of the whole."""
    at = start
    first = bisect_left(ordered, start, key=lambda s: s.start)
    for one in islice(ordered, first, None):
        if one.start > end:
            break
        # What is put in at either end stands beside the stretch, not in it.
        beside = one.start == one.end and one.start in (start, end)
        if one.start < at or one.end > end or beside or (one.start, one.end) == (start, end):
            continue
        yield Copied(at, one.start)
        for part in one.parts:
            if isinstance(part, Copied):
                yield from _rendered(source, ordered, part.start, part.end)
            else:
                yield part
        at = one.end
    yield Copied(at, end)


def removal(text: bytes, start: int, end: int) -> Splice:
    """Takes an element away, and its line with it where it has one of its own."""
    before = start
    while before and text[before - 1 : before] in (b" ", b"\t"):
        before -= 1
    breaks = (b"\n", b"\r")
    if text[before - 1 : before] not in breaks or text[end : end + 1] not in breaks:
        return Splice(start, end, ())
    before -= 2 if text[max(before - 2, 0) : before] == b"\r\n" else 1
    return Splice(before, end, ())
