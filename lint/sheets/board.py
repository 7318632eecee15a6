"""A sheet of paper as one long row of bits, on which free places are found by shifting it."""

from __future__ import annotations

from matready.lint.sheets.raster import ON_EDGE, Block, Mask

# A shape that fits to the last hair must not be turned away by the rounding of a sum. In cells, and
# so small that the cells of such a shape are on the board, coarse ones too: twice a hair for the
# sums, and as much for the board, is no more than half of what a shape's last cell forgives.
_HAIR = ON_EDGE / 4

# With so few corners left, trying each is quicker than to go on for all at once (measured).
_FEW = 24


class Ground:
    """What all boards of one size have in common; cell (x, y) is bit y * width + x.

    The last two columns are never free: who looks beside a row sees them, at either end.
    """

    def __init__(self, across: float, down: float) -> None:
        """A ground of `across` by `down` cells, where the last ones may be parts of a cell."""
        self.reach = (across, down)
        columns, self.height = (int(-(-(size - _HAIR) // 1)) for size in self.reach)
        self.width = columns + 2
        self.room = columns * self.height
        self.empty = _rows((1 << columns) - 1, self.height, self.width)
        self.row = (1 << self.width) - 1
        self.column = _rows(1, self.height, self.width)
        self._corners: dict[tuple[int, int], int] = {}
        self._cells: dict[Mask, int] = {}
        self._rims: dict[Mask, tuple[int, int]] = {}

    def corners(self, mask: Mask) -> int:
        """Corners at which the mask is on the ground, as bits."""
        columns, rows = (
            int((size - reach + _HAIR) // 1) + 1
            for size, reach in zip(self.reach, mask.reach, strict=True)
        )
        if columns < 1 or rows < 1:
            return 0
        if (columns, rows) not in self._corners:
            self._corners[columns, rows] = _rows((1 << columns) - 1, rows, self.width)
        return self._corners[columns, rows]

    def cells(self, mask: Mask) -> int:
        """The mask's cells, with its corner at bit 0."""
        if mask not in self._cells:
            bits = 0
            for block in mask.blocks:
                run = _rows((1 << block.length) - 1, block.rows, self.width)
                bits |= run << (block.y * self.width + block.x)
            self._cells[mask] = bits
        return self._cells[mask]

    def rim(self, mask: Mask) -> tuple[int, int]:
        """The cells beside the mask's, with its corner in the second row and column; how many."""
        if mask not in self._rims:
            cells = self.cells(mask) << self.width + 1
            beside = cells << 1 | cells >> 1 | cells << self.width | cells >> self.width
            beside &= ~cells
            self._rims[mask] = beside, beside.bit_count()
        return self._rims[mask]


class Board:
    """The cells of a sheet that are free.

    Places where a mask can lie are found for all cells at once: a bit of the answer is the corner
    of the mask. Whole numbers of Python are as long as they have to be, and shifting one is quick.
    `room` counts the free cells, `work` how often all of them were looked at.
    """

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.room = ground.room
        self.work = 0
        self._free = ground.empty
        self._wide: dict[tuple[int, int], int] = {}

    def corners(self, mask: Mask) -> int:
        """All corners at which the mask takes free cells only, as bits; 0 for none."""
        corners = self.ground.corners(mask)
        if not corners or mask.count > self.room:
            return 0
        for done, block in enumerate(mask.blocks, start=1):
            self.work += 1
            corners &= self._under(block)
            if not corners:
                return 0
            if done % 4 == 0 and corners.bit_count() < _FEW:
                return self._tried(mask, corners)
        return corners

    def lowest(self, corners: int) -> int:
        """Of some corners the one in the lowest row, there the leftmost."""
        return (corners & -corners).bit_length() - 1

    def leftmost(self, corners: int) -> int:
        """Of some corners the one in the leftmost column, there the lowest."""
        self.work += 2
        columns = corners
        rows = 1 << (self.ground.height - 1).bit_length()
        while rows := rows >> 1:
            columns |= columns >> rows * self.ground.width
        return self.lowest(corners & self.ground.column << self.lowest(columns & self.ground.row))

    def contact(self, mask: Mask, corner: int) -> float:
        """Which share of the cells beside the mask, laid at a corner, is not free: 0 to 1."""
        rim, count = self.ground.rim(mask)
        self.work += 1
        start = corner - self.ground.width - 1
        free = self._free >> start if start >= 0 else self._free << -start
        return 1 - (free & rim).bit_count() / count

    def take(self, mask: Mask, corner: int) -> None:
        """Lay the mask with its corner at one of `corners`."""
        self._free ^= self.ground.cells(mask) << corner
        self.room -= mask.count
        self._wide = {}

    def _tried(self, mask: Mask, corners: int) -> int:
        """Those corners at which every cell of the mask is free, found one by one."""
        cells = self.ground.cells(mask)
        good = 0
        while corners:
            corner = self.lowest(corners)
            corners &= corners - 1
            if (self._free >> corner) & cells == cells:
                good |= 1 << corner
        return good

    def _under(self, block: Block) -> int:
        """Corners at which all cells of the block are free."""
        across, down = block.length.bit_length() - 1, block.rows.bit_length() - 1
        free = self._all_free(across, down)
        if rest := block.length - (1 << across):
            free &= free >> rest
        if rest := block.rows - (1 << down):
            free &= free >> rest * self.ground.width
        return free >> (block.y * self.ground.width + block.x)

    def _all_free(self, across: int, down: int) -> int:
        """Cells from which 2**across cells to the right, in 2**down rows, are all free."""
        if not across and not down:
            return self._free
        free = self._wide.get((across, down))
        if free is None:
            if down:
                free = self._all_free(across, down - 1)
                free &= free >> (1 << down - 1) * self.ground.width
            else:
                free = self._all_free(across - 1, 0)
                free &= free >> (1 << across - 1)
            self._wide[across, down] = free
        return free


def _rows(row: int, count: int, width: int) -> int:
    """The same row so many times."""
    bits, done = row, 1
    while done < count:
        step = min(done, count - done)
        bits |= bits << step * width
        done += step
    return bits
