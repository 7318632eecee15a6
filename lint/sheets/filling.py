"""A sheet that is being filled: what lies on it where, and where a shape would lie best."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from matready.lint.sheets.board import Board, Ground
from matready.lint.sheets.forms import CELL_MM, Form, Turned
from matready.lint.sheets.raster import Mask

# How far up a place may be for the sake of contact with what is there: over the whole height of
# the sheet, so much of the shape's rim. Tried from 0 to 1 on thirty generated projects: half packs
# 1.5 % tighter than lowest-leftmost alone.
_UPWARD = 0.5

_CELLS_A_STEP = 22_500  # a mat of 12 x 12 in, in coarse cells, looked at once


@dataclass(frozen=True, eq=False, slots=True)
class Kind:
    """Sheets, or holes, of one size at one fineness of cells; of sheets given `number` is which."""

    number: int
    area_mm2: float
    ground: Ground
    cell_mm: float

    def mask(self, turned: Turned) -> Mask:
        """The cells of a turned shape at this fineness."""
        return turned.fine if self.cell_mm == CELL_MM else turned.coarse


class Spot(NamedTuple):
    """A place on a sheet; the lowest in order is the best."""

    rank: tuple[float, int, int]
    turned: Turned
    corner: int


class Put(NamedTuple):
    """A shape, by number, where it lies."""

    shape: int
    turned: Turned
    corner: int


class Filling:
    """One sheet with the shapes on it."""

    def __init__(self, kind: Kind) -> None:
        self.kind = kind
        self.board = Board(kind.ground)
        self.puts: list[Put] = []
        self._full_for: set[Turned] = set()

    @property
    def taken(self) -> int:
        """Cells that are taken."""
        return self.kind.ground.room - self.board.room

    @property
    def steps(self) -> int:
        """What it took to fill it, the same on every machine."""
        return self.board.work * -(-self.kind.ground.room // _CELLS_A_STEP)

    def shapes(self) -> list[int]:
        """Numbers of the shapes on it, in the order they were laid."""
        return [put.shape for put in self.puts]

    def add(self, shape: int, form: Form) -> bool:
        """Lay a shape where it lies best; False where it has no room."""
        spots = (self._spot(turned) for turned in form.turns if turned not in self._full_for)
        best = min((spot for spot in spots if spot), key=lambda spot: spot.rank, default=None)
        if best is None:
            return False
        self.lay(Put(shape, best.turned, best.corner))
        return True

    def lay(self, put: Put) -> None:
        """Lay a shape at a corner that is known to be free."""
        self.board.take(self.kind.mask(put.turned), put.corner)
        self.puts.append(put)

    def _spot(self, turned: Turned) -> Spot | None:
        """The lowest or the leftmost place in one turn, whichever touches more of what is there."""
        board, mask = self.board, self.kind.mask(turned)
        corners = board.corners(mask)
        if not corners:
            self._full_for.add(turned)  # what is laid later takes room and gives none
            return None
        ground = board.ground
        spots = []
        for corner in {board.lowest(corners), board.leftmost(corners)}:
            y, x = divmod(corner, ground.width)
            far = y + mask.height
            loss = _UPWARD * far / ground.height - board.contact(mask, corner)
            spots.append(Spot((loss, far, x + mask.width), turned, corner))
        return min(spots, key=lambda spot: spot.rank)


def fill(order: Iterable[int], forms: Sequence[Form], sheets: Sequence[Filling]) -> list[int]:
    """Lay shapes one by one, each on the first sheet with room; returns those that had none."""
    return [n for n in order if not any(sheet.add(n, forms[n]) for sheet in sheets)]


def fill_or_give_up(
    order: Iterable[int], forms: Sequence[Form], sheets: Sequence[Filling], most_left: float
) -> list[int] | None:
    """The same, but None as soon as what had no room is more area than `most_left`."""
    left = []
    for n in order:
        if fill([n], forms, sheets):
            left.append(n)
            most_left -= forms[n].area
            if most_left < 0:
                return None
    return left


def refined(filling: Filling, kind: Kind) -> Filling:
    """The same layout in fine cells: each coarse one is four of them, so all still fit."""
    fine = Filling(kind)
    for put in filling.puts:
        y, x = divmod(put.corner, filling.kind.ground.width)
        fine.lay(put._replace(corner=2 * (y * kind.ground.width + x)))
    return fine
