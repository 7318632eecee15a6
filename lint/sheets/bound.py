"""How many sheets any layout needs, whatever the search: so that one sees how good a layout is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from matready.lint.sheets.growing import turned
from matready.lint.sheets.papers import Sheet
from matready.lint.sheets.raster import Shape
from matready.lint.sheets.sharing import Floats, most_shared

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
    square = turns_deg is not None and all(turn % 90 == 0 for turn in turns_deg)
    by_area = _by_area(shapes, rooms, gap_mm, square)
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
    shapes: Sequence[Shape],
    rooms: Sequence[tuple[float, float, int | None]],
    gap_mm: float,
    square: bool,
) -> int:
    """Sheets, the largest first, until the grown shapes have room by their area alone.

    Shapes that keep a gap are still apart when each is grown by half of it, and none of them
    reaches farther than that beyond the margin.
    """
    grown = [_grown(shape, gap_mm) for shape in shapes]
    need = least_area([part for shape in grown for part in shapely.get_parts(shape)], square)
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


def least_area(parts: Sequence[shapely.Polygon], square: bool) -> float:
    """Area of the outlines, less the most of it that can lie in holes of others.

    Outlines that lie side by side in a hole do not overlap and are together no larger than it.
    `square` says that shapes are turned by quarters only.
    """
    outlines = shapely.polygons([part.exterior for part in parts])
    total = float(shapely.area(outlines).sum())
    rings = [ring for part in parts for ring in part.interiors]
    if not rings:
        return total
    holes = shapely.polygons(rings)
    fits = np.all(
        [
            size[:, None] <= room[None] + _CLEAR_MM
            for size, room in zip(_sizes(outlines, square), _sizes(holes, square), strict=True)
        ],
        axis=0,
    )
    return total - most_shared(shapely.area(outlines), shapely.area(holes), fits)


def _sizes(shapes: npt.NDArray[np.object_], square: bool) -> list[Floats]:
    """Measures none of which is larger for a shape than for one in which it lies, when turned.

    Those of the box hold for quarter turns, which are between any two turns that are `square`.
    """
    sizes = [shapely.area(shapes), shapely.minimum_bounding_radius(shapes)]
    if square:
        x0, y0, x1, y1 = shapely.bounds(shapes).T
        sizes += [np.minimum(x1 - x0, y1 - y0), np.maximum(x1 - x0, y1 - y0)]
    return sizes


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
