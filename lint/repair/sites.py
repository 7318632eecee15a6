"""Places in the file where a group for one piece may stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from matready.lint.drawing import Drawing
from matready.lint.repair.parts import Part
from matready.lint.repair.refusal import Refused
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.source import Source

_TOLD_FIRST = frozenset(("title", "desc", "metadata"))


@dataclass(frozen=True, slots=True)
class Site:
    """One place: in an existing group, around elements that stay, or beside an element.

    Parts drawn before node `low` are put at the text's offset `before`, those drawn from node
    `high` on at `after`; `stays` are the parts' nodes that stay where they are. `container` is the
    node whose style and transform hold there. `opens`: a new group is made.
    """

    container: int
    before: int
    after: int
    low: int
    high: int
    stays: frozenset[int]
    opens: bool
    beside: int = -1  # where the element that it stands beside begins, -1 for none


def chain_of(drawing: Drawing, node: int) -> list[int]:
    """The nodes above a node, nearest first, as far as the file's own tree and its `use` go."""
    chain: list[int] = []
    at = drawing.nodes[node].parent
    while at >= 0 and drawing.nodes[at].kind != "use":
        chain.append(at)
        at = drawing.nodes[at].parent
    return chain


class Sites:
    """Finds the sites for the parts of one unit."""

    def __init__(self, drawing: Drawing, ends: Sequence[int]) -> None:
        self._drawing = drawing
        self._ends = ends
        self._source: Source = drawing.source

    def of(
        self, parts: Sequence[Part], outlines: set[int], holder: int
    ) -> Iterator[tuple[Site, Sequence[Part]]]:
        """Sites, the least change first, each with the parts to bring there.

        `outlines` are lines, `holder` is a group that holds them already, or -1.
        """
        drawing = self._drawing
        if holder >= 0:
            inside = [
                part for part in parts if holder in (part.node, *chain_of(drawing, part.node))
            ]
            stays = frozenset(part.node for part in inside)
            yield self._in_group(holder, stays), parts
            start, _, end = self._span(holder)
            above, last = drawing.nodes[holder].parent, int(self._ends[holder])
            yield Site(above, start, end, holder, last, stays, opens=True), parts
            lines = tuple(line for part in inside for line in part.lines)
            whole = Part(holder, drawing.nodes[holder].element, lines)
            parts = sorted(
                [whole, *(part for part in parts if part not in inside)], key=lambda p: p.node
            )
        runs = self._runs(parts)
        homes = {
            drawing.nodes[part.node].parent for part in parts if not outlines.isdisjoint(part.lines)
        }
        for run in sorted(runs, key=lambda run: _weight(run, outlines), reverse=True):
            # An outline is not carried into the folds' layer.
            if drawing.nodes[run[0].node].parent in homes:
                yield self._around(run), parts
        for site in self._beside(parts, outlines):
            yield site, parts

    def _span(self, node: int) -> tuple[int, int, int]:
        span = self._source.text_span(self._drawing.nodes[node].element)
        if span[0] == span[2]:
            raise Refused("its place in the file cannot be told for certain")
        return span

    def _in_group(self, group: int, stays: frozenset[int]) -> Site:
        _, tag_end, _ = self._span(group)
        children = [
            child
            for child in self._drawing.nodes[group].element.iterchildren("*")
            if local_name(child) not in _TOLD_FIRST
        ]
        before = self._source.text_span(children[0])[0] if children else tag_end
        after = self._source.text_span(children[-1])[2] if children else tag_end
        return Site(group, before, after, group + 1, int(self._ends[group]), stays, opens=False)

    def _runs(self, parts: Sequence[Part]) -> list[list[Part]]:
        """Whole parts that follow each other without an element between, in runs."""
        runs: list[list[Part]] = []
        by_element: dict[_Element, list[Part]] = {}
        for part in parts:
            if part.subpaths is not None or not chain_of(self._drawing, part.node):
                continue
            previous = next(part.element.itersiblings("*", preceding=True), None)
            run = by_element.get(previous) if previous is not None else None
            if run is None:
                run = []
                runs.append(run)
            run.append(part)
            by_element[part.element] = run
        return runs

    def _around(self, run: list[Part]) -> Site:
        first, last = run[0].node, run[-1].node
        return Site(
            self._drawing.nodes[first].parent,
            self._span(first)[0],
            self._span(last)[2],
            first,
            int(self._ends[last]),
            frozenset(part.node for part in run),
            opens=True,
        )

    def _beside(self, parts: Sequence[Part], outlines: set[int]) -> Iterator[Site]:
        """After or before a part, or what it is in, up to the nearest group around all parts."""
        chains = [[part.node, *chain_of(self._drawing, part.node)] for part in parts]
        shared = [node for node in chains[0] if all(node in chain for chain in chains[1:])]
        shared = [node for node in shared if node not in {part.node for part in parts}]
        if not shared:
            raise Refused("its parts are symbols that stand in no group together")
        top = shared[0]
        order = sorted(range(len(parts)), key=lambda k: outlines.isdisjoint(parts[k].lines))
        seen: set[tuple[int, bool]] = set()
        for k in order:
            below = chains[k][: chains[k].index(top) + 1]
            for child, above in pairwise(below):
                for after in (True, False):
                    if (child, after) not in seen and (above == top or parts[k].subpaths):
                        seen.add((child, after))
                        yield self._next_to(child, above, after)

    def _next_to(self, child: int, above: int, after: bool) -> Site:
        start, _, end = self._span(child)
        at, node = (end, int(self._ends[child])) if after else (start, child)
        return Site(above, at, at, node, node, frozenset(), opens=True, beside=start)


def _weight(run: Sequence[Part], outlines: set[int]) -> tuple[bool, int]:
    """Runs with an outline in them come first, then the longest."""
    return any(not outlines.isdisjoint(part.lines) for part in run), len(run)
