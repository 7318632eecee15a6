"""Cells, bits and grown shapes: never too few, never too many, against shapely."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from matready.lint.sheets.board import Board, Ground
from matready.lint.sheets.growing import grow, turned
from matready.lint.sheets.raster import Mask, Shape, cells_of, coarser, mask_of

from tests.random_shapes import shapes

_HAIR_MM = 1e-6
CELLS = st.sampled_from([0.5, 1.0, 1.3])


def _boxes(shape: Shape, cell_mm: float, rows: int, columns: int) -> list[shapely.Polygon]:
    x0, y0, _, _ = shape.bounds
    return [
        shapely.box(
            x0 + x * cell_mm, y0 + y * cell_mm, x0 + (x + 1) * cell_mm, y0 + (y + 1) * cell_mm
        )
        for y in range(rows)
        for x in range(columns)
    ]


@settings(max_examples=60, deadline=None)
@given(shapes(20), CELLS)
def test_cells_are_those_that_the_shape_takes(shape: Shape, cell_mm: float) -> None:
    """Against shapely's own intersection of the shape with the square of each cell."""
    cells = cells_of(shape, cell_mm)
    boxes = _boxes(shape, cell_mm, *cells.shape)
    inside = [box.buffer(-_HAIR_MM, join_style="mitre") for box in boxes]
    must = shapely.intersects(shape, inside).reshape(cells.shape)
    may = shapely.intersects(shape, boxes).reshape(cells.shape)
    assert not (must & ~cells).any(), "a cell is missing"
    assert not (cells & ~may).any(), "a cell is taken that the shape does not touch"


def test_edges_on_the_grid_take_only_the_cells_inside() -> None:
    frame = shapely.box(0, 0, 6, 5).difference(shapely.box(2, 1, 4, 4))
    expected = np.ones((5, 6), bool)
    expected[1:4, 2:4] = False
    for shift in (0.0, 1e-12, 0.1 + 0.2):  # sums are rounded
        moved = shapely.affinity.translate(frame, shift, 7 * shift)
        assert (cells_of(moved, 1.0) == expected).all()


@settings(max_examples=40, deadline=None)
@given(shapes(30))
def test_blocks_are_the_cells_each_once(shape: Shape) -> None:
    mask = mask_of(shape, 1.0)
    laid = np.zeros(mask.cells.shape, int)
    for block in mask.blocks:
        laid[block.y : block.y + block.rows, block.x : block.x + block.length] += 1
    assert (laid == mask.cells).all()
    assert mask.count == laid.sum()
    coarse = coarser(mask)
    fine = np.kron(coarse.cells, np.ones((2, 2), bool))[: mask.height, : mask.width]
    assert not (mask.cells & ~fine).any()
    assert coarse.count <= mask.count


@settings(max_examples=60, deadline=None)
@given(shapes(20), st.floats(0.1, 4))
def test_a_grown_shape_holds_all_within_the_distance_and_straight_edges_no_more(
    shape: Shape, by_mm: float
) -> None:
    """Against shapely's buffer with arcs so fine that they are as good as round."""
    grown = grow(shape, by_mm)
    assert grown.is_valid
    assert shape.buffer(by_mm, quad_segs=64).difference(grown.buffer(1e-9)).area < 1e-6
    # Eight chords around a square corner; and GEOS makes hollows straight by up to a hundredth.
    farthest = 1.011 * by_mm / math.cos(math.pi / 32)
    round_ = shape.buffer(farthest / math.cos(math.pi / 256) + 1e-9, quad_segs=64)
    assert grown.difference(round_).area < 1e-6
    box = shapely.box(*shape.bounds)
    assert np.allclose(grow(box, by_mm).bounds, box.buffer(by_mm).bounds, atol=1e-12)


@given(shapes(20), st.sampled_from([0.0, 90.0, 180.0, 270.0, 15.0, 123.4, 359.0]))
def test_a_turn_is_that_of_the_general_library(shape: Shape, turn_deg: float) -> None:
    """Against shapely.affinity.rotate, and exactly for quarter turns of whole numbers."""
    other = shapely.affinity.rotate(shape, turn_deg, origin=(0, 0))
    ours = shapely.get_coordinates(turned(shape, turn_deg))
    assert np.allclose(ours, shapely.get_coordinates(other), atol=1e-9)
    box = turned(shapely.box(1, 2, 4, 7), 90.0)
    assert box.bounds == (-7.0, 1.0, -2.0, 4.0)


def _by_hand(taken: np.ndarray[tuple[int, int], np.dtype[np.bool_]], mask: Mask) -> set[int]:
    """Corners at which a mask lies free, looked at one by one."""
    rows, columns = taken.shape
    return {
        y * (columns + 2) + x
        for y in range(rows - mask.height + 1)
        for x in range(columns - mask.width + 1)
        if not (taken[y : y + mask.height, x : x + mask.width] & mask.cells).any()
    }


@settings(max_examples=40, deadline=None)
@given(st.lists(shapes(16), min_size=1, max_size=5), st.integers(8, 40), st.integers(8, 40))
def test_free_corners_are_those_found_one_by_one(
    some: list[Shape], columns: int, rows: int
) -> None:
    board = Board(Ground(columns, rows))
    taken = np.zeros((rows, columns), bool)
    for shape in some:
        mask = mask_of(shape, 1.0)
        corners = board.corners(mask)
        expected = _by_hand(taken, mask)
        assert {bit for bit in range(corners.bit_length()) if corners >> bit & 1} == expected
        if not expected:
            continue
        low, left = board.lowest(corners), board.leftmost(corners)
        assert low == min(expected)
        assert left == min(expected, key=lambda bit: (bit % (columns + 2), bit))
        y, x = divmod(low, columns + 2)
        padded = np.pad(taken, 1, constant_values=True)
        beside = _beside(mask)
        window = padded[y : y + mask.height + 2, x : x + mask.width + 2]
        assert math.isclose(board.contact(mask, low), window[beside].mean())
        board.take(mask, low)
        taken[y : y + mask.height, x : x + mask.width] |= mask.cells
        assert board.room == (~taken).sum()


def _beside(mask: Mask) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    cells = np.pad(mask.cells, 1)
    wide = cells.copy()
    wide[1:] |= cells[:-1]
    wide[:-1] |= cells[1:]
    wide[:, 1:] |= cells[:, :-1]
    wide[:, :-1] |= cells[:, 1:]
    return np.asarray(wide & ~cells)


@given(st.floats(1, 40), st.floats(1, 40), st.integers(0, 9), st.integers(0, 9), st.booleans())
def test_a_mask_may_reach_to_the_very_end_of_a_board(
    width: float, height: float, right: int, below: int, short: bool
) -> None:
    """A box lies in whole steps from the corner, as long as its far edge is on the board."""
    mask = mask_of(shapely.box(0, 0, width, height), 1.0)
    lack = 1e-3 if short else 0.0
    corners = Board(Ground(width + right - lack, height + below)).corners(mask)
    assert corners.bit_count() == (right + (not short)) * (below + 1)
