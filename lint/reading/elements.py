"""One basic shape's attributes to the record that the geometry reads."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from matready.lint.reading.shapes import (
    EllipseShape,
    LineShape,
    PathShape,
    PolyShape,
    RectShape,
    Shape,
)
from matready.lint.reading.style import path_of_css
from matready.lint.reading.units import Extent, parse_length, to_user


@dataclass(slots=True)
class Measures:
    """Reads an element's lengths: CSS declarations first, then attributes, in user units.

    `note` is called with one plain clause for each length that cannot be read.
    """

    attributes: Mapping[str, str]
    css: Mapping[str, str]
    extent: Extent
    font_px: float
    note: Callable[[str], None]

    def text(self, name: str) -> str | None:
        """The property's text, or None."""
        found = self.css.get(name) if self.css else None
        return self.attributes.get(name) if found is None else found

    def optional(self, name: str, percent_of: float | None) -> float | None:
        """A length, or None where it is absent, auto or unreadable."""
        text = self.css.get(name) if self.css else None
        if text is None:
            text = self.attributes.get(name)
            if text is None:
                return None
        length = parse_length(text)
        if length is None:
            if text.strip().lower() not in ("auto", "inherit", ""):
                self.note(f'{name}="{text.strip()[:40]}" is no length, so it is passed over')
            return None
        if length.unit == "":
            return length.number
        size = to_user(length, percent_of, self.font_px)
        if size is None:
            self.note(f'{name}="{text.strip()}" has no measure here, so it is passed over')
        return size

    def x(self, name: str) -> float:
        """A place or size across, 0 where it is absent."""
        return self.optional(name, self.extent.width) or 0.0

    def y(self, name: str) -> float:
        """A place or size down, 0 where it is absent."""
        return self.optional(name, self.extent.height) or 0.0

    def size(self, name: str, percent_of: float | None) -> float | None:
        """A size that may not be negative; None where it is absent, auto or unreadable."""
        size = self.optional(name, percent_of)
        if size is not None and size < 0:
            self.note(f'{name}="{self.text(name)}" is negative, so it is passed over')
            return None
        return size


def read_shape(kind: str, measures: Measures) -> Shape | None:
    """The record of a shape element; None where SVG 2 says that it does not render (10.2-10.5)."""
    return _READERS[kind](measures)


def _path(measures: Measures) -> Shape | None:
    declared = measures.css.get("d") if measures.css else None
    data = measures.attributes.get("d") if declared is None else path_of_css(declared)
    return None if data is None or data.strip() in ("", "none") else PathShape(data)


def _rect(measures: Measures) -> Shape | None:
    extent = measures.extent
    width = measures.size("width", extent.width)
    height = measures.size("height", extent.height)
    if not width or not height:
        return None
    return RectShape(
        measures.x("x"),
        measures.y("y"),
        width,
        height,
        measures.size("rx", extent.width),
        measures.size("ry", extent.height),
    )


def _circle(measures: Measures) -> Shape | None:
    radius = measures.size("r", measures.extent.diagonal)
    if not radius:
        return None
    return EllipseShape(measures.x("cx"), measures.y("cy"), radius, radius)


def _ellipse(measures: Measures) -> Shape | None:
    rx = measures.size("rx", measures.extent.width)
    ry = measures.size("ry", measures.extent.height)
    rx = ry if rx is None else rx  # auto: the other radius (SVG 2, 10.4)
    ry = rx if ry is None else ry
    if not rx or not ry:
        return None
    return EllipseShape(measures.x("cx"), measures.y("cy"), rx, ry)


def _line(measures: Measures) -> Shape | None:
    return LineShape(measures.x("x1"), measures.y("y1"), measures.x("x2"), measures.y("y2"))


def _points(measures: Measures, *, closed: bool) -> Shape | None:
    points = measures.attributes.get("points")
    return None if points is None or not points.strip() else PolyShape(points, closed)


_READERS: dict[str, Callable[[Measures], Shape | None]] = {
    "path": _path,
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "line": _line,
    "polyline": lambda measures: _points(measures, closed=False),
    "polygon": lambda measures: _points(measures, closed=True),
}
SHAPES = frozenset(_READERS)

__all__ = ["SHAPES", "Measures", "read_shape"]
