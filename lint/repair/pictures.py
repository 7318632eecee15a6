"""Where texts and embedded pictures lie, roughly: they put no line down, but they are seen."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from matready.lint.drawing import Drawing, Floats
from matready.lint.reading.units import parse_length, to_user
from matready.lint.repair.declared import Declared
from matready.lint.repair.ink import SAME, SHOWS
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

_MEDIUM = 16.0  # CSS Fonts 4, 2.5: the initial font size
_WIDEST = 1.2  # width of a wide letter over the font size
# What sets letters elsewhere, or farther apart, than their number and size tell.
_HARD = frozenset(
    (
        *("dx", "dy", "rotate", "textLength", "letter-spacing", "word-spacing", "font"),
        *("writing-mode", "transform-origin", "filter", "inline-size", "shape-inside"),
    )
)
_NUMBERS = re.compile(r"-?[0-9.]+(?:e-?[0-9]+)?")


class _Picture(NamedTuple):
    order: int  # among all elements of the file
    low: Floats
    high: Floats


class Pictures:
    """The texts and pictures of one drawing, each with a box in mm that it surely lies in."""

    def __init__(self, drawing: Drawing, declared: Declared) -> None:
        self._drawing = drawing
        self._declared = declared

    def order_shows(self, lines: Collection[int], low: int, high: int) -> int:
        """How it shows (see ink) when lines change places with what stands between two nodes."""
        if not self._drawing.sights:
            return SAME
        order, nodes = self._order, self._drawing.nodes
        first = order[nodes[low - 1].element] if low else 0
        last = order[nodes[high].element] if high < len(nodes) else len(order)
        geometry = self._drawing.geometry
        parts = [geometry.line(k) for k in lines]
        points = np.vstack(parts)
        for picture in self._pictures:
            if (
                first < picture.order < last
                and ((points.min(axis=0) < picture.high) & (points.max(axis=0) > picture.low)).all()
            ):
                return SHOWS
        return SAME

    @cached_property
    def _order(self) -> dict[_Element, int]:
        return {element: k for k, element in enumerate(self._drawing.source.root.iter("*"))}

    @cached_property
    def _pictures(self) -> list[_Picture]:
        found = []
        for sight in self._drawing.sights:
            a, b, c, d, e, f = sight.matrix
            corners = self._box(sight.own) @ np.array([[a, b], [c, d]]) + (e, f)
            order = self._order[sight.element]
            found.append(_Picture(order, corners.min(axis=0), corners.max(axis=0)))
        return found

    def _box(self, child: _Element) -> Floats:
        """The four corners of a box that a text or picture surely lies in."""
        if local_name(child) == "text":
            return self._text_box(child)
        return _own_box(child) if not self._declared.styled(child) else _EVERYWHERE

    def _text_box(self, text: _Element) -> Floats:
        """The box around a text, however it is anchored; everywhere where that is hard to tell."""
        size = _MEDIUM
        for element in (*text.iterancestors(), *text.iter("*")):
            found = self._declared.of(element)
            if not _HARD.isdisjoint(element.attrib) or not _HARD.isdisjoint(found):
                return _EVERYWHERE
            if "font-size" in found:
                length = parse_length(found["font-size"])
                user = None if length is None else to_user(length, None, size)
                if user is None:
                    return _EVERYWHERE
                size = max(user, size) if element in text.iterdescendants() else user
        places = []
        for name in ("x", "y"):
            texts = [str(part.get(name, "")) for part in text.iter("*")]
            if any(letter.isalpha() for each in texts for letter in each):
                return _EVERYWHERE
            numbers = [float(n) for each in texts for n in _NUMBERS.findall(each)]
            places.append((min(numbers, default=0.0), max(numbers, default=0.0)))
        (x0, x1), (y0, y1) = places
        long = size * _WIDEST * (sum(map(len, map(str, text.itertext()))) + 1)
        return _corners(x0 - long, y0 - 2 * size, x1 + long, y1 + 2 * size)


def _own_box(element: _Element) -> Floats:
    """The corners of a picture by its attributes; of everywhere where they do not tell."""
    try:
        x, y, width, height = (
            float(str(element.get(name, default)))
            for name, default in (("x", "0"), ("y", "0"), ("width", ""), ("height", ""))
        )
    except ValueError:
        return _EVERYWHERE
    return _corners(x, y, x + width, y + height)


def _corners(x0: float, y0: float, x1: float, y1: float) -> Floats:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


_EVERYWHERE = _corners(-1e9, -1e9, 1e9, 1e9)
