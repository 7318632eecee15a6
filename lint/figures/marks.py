"""Numbered marks at places of a picture: where each stands so that none hides another."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import NamedTuple

from matready.lint.finding import Box

SIZE_PX = 24.0  # a mark's width: WCAG 2.2, 2.5.8 asks for as much of what is pressed
_NARROW_PX = 380.0  # the picture on a phone: marks keep apart there, so they do everywhere
_DIAGONAL = 2**-0.5
_WAYS = (
    (_DIAGONAL, -_DIAGONAL), (-_DIAGONAL, -_DIAGONAL), (_DIAGONAL, _DIAGONAL),
    (-_DIAGONAL, _DIAGONAL), (0.0, -1.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0),
)  # fmt: skip
_REACHES = (1.0, 1.9, 2.8)


class Mark(NamedTuple):
    """A mark to be made: a place in mm, what it says (a number), and a severity for its shape.

    One that is `still` stands on its place, and the others keep away from it.
    """

    at_mm: tuple[float, float]
    text: str
    severity: str = "fault"
    still: bool = False


class Placed(NamedTuple):
    """A mark that stands `dx_px`, `dy_px` beside its place, which is at x, y of the window.

    `x_share`, `y_share`: 0 at the window's left and top edge, 1 at the others.
    """

    mark: Mark
    x_share: float
    y_share: float
    dx_px: float
    dy_px: float


def placed(
    marks: Sequence[Mark],
    window_mm: Box,
    width_px: float = _NARROW_PX,
    size_px: float = SIZE_PX,
) -> list[Placed]:
    """Where each mark stands when the window is drawn this wide; a place outside is at the edge.

    `size_px` is a mark's width, and how far it stands off where nothing is in its way.
    """
    x0, y0, x1, y1 = window_mm
    px_per_mm = width_px / (x1 - x0)
    height_px = (y1 - y0) * px_per_mm
    spots = [
        (_within((x - x0) * px_per_mm, width_px), _within((y - y0) * px_per_mm, height_px))
        for x, y in (mark.at_mm for mark in marks)
    ]
    taken = [spot for mark, spot in zip(marks, spots, strict=True) if mark.still]
    found = []
    for mark, (x, y) in zip(marks, spots, strict=True):
        if mark.still:
            found.append(Placed(mark, x / width_px, y / height_px, 0.0, 0.0))
            continue
        dx, dy = _best(x, y, spots, taken, (width_px, height_px), size_px)
        taken.append((x + dx, y + dy))
        found.append(Placed(mark, x / width_px, y / height_px, round(dx, 1), round(dy, 1)))
    return found


def _within(value: float, size: float) -> float:
    return min(max(value, 0.0), size)


def _best(
    x: float,
    y: float,
    spots: Sequence[tuple[float, float]],
    taken: Sequence[tuple[float, float]],
    size: tuple[float, float],
    mark_px: float,
) -> tuple[float, float]:
    """The nearest way out that hides neither mark nor place and stays in the picture."""
    ways = [(mark_px * r * dx, mark_px * r * dy) for r in _REACHES for dx, dy in _WAYS]

    def harm(way: tuple[float, float]) -> float:
        here_x, here_y = x + way[0], y + way[1]
        half = mark_px / 2
        out = sum(
            max(half - here, here - (side - half), 0.0)
            for here, side in zip((here_x, here_y), size, strict=True)
        )
        hidden = sum(max(mark_px + 2 - hypot(here_x - a, here_y - b), 0.0) for a, b in taken) + sum(
            max(half + 4 - hypot(here_x - a, here_y - b), 0.0) for a, b in spots
        )
        return out * 2 + hidden * 3

    return min(ways, key=harm)
