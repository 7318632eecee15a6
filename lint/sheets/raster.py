"""Outlines to cells: which squares of a grid a shape takes, never too few of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import shapely

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Shape: TypeAlias = shapely.Polygon | shapely.MultiPolygon

ON_EDGE = 4e-7
"""A line that is this near to the edge between two cells lies on it, and takes neither by itself.

In cells; two shapes that meet there still keep to the 1e-6 mm to which a layout is proven.
"""


@dataclass(frozen=True, eq=False, slots=True)
class Block:
    """Rows that take the same cells: `rows` of them from row `y`, `length` cells from `x`."""

    y: int
    x: int
    rows: int
    length: int


@dataclass(frozen=True, eq=False, slots=True)
class Mask:
    """The cells that a shape takes, in a grid whose corner is the lowest x and y of the shape.

    `blocks` are the cells as rectangles that do not overlap, the largest first. `reach` is how far
    the shape itself goes, in cells: the last column and the last row may be taken only in part.
    """

    cells: Bools
    reach: tuple[float, float]
    blocks: tuple[Block, ...]
    count: int

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.cells.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.cells.shape[0])


def mask_of(shape: Shape, cell_mm: float) -> Mask:
    """Every cell that the shape takes.

    Args:
        shape: valid, not empty, in mm, anywhere.
        cell_mm: side of a cell.
    """
    x0, y0, x1, y1 = shape.bounds
    return _mask(cells_of(shape, cell_mm), ((x1 - x0) / cell_mm, (y1 - y0) / cell_mm))


def around(room: Shape, cell_mm: float) -> Mask:
    """Every cell of the room's own box that is not wholly in the room."""
    x0, y0, x1, y1 = room.bounds
    # A row and a column more, so that the grid begins at a whole cell from the room's corner.
    box = shapely.box(x0 - cell_mm, y0 - cell_mm, x1, y1)
    cells = cells_of(shapely.difference(box, room), cell_mm)[1:, 1:]
    return _mask(cells, ((x1 - x0) / cell_mm, (y1 - y0) / cell_mm))


def coarser(mask: Mask) -> Mask:
    """The same in cells twice as wide: each is taken where one of its four is."""
    rows, columns = mask.height + mask.height % 2, mask.width + mask.width % 2
    even = np.zeros((rows, columns), bool)
    even[: mask.height, : mask.width] = mask.cells
    cells = np.asarray(even.reshape(rows // 2, 2, columns // 2, 2).any(axis=(1, 3)))
    return _mask(cells, (mask.reach[0] / 2, mask.reach[1] / 2))


def _mask(cells: Bools, reach: tuple[float, float]) -> Mask:
    blocks = sorted(_blocks(cells), key=lambda block: -block.rows * block.length)
    return Mask(cells, reach, tuple(blocks), int(cells.sum()))


def cells_of(shape: Shape, cell_mm: float) -> Bools:
    """The cells, rows by columns, with which a shape shares more than an edge.

    The grid begins at the lowest x and y of the shape.
    """
    x0, y0, x1, y1 = shape.bounds
    width, height = (max(int(np.ceil(size / cell_mm - ON_EDGE)), 1) for size in (x1 - x0, y1 - y0))
    a, b = _edges(shape)
    a, b = (a - (x0, y0)) / cell_mm, (b - (x0, y0)) / cell_mm
    upward = (a[:, 1] <= b[:, 1])[:, None]
    low, high = np.where(upward, a, b), np.where(upward, b, a)
    return _crossed(low, high, height, width) | _inside(low, high, height, width)


def _edges(shape: Shape) -> tuple[Floats, Floats]:
    """Both ends of every straight edge."""
    rings = shapely.get_rings(shapely.get_parts(shape))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    joined = ring[1:] == ring[:-1]
    return points[:-1][joined], points[1:][joined]


def _crossed(low: Floats, high: Floats, height: int, width: int) -> Bools:
    """Cells that edges run through: in each row that an edge meets, from column to column."""
    edge, row = _rows_of(np.floor(low[:, 1] + ON_EDGE), np.ceil(high[:, 1] - ON_EDGE), height)
    start, rise = low[edge], high[edge] - low[edge]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(rise[:, 1] > 0, rise[:, 0] / rise[:, 1], 0.0)
    level = rise[:, 1] <= 0
    enter = np.clip(row, start[:, 1], high[edge, 1]) - start[:, 1]
    leave = np.clip(row + 1, start[:, 1], high[edge, 1]) - start[:, 1]
    one = start[:, 0] + slope * enter
    two = np.where(level, high[edge, 0], start[:, 0] + slope * leave)
    first = np.clip(np.floor(np.minimum(one, two) + ON_EDGE), 0, width).astype(np.int64)
    after = np.clip(np.ceil(np.maximum(one, two) - ON_EDGE), 0, width).astype(np.int64)
    some = first < after
    steps = np.zeros((height, width + 1), np.int64)
    np.add.at(steps, (row[some], first[some]), 1)
    np.add.at(steps, (row[some], after[some]), -1)
    return np.asarray(steps.cumsum(axis=1)[:, :width] > 0)


def _inside(low: Floats, high: Floats, height: int, width: int) -> Bools:
    """Cells whose middle lies inside, by the even-odd rule along the middle of each row."""
    edge, row = _rows_of(np.ceil(low[:, 1] - 0.5), np.ceil(high[:, 1] - 0.5), height)
    rise = high[edge] - low[edge]
    x = low[edge, 0] + rise[:, 0] * (row + 0.5 - low[edge, 1]) / rise[:, 1]
    column = np.clip(np.ceil(x - 0.5), 0, width).astype(np.int64)
    flips = np.zeros((height, width + 1), np.int64)
    np.add.at(flips, (row, column), 1)
    return np.asarray(flips.cumsum(axis=1)[:, :width] % 2 == 1)


def _rows_of(
    first: Floats, after: Floats, height: int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Every edge with every row from its first to that before `after`: indices and rows."""
    begin = np.clip(first, 0, height).astype(np.int64)
    count = np.maximum(np.clip(after, 0, height).astype(np.int64) - begin, 0)
    edge = np.repeat(np.arange(len(begin)), count)
    row = np.arange(len(edge)) - np.repeat(count.cumsum() - count, count) + begin[edge]
    return edge, row


def _blocks(cells: Bools) -> Iterator[Block]:
    """The cells as rectangles: runs of a row, each as deep as the rows below have the same run."""
    height, width = cells.shape
    padded = np.zeros((height + 1, width + 2), np.int8)
    padded[:height, 1:-1] = cells
    change = np.diff(padded, axis=1)
    rows, begins = np.nonzero(change == 1)
    ends = np.nonzero(change == -1)[1]
    runs: list[set[tuple[int, int]]] = [set() for _ in range(height + 1)]
    for y, begin, end in zip(rows.tolist(), begins.tolist(), ends.tolist(), strict=True):
        runs[y].add((begin, end))
    since: dict[tuple[int, int], int] = {}
    for y, here in enumerate(runs):
        for run in [run for run in since if run not in here]:
            top = since.pop(run)
            yield Block(top, run[0], y - top, run[1] - run[0])
        for run in sorted(here):
            since.setdefault(run, y)
