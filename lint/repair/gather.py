"""Brings outline, holes and folds of one piece into one group, and changes nothing that is seen."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from typing import TYPE_CHECKING

from matready.lint.cutting import Cutout
from matready.lint.cutting.grouping import holders_of, owners_in
from matready.lint.cutting.roles import texts_of
from matready.lint.cutting.words import role_of
from matready.lint.repair import ink
from matready.lint.repair.declared import Declared, is_inherited
from matready.lint.repair.ink import Ink
from matready.lint.repair.newgroup import Move, NewGroup
from matready.lint.repair.parts import Belongings, Part, subtree_ends
from matready.lint.repair.pictures import Pictures
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused
from matready.lint.repair.sites import Site, Sites, chain_of

if TYPE_CHECKING:
    from lxml.etree import _Element

_SITES = 24  # so many are tried; in a drawing in no order at all there may be hundreds
_GROUPS = frozenset(("g", "a"))


class Gatherer:
    """Plans the grouping of the units of one cutout."""

    def __init__(self, cutout: Cutout, belongs: Belongings) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._declared = Declared(cutout.drawing.source)
        self._ink = Ink(cutout.drawing)
        self._pictures = Pictures(cutout.drawing, self._declared)
        self._belongs = belongs
        self._ends = subtree_ends(cutout.drawing).tolist()
        self._sites = Sites(cutout.drawing, self._ends)
        self._reused = self._targets()
        self._owners = owners_in(cutout)

    def plan(self, unit: int) -> Plan:
        """How to group the pieces of a unit; raises Refused with the reason why not."""
        # What else lies in the card comes along if it can, but never at the price of the folds.
        try:
            shows, plan = self._best(unit, self._belongs.parts(unit, inside=True))
            if shows == ink.SAME:
                return plan
        except Refused:
            pass
        return self._best(unit, self._belongs.parts(unit, inside=False))[1]

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
            shows = self._shows(site, moves, meetings)
            if shows == ink.SAME:
                return shows, self._plan(site, moves, bring, pieces[0].name)
            if shows == ink.ALIKE and second is None:
                second = site, moves, bring
            reason = "other parts of the drawing lie between its parts"
        if second is None:
            raise Refused(reason)
        return ink.ALIKE, self._plan(*second, pieces[0].name)

    def _meetings(self, parts: Sequence[Part]) -> list[tuple[int, int, int]]:
        """Where lines of the parts share a spot with lines that are none of them."""
        lines: set[int] = set()
        for part in parts:
            lines |= set(self._belongs.below(part.node) if part.subpaths is None else part.lines)
        return self._ink.meetings(lines)

    def _targets(self) -> set[_Element]:
        """Elements that a `use` shows."""
        nodes = self._drawing.nodes
        return {
            node.element for node in nodes if node.parent >= 0 and nodes[node.parent].kind == "use"
        }

    def _holder(self, outlines: set[int], unit: int) -> int:
        """The nearest group that holds the unit's outlines and those of no other unit, or -1."""
        nodes = self._cutout.nodes(sorted(outlines))
        for holder in holders_of(self._drawing, self._owners, nodes, unit):
            if self._drawing.nodes[holder].kind == "g":
                return holder
        return -1

    def _refuse_shown_split(self, part: Part) -> None:
        if part.subpaths is None:
            return
        rest = set(self._belongs.below(part.node)) - set(part.lines)
        if self._ink.split_shows(part.lines, rest):
            line = self._drawing.source.span(part.element).line
            raise Refused(
                f"the path on line {line} of the file also draws other pieces that touch it; "
                "split the path first"
            )

    def _moves(self, site: Site, parts: Sequence[Part]) -> list[Move]:
        return [
            self._move(site, part)
            for part in parts
            if part.node not in site.stays and not self._inside(part.node, site.stays)
        ]

    def _inside(self, node: int, stays: frozenset[int]) -> bool:
        return not stays.isdisjoint(self._drawing.ancestors(node))

    def _move(self, site: Site, part: Part) -> Move:
        """The way of a part to a site; Refused where it would not look there as it does now."""
        old = chain_of(self._drawing, part.node)
        new = [site.container, *chain_of(self._drawing, site.container)]
        if not old or old[-1] != new[-1]:
            raise Refused("its parts are symbols that stand in no group together")
        shared = next(node for node in old if node in new)
        leaves, enters = old[: old.index(shared)], new[: new.index(shared)]
        if self._drawing.nodes[shared].kind == "switch":
            raise Refused("it stands in a <switch>, of which only one part is shown")
        for node in (*leaves, *enters):
            self._refuse_group(node)
        self._refuse_other_look(part, leaves, enters, shared)
        if self._tells_role(enters) and not self._tells_role((part.node, *leaves)):
            raise Refused("the group that it would come into is named after what lines are for")
        moved = self._transforms(enters)
        alike = bool(moved) and moved == self._transforms(leaves)
        if moved and not alike:
            raise Refused("the group of its outline has a transform of its own")
        return Move(part, tuple(leaves), part.node >= site.high, alike)

    def _tells_role(self, nodes: Sequence[int]) -> bool:
        """Whether a name on one of the nodes may tell cut from score."""
        texts = (text for node in nodes for text in texts_of(self._drawing, node))
        return any(role_of(text, open_line=True) for text in texts)

    def _transforms(self, groups: Sequence[int]) -> list[str | None]:
        """The transforms of groups, nearest first; None for one that CSS gives."""
        elements = [self._drawing.nodes[node].element for node in groups]
        return [
            element.get("transform") if not self._declared.moves_by_css(element) else None
            for element in elements
            if "transform" in element.attrib or self._declared.moves_by_css(element)
        ]

    def _refuse_group(self, node: int) -> None:
        element = self._drawing.nodes[node].element
        kind = self._drawing.nodes[node].kind
        line = self._drawing.source.span(element).line
        where = f"the <{kind}> on line {line} of the file"
        if kind not in _GROUPS:
            raise Refused(f"{where} may not be left or entered")
        if self._declared.paints_as_one(element):
            raise Refused(f"{where} is made transparent, clipped or filtered as a whole")
        if element in self._reused:
            raise Refused(f"{where} is shown elsewhere too, by a <use>")
        if any("animate" in str(child.tag) for child in element.iterchildren("*")):
            raise Refused(f"{where} is animated")

    def _refuse_other_look(
        self, part: Part, leaves: Sequence[int], enters: Sequence[int], shared: int
    ) -> None:
        """What is entered may pass nothing on that the part would not have had anyway."""
        elements = [self._drawing.nodes[node].element for node in enters]
        passed: dict[str, str] = {}
        for element in reversed(elements):
            passed.update(self._declared.of(element))
        own = set(self._declared.of(part.element))
        for node in leaves:
            own |= self._declared.of(self._drawing.nodes[node].element).keys()
        for name in passed.keys() - own:
            if is_inherited(name) and passed[name] != self._passed_on(shared, name):
                raise Refused(f"the group of its outline gives it another {name}")

    def _passed_on(self, node: int, name: str) -> str | None:
        for above in self._drawing.ancestors(node):
            found = self._declared.of(self._drawing.nodes[above].element).get(name)
            if found is not None:
                return found
        return None

    def _shows(
        self, site: Site, moves: Sequence[Move], meetings: Sequence[tuple[int, int, int]]
    ) -> int:
        """How the new order of painting shows (see ink)."""
        worst, move_of = ink.SAME, {line: move for move in moves for line in self._ink_of(move)}
        for line, other, shows in meetings:
            move = move_of.get(line)
            if move is not None:
                low, high = self._between(site, move)
                if low <= int(self._drawing.line_node[other]) < high:
                    worst = max(worst, shows)
        for move in moves:
            low, high = self._between(site, move)
            worst = max(worst, self._pictures.order_shows(self._ink_of(move), low, high))
        return worst

    def _between(self, site: Site, move: Move) -> tuple[int, int]:
        """The nodes that a part passes on its way."""
        node = move.part.node
        return (site.high, node) if move.behind else (self._ends[node], site.low)

    def _ink_of(self, move: Move) -> Sequence[int]:
        """The lines that go along with a part, whether they belong to the piece or not."""
        part = move.part
        return self._belongs.below(part.node) if part.subpaths is None else part.lines

    def _plan(self, site: Site, moves: Sequence[Move], parts: Sequence[Part], name: str) -> Plan:
        holds = frozenset(line for part in parts for line in part.lines)
        done = "grouped with the outline" if site.opens else "put into the group of the outline"

        group = NewGroup(self._drawing, site, moves, name)
        return Plan(holds, done, group.enter)
