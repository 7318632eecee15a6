"""The picture of a mat: papers, pieces and lines as they lie on it, and where its numbers stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import shapely
from msgspec import Struct

from matready.lint.figures.marks import Mark, Placed, placed
from matready.lint.figures.paths import number_text as n
from matready.lint.figures.paths import path_of, path_of_area
from matready.lint.figures.records import Card, Figure
from matready.lint.sheets.parts import CUT, DRAW, SCORE, PartLine
from matready.lint.sheets.turning import Motion
from matready.lint.sizes import MM_PER_INCH, in_inches

if TYPE_CHECKING:
    from matready.lint.sheets.laid import Mat, Placement

_WITHIN_MM = 0.02  # a mat is looked at whole: finer cannot be seen
_WIDE_PX = 560.0  # a mat on a screen or on A4
_NUMBER_PX = 6.0  # half of what a number of two digits takes up
_BESIDE_PX = 15.0  # from a small piece to its number
_NEAR_MM = 0.1  # so exactly is the widest place of a piece looked for
_MOST_TICKS = 14
_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)
_SAME_MM = 0.001


class Tick(Struct, frozen=True):
    """A mark of the ruler along an edge: its share of the edge, and the number beside it."""

    share: float
    text: str


class MatPicture(Struct, frozen=True):
    """A mat seen whole; `figure` has its size as page, and a card for each part in their order.

    `numbers` are the parts' numbers, from 1; `grid` is path data of the lines between the ticks of
    both rulers, which count `unit` ("in" or "mm") from the top-left corner.
    """

    figure: Figure
    numbers: tuple[Placed, ...]
    unit: str
    across: tuple[Tick, ...]
    down: tuple[Tick, ...]
    grid: str


def mat_picture(mat: Mat) -> MatPicture:
    """The picture of a mat, its parts numbered in the order in which they are cut."""
    window = 0.0, 0.0, mat.width_mm, mat.height_mm
    unit = "in" if in_inches((mat.width_mm, mat.height_mm)) else "mm"
    step_mm = _step(max(mat.width_mm, mat.height_mm), unit)
    across, down = (list(_ticks(side, step_mm, unit)) for side in (mat.width_mm, mat.height_mm))
    return MatPicture(
        figure=Figure(
            window_mm=window,
            page_mm=(mat.width_mm, mat.height_mm),
            cut=_drawn(mat, CUT),
            score=_drawn(mat, SCORE),
            seeming="",
            dashes="",
            draw=_drawn(mat, DRAW),
            cards=tuple(map(_card, mat.placements)),
            within_mm=_WITHIN_MM,
        ),
        numbers=tuple(placed(list(_marks(mat)), window, size_px=_BESIDE_PX)),
        unit=unit,
        across=tuple(across),
        down=tuple(down),
        grid="".join(
            [
                *(f"M{n(mat.width_mm * tick.share)} 0V{n(mat.height_mm)}" for tick in across),
                *(f"M0 {n(mat.height_mm * tick.share)}H{n(mat.width_mm)}" for tick in down),
            ]
        ),
    )


def _drawn(mat: Mat, role: str) -> str:
    """All lines of a role, where they lie on the mat."""
    lines = [
        motion.points(line.points)
        for place in mat.placements
        for motion in [Motion.of(place)]
        for line in _of_role(place, role)
    ]
    return path_of(lines, _WITHIN_MM)


def _of_role(place: Placement, role: str) -> Iterator[PartLine]:
    return (line for line in place.part.lines if line.role == role)


def _card(place: Placement) -> Card:
    areas = map(Motion.of(place).area, place.part.cards)
    path = "".join(
        path_of_area(area, _WITHIN_MM) for area in areas if isinstance(area, shapely.Polygon)
    )
    return Card(", ".join(place.part.pieces), path)


def _marks(mat: Mat) -> Iterator[Mark]:
    """A number for each part at its widest place; where it has no room for one, beside it."""
    for number, place in enumerate(mat.placements, 1):
        largest = max(place.part.cards, key=lambda card: card.area)
        radius = shapely.maximum_inscribed_circle(Motion.of(place).area(largest), _NEAR_MM)
        (x, y), _ = shapely.get_coordinates(radius).tolist()
        room_px = radius.length * _WIDE_PX / mat.width_mm
        yield Mark((round(x, 3), round(y, 3)), str(number), still=room_px >= _NUMBER_PX)


def _step(longest_mm: float, unit: str) -> float:
    """How far apart ticks are, in mm: a round number of the unit, and not too many of them."""
    each_mm = MM_PER_INCH if unit == "in" else 1.0
    steps = (step * each_mm for step in _STEPS)
    return next((step for step in steps if longest_mm / step <= _MOST_TICKS), longest_mm)


def _ticks(side_mm: float, step_mm: float, unit: str) -> Iterator[Tick]:
    each_mm = MM_PER_INCH if unit == "in" else 1.0
    for k in range(int(side_mm / step_mm + _SAME_MM) + 1):
        yield Tick(min(k * step_mm / side_mm, 1.0), f"{k * step_mm / each_mm:.6g}")
