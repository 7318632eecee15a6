"""The basic shapes and paths, as records, and how each basic shape is drawn.

All numbers are in user units, already resolved from lengths and percentages by whoever makes the
record; a matrix takes them to millimetres later.
"""

from __future__ import annotations

from dataclasses import dataclass

from matready.lint.reading.strokes import Strokes


@dataclass(frozen=True, slots=True)
class PathShape:
    """A path; `d` is the text of its data as it stands in the file."""

    d: str


@dataclass(frozen=True, slots=True)
class RectShape:
    """A rectangle; `rx` and `ry` are None where they are auto."""

    x: float
    y: float
    width: float
    height: float
    rx: float | None = None
    ry: float | None = None


@dataclass(frozen=True, slots=True)
class EllipseShape:
    """An ellipse, or a circle where both radii are the same."""

    cx: float
    cy: float
    rx: float
    ry: float


@dataclass(frozen=True, slots=True)
class LineShape:
    """A straight line between two points."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class PolyShape:
    """A polyline, or a polygon where `closed`; `points` is their text as it stands in the file."""

    points: str
    closed: bool


BasicShape = RectShape | EllipseShape | LineShape
Shape = PathShape | PolyShape | BasicShape


def draw_basic(shape: BasicShape, strokes: Strokes) -> str | None:
    """Draw a shape as its equivalent path; returns the reason where it may not be drawn."""
    if isinstance(shape, RectShape):
        return _draw_rect(shape, strokes)
    if isinstance(shape, EllipseShape):
        return _draw_ellipse(shape, strokes)
    strokes.move(shape.x1, shape.y1)
    strokes.line(shape.x2, shape.y2)
    return None


def _draw_rect(rect: RectShape, strokes: Strokes) -> str | None:
    """SVG 2, 10.2."""
    if rect.width < 0 or rect.height < 0:
        return f"the {'width' if rect.width < 0 else 'height'} is negative"
    if not rect.width or not rect.height:
        return None
    left, top, right, bottom = rect.x, rect.y, rect.x + rect.width, rect.y + rect.height
    rx, ry = _corner_radii(rect)
    # Corners that take up a whole side leave no straight part, not one of a rounding error.
    inner_left, inner_right = left + rx, right - rx if 2 * rx < rect.width else left + rx
    inner_top, inner_bottom = top + ry, bottom - ry if 2 * ry < rect.height else top + ry
    corner = (rx, ry, 0.0, 0.0, 1.0)
    strokes.move(inner_left, top)
    strokes.line(inner_right, top)
    strokes.arc(*corner, right, inner_top)
    strokes.line(right, inner_bottom)
    strokes.arc(*corner, inner_right, bottom)
    strokes.line(inner_left, bottom)
    strokes.arc(*corner, left, inner_bottom)
    strokes.line(left, inner_top)
    strokes.arc(*corner, inner_left, top)
    strokes.close(inner_left, top)
    return None


def _corner_radii(rect: RectShape) -> tuple[float, float]:
    """The used rx and ry: auto (and a negative one, which is no value) is the other one's."""
    rx = rect.rx if rect.rx is not None and rect.rx >= 0 else None
    ry = rect.ry if rect.ry is not None and rect.ry >= 0 else None
    rx, ry = (ry or 0.0) if rx is None else rx, (rx or 0.0) if ry is None else ry
    if not rx or not ry:
        return 0.0, 0.0
    return min(rx, rect.width / 2), min(ry, rect.height / 2)


def _draw_ellipse(ellipse: EllipseShape, strokes: Strokes) -> str | None:
    """SVG 2, 10.3 and 10.4: four quarters, from the rightmost point on."""
    cx, cy, rx, ry = ellipse.cx, ellipse.cy, ellipse.rx, ellipse.ry
    if rx < 0 or ry < 0:
        return "a radius is negative"
    if not rx or not ry:
        return None
    quarter = (rx, ry, 0.0, 0.0, 1.0)
    strokes.move(cx + rx, cy)
    strokes.arc(*quarter, cx, cy + ry)
    strokes.arc(*quarter, cx - rx, cy)
    strokes.arc(*quarter, cx, cy - ry)
    strokes.arc(*quarter, cx + rx, cy)
    strokes.close(cx + rx, cy)
    return None


__all__ = [
    "BasicShape", "EllipseShape", "LineShape", "PathShape", "PolyShape", "RectShape", "Shape",
    "draw_basic",
]  # fmt: skip
