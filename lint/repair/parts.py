"""The parts of a unit of card: which elements, or which sub-paths of them, belong together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.folds import samples_of
from matready.lint.cutting.grouping import is_layer, is_layer_name, owners_in
from matready.lint.cutting.roles import BY_PAGE, texts_of
from matready.lint.cutting.words import role_of
from matready.lint.drawing import Drawing
from matready.lint.reading.vocabulary import PUT_NO_LINE
from matready.lint.repair.refusal import Refused
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element


@dataclass(frozen=True, slots=True)
class Part:
    """One element to be grouped: `node` stands for it, `lines` are those of the unit in it.

    `subpaths` is None where the whole element goes along, else the sub-paths that do.
    """

    node: int
    element: _Element
    lines: tuple[int, ...]
    subpaths: tuple[int, ...] | None = None


def _subtree_ends(drawing: Drawing) -> list[int]:
    """For each node the number after its last descendant."""
    ends = np.arange(1, len(drawing.nodes) + 1)
    for node in range(len(drawing.nodes) - 1, 0, -1):
        parent = drawing.nodes[node].parent
        ends[parent] = max(ends[parent], ends[node])
    return [int(end) for end in ends]


class Belongings:
    """Which lines of a drawing belong to which unit, and what of it each element holds.

    `ends` has for each node the number after its last descendant.
    """

    def __init__(self, cutout: Cutout) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self.ends = _subtree_ends(cutout.drawing)
        self.lines: dict[int, set[int]] = defaultdict(set)
        outlines = {line for piece in cutout.pieces for line in piece.own}
        for piece in cutout.pieces:
            holes = {line for hole in piece.holes for line in hole.lines} - outlines
            folds = {line for fold in piece.folds for line in cutout.folds[fold].lines}
            self.lines[piece.unit] |= holes | folds | set(piece.own)
        self._units: dict[int, set[int]] = defaultdict(set)
        for unit, lines in self.lines.items():
            for line in lines:
                self._units[line].add(unit)
        # An outline that is still open will be a piece of its own.
        for number, opening in enumerate(cutout.openings, len(cutout.pieces)):
            for line in opening.lines:
                self._units[line].add(number)

    def below(self, node: int) -> range:
        """The numbers of the lines that a node and its descendants draw."""
        first, last = np.searchsorted(self._drawing.line_node, [node, self.ends[node]]).tolist()
        return range(first, last)

    def parts(self, unit: int, inside: bool, as_groups: bool) -> list[Part]:
        """Outline, holes and folds of all pieces of a unit, in drawing order; raises Refused.

        With `inside`, slits and drawn lines that lie in its card and nowhere else go along. With
        `as_groups`, groups that hold nothing else are parts, in place of what they hold.
        """
        mine = sorted(self.lines[unit])
        for line in mine:
            if len(self._units[line]) > 1:
                raise Refused(
                    f"the line on line {self._line_of(line)} of the file runs through several "
                    "pieces; end it at the edge of each"
                )
        if inside:
            mine = sorted({*mine, *self._inside[unit]})
        chains = {line: self.uses(int(self._drawing.line_node[line])) for line in mine}
        depth = _shared(chains.values())
        by_node: dict[int, list[int]] = defaultdict(list)
        for line in mine:
            uses = chains[line]
            own = int(self._drawing.line_node[line])
            by_node[uses[depth] if len(uses) > depth else own].append(line)
        parts = [self._part(node, tuple(by_node[node]), unit) for node in sorted(by_node)]
        return self._in_their_groups(parts, set(mine)) if as_groups else parts

    def _in_their_groups(self, parts: list[Part], mine: set[int]) -> list[Part]:
        """Parts in a group that holds nothing else are that group, but not one for them all."""
        groups: dict[int, list[Part]] = defaultdict(list)
        for part in parts:
            top = part.node
            above = self._drawing.nodes[top].parent
            while part.subpaths is None and self._is_all_of(above, mine):
                top, above = above, self._drawing.nodes[above].parent
            groups[top].append(part)
        return [
            run[0]
            if run[0].node == node
            else Part(node, self._drawing.nodes[node].element, sum((p.lines for p in run), ()))
            for node, run in sorted(groups.items())
        ]

    def _is_all_of(self, group: int, mine: set[int]) -> bool:
        """Whether a group holds some of the lines and nothing else, and is no layer."""
        if group <= 0 or self._drawing.nodes[group].kind != "g":
            return False
        below = set(self.below(group))
        texts = texts_of(self._drawing, group)
        if len(self.lines) > 1 and any(is_layer_name(t) or role_of(t, True) for t in texts):
            return False  # a layer of the whole sheet, though only one piece has lines on it
        element = self._drawing.nodes[group].element
        names = {local_name(child) for child in element.iter("*")}
        return below < mine and names.isdisjoint(PUT_NO_LINE) and not is_layer(element)

    def _part(self, node: int, mine: tuple[int, ...], unit: int) -> Part:
        element = self._drawing.nodes[node].element
        foreign = any(self._units.get(line, {unit}) != {unit} for line in self.below(node))
        if not foreign:
            return Part(node, element, mine)
        if self._drawing.nodes[node].kind == "use":
            raise Refused(
                f"the <use> on line {self._line_of(mine[0])} of the file draws several pieces at "
                "once; put each piece into a symbol of its own"
            )
        subpaths = self._drawing.geometry.subpath[list(mine)].tolist()
        return Part(node, element, mine, tuple(subpaths))

    @cached_property
    def _inside(self) -> dict[int, list[int]]:
        """Lines of no unit, by the unit in whose card all of them lies."""
        cutout = self._cutout
        found: dict[int, list[int]] = defaultdict(list)
        free = np.array([
            line
            for line in np.flatnonzero(cutout.roles.clue != BY_PAGE).tolist()
            if line not in self._units
        ], np.int64)  # fmt: skip
        if not len(free) or not cutout.pieces:
            return found
        samples = samples_of(self._drawing, free)
        cards = [piece.card.buffer(-cutout.distances.same_place_mm) for piece in cutout.pieces]
        tree = shapely.STRtree(cards)
        at, piece = tree.query(shapely.points(samples.reshape(-1, 2)), "intersects")
        pairs, count = np.unique(at // samples.shape[1] * len(cards) + piece, return_counts=True)
        for pair in pairs[count == samples.shape[1]].tolist():
            line, of = divmod(pair, len(cards))
            found[cutout.pieces[of].unit].append(int(free[line]))
        return found

    def _line_of(self, line: int) -> int:
        drawing = self._drawing
        return drawing.source.span(drawing.shown(int(drawing.line_node[line]))).line

    def uses(self, node: int) -> list[int]:
        """The `use` nodes above a node, or itself, the outermost first."""
        above = self._drawing.ancestors(node)
        return [n for n in reversed(above) if self._drawing.nodes[n].kind == "use"]

    @cached_property
    def owners(self) -> dict[int, set[int]]:
        """For each node the units whose outlines lie at or below it (see grouping)."""
        return owners_in(self._cutout)


def _shared(chains: Iterable[list[int]]) -> int:
    """How many items all lists begin with in common."""
    depth = 0
    for level in zip(*chains, strict=False):
        if len(set(level)) > 1:
            break
        depth += 1
    return depth
