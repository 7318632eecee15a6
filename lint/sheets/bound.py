"""How many sheets any layout needs, whatever the search: so that one sees how good a layout is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import shapely

from matready.lint.sheets.growing import turned
from matready.lint.sheets.papers import Sheet
from matready.lint.sheets.raster import Shape

_HAIR = 1e-9  # a share of a sheet: sums of areas are rounded
_CLEAR_MM = 1e-6


class Bound(NamedTuple):
    """No layout has fewer sheets than `sheets`; `reason` completes "no fewer than 7 ...".

    Where the sheets at hand do not suffice, all of them.
    """

    sheets: int
    reason: str


def bound_of(
    shapes: Sequence[Shape],
    sheets: Sequence[Sheet],
    turns_deg: Sequence[float] | None,
    *,
    gap_mm: float,
    margin_mm: float,
) -> Bound:
    """The better of two bounds for shapes each of which fits on one of the sheets at least.

    Args:
        shapes: in mm, anywhere.
        sheets: sizes with how many there are of each.
        turns_deg: that are allowed; None for any.
        gap_mm: between any two shapes.
        margin_mm: from the edge of a sheet.
    """
    if not shapes:
        return Bound(0, "by area")
    inner = -2 * margin_mm
    rooms = [(s.width_mm + inner, s.height_mm + inner, s.count) for s in sheets]
    rooms = [room for room in rooms if room[0] > 0 and room[1] > 0]
    by_area = _by_area(shapes, rooms, gap_mm)
    by_middle = 0
    if turns_deg is not None:
        sizes = [room[:2] for room in rooms]
        by_middle = sum(_holds_the_middle(shape, sizes, turns_deg, gap_mm) for shape in shapes)
        if all(count is not None for _, _, count in rooms):
            by_middle = min(by_middle, sum(count or 0 for _, _, count in rooms))
    if by_middle > by_area:
        return Bound(by_middle, "since each of so many pieces covers the middle of any sheet")
    return Bound(by_area, "by area")


def _by_area(
    shapes: Sequence[Shape], rooms: Sequence[tuple[float, float, int | None]], gap_mm: float
) -> int:
    """Sheets, the largest first, until the grown shapes have room by their area alone.

    Shapes that keep a gap are still apart when each is grown by half of it, and none of them
    reaches farther than that beyond the margin.
    """
    grown = [_grown(shape, gap_mm) for shape in shapes]
    areas = [_outline(shape) for shape in grown]
    need: float = sum(shape.area + _useless(grown, areas, n) for n, shape in enumerate(grown))
    used = 0
    for width, height, count in sorted(rooms, key=lambda room: -room[0] * room[1]):
        area = (width + gap_mm) * (height + gap_mm)
        sheets = max(math.ceil(need / area - _HAIR), 0)
        if count is None or sheets <= count:
            return used + sheets
        used, need = used + count, need - area * count
    return used


def _grown(shape: Shape, gap_mm: float) -> Shape:
    """The shape and half the gap around it, or a little less, as chords run inside true arcs."""
    return shape.buffer(gap_mm / 2) if gap_mm > _CLEAR_MM else shape


def _useless(grown: Sequence[Shape], areas: Sequence[float], n: int) -> float:
    """Area of the holes of a grown shape that are smaller than every other one.

    Of a shape in several parts none, since one of its own may lie in a hole.
    """
    if isinstance(grown[n], shapely.MultiPolygon):
        return 0.0
    least = min((area for other, area in enumerate(areas) if other != n), default=math.inf)
    holes = (shapely.Polygon(ring).area for ring in grown[n].interiors)
    return float(sum(hole for hole in holes if hole < least))


def _outline(shape: Shape) -> float:
    """Least area that a shape needs to lie in, holes filled; of several parts, the smallest."""
    return float(min(shapely.Polygon(part.exterior).area for part in shapely.get_parts(shape)))


def _holds_the_middle(
    shape: Shape,
    rooms: Sequence[tuple[float, float]],
    turns_deg: Sequence[float],
    gap_mm: float,
) -> bool:
    """Whether the grown shape covers the middle of its sheet wherever it lies on whichever.

    Two such shapes cannot share a sheet. Within the shape's own box, w by h, the middle of a sheet
    W by H is between w - W / 2 and W / 2 from the left, and likewise from the top.
    """
    grown = _grown(shape, gap_mm)
    for turn in turns_deg:
        laid = turned(grown, turn)
        x0, y0, x1, y1 = laid.bounds
        for width, height in ((w + gap_mm, h + gap_mm) for w, h in rooms):
            # More than the middle, since two shapes may meet there edge to edge.
            left, right = x1 - width / 2 - _CLEAR_MM, x0 + width / 2 + _CLEAR_MM
            top, bottom = y1 - height / 2 - _CLEAR_MM, y0 + height / 2 + _CLEAR_MM
            fits = left < right and top < bottom
            if fits and not laid.covers(shapely.box(left, top, right, bottom)):
                return False
    return True
