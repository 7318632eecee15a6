"""The order of cutting: what of a piece is drawn, and so cut, only after it has come free."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import sqrt

import numpy as np
import shapely

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.doubtful import is_guide
from matready.lint.cutting.pieces import Piece
from matready.lint.drawing import Style

Lots = tuple[tuple[int, ...], ...]
Moves = list[tuple[int, int]]

_GROUPS = frozenset(("g", "a", "svg"))
_PIXELS = 480  # no picture of a whole page has fewer across: strokes that share one seem to touch
_NO_PAGE_MM = 304.8


@dataclass(frozen=True, slots=True)
class Late:
    """A piece with lines of `holes` or `folds` that are drawn after the `last` of its outline.

    `last` is the node that draws the last line around the piece: then it is free.
    """

    piece: Piece
    last: int
    holes: Lots
    folds: Lots

    @property
    def lines(self) -> list[int]:
        """All lines that come late."""
        return [line for lines in (*self.holes, *self.folds) for line in lines]


class Order:
    """Looks at the order in which the lines of one cutout are drawn."""

    def __init__(self, cutout: Cutout) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._node_of: list[int] = cutout.drawing.line_node.tolist()
        self._known: dict[tuple[int, int], bool] = {}

    def late(self) -> list[Late]:
        """Pieces whose outline is drawn before their own holes or folds, by other elements."""
        found, copies_of = [], self._cutout.copies()
        for piece, last, holes, folds in self._pieces:
            # Of an outline that is drawn twice one copy has to go, and it may be the first.
            again = [copy for line in piece.lines for copy in copies_of.get(line, ())]
            free = max([last, *(self._node_of[copy] for copy in again)])
            late = Late(piece, last, self._after(free, holes), self._after(free, folds))
            if late.holes or late.folds:
                found.append(late)
        return found

    def moves(self, late: Late) -> Moves | None:
        """Which node to put behind which, so that a piece's outline is drawn after what is late.

        Elements only move within their group, and the outline moves as one. None where that cannot
        be: a part is shown by a `use`, the outline stands in one group with what is late, or the
        group to be moved holds what must stay before another piece; or where it would be seen.
        """
        own = self._cutout.nodes(late.piece.own)
        wanted = set(self._cutout.nodes(late.lines))
        nodes, ancestors = self._drawing.nodes, self._drawing.ancestors
        shown_by_use = any(nodes[node].instance >= 0 for node in (*own, *wanted))
        if late.last not in own or shown_by_use or self._would_show(late):
            return None
        chains, above = [ancestors(node) for node in own], {n: ancestors(n) for n in wanted}
        moved = next(node for node in chains[0] if all(node in chain for chain in chains))
        moves: Moves = []
        if any(moved in chain for chain in above.values()):
            return None
        while wanted and (parent := nodes[moved].parent) >= 0:
            here = {node for node in wanted if parent in above[node]}
            if here:
                last = above[max(here)]
                moves.append((moved, last[last.index(parent) - 1]))
                if nodes[parent].kind not in _GROUPS or self._disturbs(*moves[-1]):
                    return None
            wanted, moved = wanted - here, parent
        return moves

    @cached_property
    def _pieces(self) -> list[tuple[Piece, int, Lots, Lots]]:
        """Each piece, the node that draws its last line, and the lines of its holes and folds."""
        found = []
        for piece in self._cutout.pieces:
            around = set(piece.lines)
            holes = tuple(tuple(set(hole.lines) - around) for hole in piece.holes)
            own = [fold for fold in piece.folds if not is_guide(self._cutout, fold)]
            folds = tuple(self._cutout.folds[fold].lines for fold in own)
            found.append((piece, max(self._node_of[line] for line in around), holes, folds))
        return found

    def _after(self, last: int, lots: Lots) -> Lots:
        """Of each lot the lines that a node after the last draws; lots without any are left out."""
        after = (tuple(line for line in lot if self._node_of[line] > last) for lot in lots)
        return tuple(lot for lot in after if lot)

    def _disturbs(self, moved: int, behind: int) -> bool:
        """Whether a node put behind another takes along what lies in a piece drawn between."""
        known = self._known.get((moved, behind))
        if known is None:
            end, until = self._end(moved), self._end(behind)
            known = any(
                end <= last < until
                and any(moved <= self._node_of[n] < end for lot in (*holes, *folds) for n in lot)
                for _, last, holes, folds in self._pieces
            )
            self._known[moved, behind] = known
        return known

    def _end(self, node: int) -> int:
        """The node after a node's last descendant."""
        nodes = self._drawing.nodes
        after = range(node + 1, len(nodes))
        return next((n for n in after if nodes[n].parent < node), len(nodes))

    def _would_show(self, late: Late) -> bool:
        """Whether it would surely be seen if the outline were painted after what comes late.

        Fills cover what lies under them; where strokes of two colours touch, one is on top.
        """
        own, lines = list(late.piece.own), late.lines
        if any(self._style(line).fill != "none" for line in own):
            return True
        colours = _colours([self._style(line) for line in own])
        others = [n for n in lines if _colours([self._style(n)]) != colours]
        if not others:
            return False
        pixel_mm = max(self._drawing.page.size_mm or (_NO_PAGE_MM,)) / _PIXELS
        reach = max(map(self._half_mm, own)) + pixel_mm + np.array([*map(self._half_mm, others)])
        edge = shapely.multilinestrings([self._drawn(line) for line in own])
        apart = shapely.distance(edge, np.array([self._drawn(line) for line in others]))
        return bool((apart <= reach).any())

    def _style(self, line: int) -> Style:
        return self._drawing.nodes[self._node_of[line]].style

    def _drawn(self, line: int) -> shapely.LineString:
        geometry = self._drawing.geometry
        begin, end = geometry.offsets[line : line + 2].tolist()
        return shapely.LineString(geometry.points[begin:end])

    def _half_mm(self, line: int) -> float:
        """Half the width of a line's stroke on the page."""
        a, b, c, d, _, _ = self._drawing.nodes[self._node_of[line]].matrix
        return self._style(line).stroke_width / 2 * sqrt(abs(a * d - b * c))


def _colours(styles: Sequence[Style]) -> set[str]:
    return {paint for style in styles for paint in (style.fill, style.stroke)} - {"none"}
