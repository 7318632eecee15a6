"""Brings outline, holes and folds of one piece into one group, and changes nothing that is seen."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from matready.lint.cutting import Cutout
from matready.lint.cutting.grouping import holders_of
from matready.lint.repair import ink
from matready.lint.repair.declared import Declared
from matready.lint.repair.ink import Ink
from matready.lint.repair.newgroup import Move, NewGroup
from matready.lint.repair.parts import Belongings, Part
from matready.lint.repair.passage import Passage
from matready.lint.repair.pictures import Pictures
from matready.lint.repair.plan import Plan
from matready.lint.repair.references import References
from matready.lint.repair.refusal import Refused
from matready.lint.repair.sites import Site, Sites

_SITES = 24  # so many are tried; in a drawing in no order at all there may be hundreds


class Gatherer:
    """Plans the grouping of the units of one cutout."""

    def __init__(
        self, cutout: Cutout, belongs: Belongings, declared: Declared, references: References
    ) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._ink = Ink(cutout.drawing)
        self._pictures = Pictures(cutout.drawing, declared)
        self._belongs = belongs
        self._sites = Sites(cutout.drawing, belongs.ends)
        self._passage = Passage(cutout, declared, self._ink, belongs)
        self._references = references

    def plan(self, unit: int) -> Plan:
        """How to group the pieces of a unit; raises Refused with the reason why not."""
        # What else lies in the card comes along if it can, but never at the price of the folds;
        # groups move as one if they can.
        reason, second = "", None
        for inside, as_groups in ((True, True), (True, False), (False, True), (False, False)):
            try:
                shows, plan = self._best(unit, self._belongs.parts(unit, inside, as_groups))
            except Refused as why:
                reason = reason or str(why)
                continue
            if shows == ink.SAME:
                return plan
            second = plan
        if second is None:
            raise Refused(reason)
        return second

    def _best(self, unit: int, parts: Sequence[Part]) -> tuple[int, Plan]:
        """The best way to group these parts, and how it shows; raises Refused."""
        pieces = [piece for piece in self._cutout.pieces if piece.unit == unit]
        outlines = {line for piece in pieces for line in piece.own}
        holder = self._holder(outlines, unit)
        for part in parts:
            if part.node in self._drawing.ancestors(holder)[:-1]:
                holder = part.node  # the holder's own group holds nothing else either
        for part in parts:
            self._refuse_shown_split(part)
        reason, second = "", None
        meetings = self._meetings(parts)
        for site, bring in islice(self._sites.of(parts, outlines, holder), _SITES):
            try:
                moves = self._moves(site, bring)
            except Refused as why:
                reason = reason or str(why)
                continue
            shows, between = self._shows(site, moves, meetings)
            if shows == ink.SAME:
                return shows, self._plan(site, moves, bring, pieces[0].name)
            if shows == ink.ALIKE and second is None:
                second = site, moves, bring
            reason = (
                f"{between} is painted between its parts and touches them; grouping would change "
                "what covers what"
            )
        if second is None:
            raise Refused(reason)
        return ink.ALIKE, self._plan(*second, pieces[0].name)

    def _meetings(self, parts: Sequence[Part]) -> list[tuple[int, int, int]]:
        """Where lines of the parts share a spot with lines that are none of them."""
        lines: set[int] = set()
        for part in parts:
            lines |= set(self._belongs.below(part.node) if part.subpaths is None else part.lines)
        return self._ink.meetings(lines)

    def _holder(self, outlines: set[int], unit: int) -> int:
        """The nearest group that holds the unit's outlines and those of no other unit, or -1."""
        nodes = self._cutout.nodes(sorted(outlines))
        for holder in holders_of(self._drawing, self._belongs.owners, nodes, unit):
            if self._drawing.nodes[holder].kind == "g":
                return holder
        return -1

    def _refuse_shown_split(self, part: Part) -> None:
        if part.subpaths is None:
            return
        self._passage.refuse_split(part)
        self._references.refuse_to_change(part.element)
        rest = set(self._belongs.below(part.node)) - set(part.lines)
        if self._ink.split_shows(part.lines, rest):
            line = self._drawing.source.span(part.element).line
            raise Refused(
                f"the path on line {line} of the file also draws other pieces that touch it; "
                "split the path first"
            )

    def _moves(self, site: Site, parts: Sequence[Part]) -> list[Move]:
        return [
            self._passage.move(site, part)
            for part in parts
            if part.node not in site.stays and not self._inside(part.node, site.stays)
        ]

    def _inside(self, node: int, stays: frozenset[int]) -> bool:
        return not stays.isdisjoint(self._drawing.ancestors(node))

    def _shows(
        self, site: Site, moves: Sequence[Move], meetings: Sequence[tuple[int, int, int]]
    ) -> tuple[int, str]:
        """How the new order of painting shows (see ink), and what stands in the way."""
        worst, between = ink.SAME, "something"
        move_of = {line: move for move in moves for line in self._ink_of(move)}
        for line, other, shows in meetings:
            move = move_of.get(line)
            if move is not None:
                low, high = self._between(site, move)
                if low <= int(self._drawing.line_node[other]) < high and shows > worst:
                    worst, between = shows, self._called(other)
        for move in moves:
            low, high = self._between(site, move)
            if self._pictures.order_shows(self._ink_of(move), low, high) > worst:
                worst, between = ink.SHOWS, "a text or picture"
        return worst, between

    def _called(self, line: int) -> str:
        element = self._drawing.shown(int(self._drawing.line_node[line]))
        return f"the shape on line {self._drawing.source.span(element).line} of the file"

    def _between(self, site: Site, move: Move) -> tuple[int, int]:
        """The nodes that a part passes on its way."""
        node = move.part.node
        return (site.high, node) if move.behind else (self._belongs.ends[node], site.low)

    def _ink_of(self, move: Move) -> Sequence[int]:
        """The lines that go along with a part, whether they belong to the piece or not."""
        part = move.part
        return self._belongs.below(part.node) if part.subpaths is None else part.lines

    def _plan(self, site: Site, moves: Sequence[Move], parts: Sequence[Part], name: str) -> Plan:
        holds = frozenset(line for part in parts for line in part.lines)
        done = "grouped with the outline" if site.opens else "put into the group of the outline"

        group = NewGroup(self._drawing, site, moves, name)
        return Plan(holds, done, group.enter)
