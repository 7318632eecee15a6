"""What is seen on the page and draws no line, texts and pictures: what they say, where they lie."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from matready.lint.drawing import Style
from matready.lint.reading.elements import Measures
from matready.lint.reading.transforms import Matrix
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

Box = tuple[float, float, float, float]

# Of a common typeface, as shares of the font size; only for saying about where a text lies.
_LETTER = 0.55
_ABOVE = 0.75
_BELOW = 0.25
_PAINTS = frozenset(("fill", "stroke", "style", "class"))
_SILENT = frozenset(("title", "desc", "metadata", "style", "script"))


def words_of(element: _Element) -> str:
    """All that a text says, with single spaces between words."""
    parts: list[str] = []
    stack: list[_Element | str | None] = [element]
    while stack:
        part = stack.pop()
        if part is None or isinstance(part, str):
            parts.append(part or "")
        elif isinstance(part.tag, str) and local_name(part) not in _SILENT:
            inside: list[_Element | str | None] = [part.text]
            for child in part:
                inside += [child, str(child.tail or "")]
            stack += reversed(inside)
    return " ".join("".join(parts).split())


class Seen(NamedTuple):
    """What a text or picture says, and about where it lies, in its own user units."""

    words: str
    box: Box


def read_sight(element: _Element, kind: str, measures: Measures, used: Style) -> Seen | None:
    """A text or picture as it is seen; None where it is not."""
    words = "" if kind == "image" else words_of(element)
    painted = kind == "image" or (words and _is_painted(element, used))
    if not used.visible or not painted:
        return None
    if kind not in ("image", "foreignObject"):
        return Seen(words, _box_of_text(element, len(words), measures.font_px))
    extent = measures.extent
    x, y = measures.x("x"), measures.y("y")
    width = measures.size("width", extent.width) or 0.0
    height = measures.size("height", extent.height) or 0.0
    return Seen(words, (x, y, x + width, y + height))


def _is_painted(text: _Element, used: Style) -> bool:
    """Whether a text may be painted; a part of it may have a paint of its own."""
    if (used.fill, used.stroke) != ("none", "none"):
        return True
    return any(not _PAINTS.isdisjoint(part.attrib) for part in text.iterdescendants("*"))


def _box_of_text(element: _Element, letters: int, font: float) -> Box:
    x, y = _first(element, "x"), _first(element, "y")
    long = _LETTER * font * letters
    x -= {"middle": long / 2, "end": long}.get(str(element.get("text-anchor", "start")), 0.0)
    return x, y - _ABOVE * font, x + long, y + _BELOW * font


def _first(element: _Element, name: str) -> float:
    """The first place that a text or a part of it is given; 0 where that is no plain number."""
    for part in element.iter("*"):
        words = str(part.get(name, "")).replace(",", " ").split()
        if words:
            try:
                return float(words[0])
            except ValueError:
                return 0.0
    return 0.0


def on_page(box: Box, matrix: Matrix) -> Box:
    """The box in mm around a box in user units."""
    a, b, c, d, e, f = matrix
    x = [a * u + c * v + e for u in box[::2] for v in box[1::2]]
    y = [b * u + d * v + f for u in box[::2] for v in box[1::2]]
    return min(x), min(y), max(x), max(y)
