"""Where texts and embedded pictures lie, roughly: they put no line down, but they are seen."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from matready.lint.drawing import Drawing, Floats
from matready.lint.reading.transforms import IDENTITY, BadTransform, multiply, parse_transform
from matready.lint.repair.declared import Declared
from matready.lint.repair.ink import SAME, SHOWS

if TYPE_CHECKING:
    from lxml.etree import _Element

_SEEN = ("text", "image", "foreignObject")
_SIZE = re.compile(r"([0-9.]+)(px)?")
_MEDIUM = 16.0  # CSS Fonts 4, 2.5: the initial font size
_WIDEST = 1.2  # width of a wide letter over the font size
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
        if not self._drawing.put_no_line.keys() & set(_SEEN):
            return SAME
        order, nodes = self._order, self._drawing.nodes
        first = order[nodes[low - 1].element] if low else 0
        last = order[nodes[high].element] if high < len(nodes) else len(order)
        geometry = self._drawing.geometry
        parts = [geometry.points[geometry.offsets[k] : geometry.offsets[k + 1]] for k in lines]
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
        for node in self._drawing.nodes:
            for child in node.element.iterchildren("*"):
                name = str(child.tag).rpartition("}")[2]
                if name in _SEEN:
                    box = self._text_box(child) if name == "text" else _own_box(child)
                    try:
                        own = parse_transform(str(child.get("transform", "none")))
                    except BadTransform:
                        own = IDENTITY
                    a, b, c, d, e, f = multiply(node.matrix, own)
                    corners = box @ np.array([[a, b], [c, d]]) + (e, f)
                    found.append(
                        _Picture(self._order[child], corners.min(axis=0), corners.max(axis=0))
                    )
        return found

    def _text_box(self, text: _Element) -> Floats:
        """The four corners of a box around a text, however it is anchored."""
        size = _MEDIUM
        for element in (*text.iterancestors(), text):
            known = _SIZE.fullmatch(self._declared.of(element).get("font-size", "").strip())
            size = float(known[1]) if known else size
        places = []
        for name in ("x", "y"):
            texts = [str(part.get(name, "")) for part in text.iter("*")]
            numbers = [float(n) for t in texts for n in _NUMBERS.findall(t)]
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
        return _corners(-1e9, -1e9, 1e9, 1e9)
    return _corners(x, y, x + width, y + height)


def _corners(x0: float, y0: float, x1: float, y1: float) -> Floats:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
