"""Takes stretches out of score lines, or whole ones; what of them remains stays where it was."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from matready.lint.acts import Perforate, Shorten
from matready.lint.cutting import Cutout
from matready.lint.cutting.dashstyle import is_straight
from matready.lint.repair.dashlook import refuse_if_important, take_styling
from matready.lint.repair.declared import Declared
from matready.lint.repair.edits import Edits
from matready.lint.repair.licence import Licence, May
from matready.lint.repair.pathcuts import Cut, Stretch, length_of, places
from matready.lint.repair.plan import Plan
from matready.lint.repair.references import References
from matready.lint.repair.refusal import Refused
from matready.lint.repair.space import subpath_of
from matready.lint.repair.ties import gaps_of

_FINE_MM = 0.0005  # dashes are measured along curves this finely, so that none is seen to move
_MARKERS = ("marker", "marker-start", "marker-mid", "marker-end")
_LABELS = ("label", "data-name", "aria-label")
_NAME = "fold"
_ROW = 4  # so many gaps make a row that is told to be a fold

Enter = Callable[[Edits], None]


class ScoreCutter:
    """Plans what to take out of the score lines of one cutout."""

    def __init__(self, cutout: Cutout, declared: Declared, references: References) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._declared = declared
        self._references = references

    def shorten(self, act: Shorten) -> Plan:
        """How to take stretches away; raises Refused."""
        by_line: dict[int, list[tuple[float, float]]] = {}
        for line, start, end in act.stretches:
            by_line.setdefault(line, []).append((start, end))
        for line in by_line:
            self.refuse_to_cut(line)
        enter = self.taken_out(by_line, self._cutout.distances.flatten_mm)
        may = May.LEAVE_CUT if act.on_cuts else May.LEAVE_SHEET
        done = "the score was taken off the cut" if act.on_cuts else "the score ends at the edge"
        return Plan(frozenset(by_line), done, enter, licences=self._licences(by_line, may))

    def perforate(self, act: Perforate) -> list[Plan]:
        """How to cut the dashes that are shown: as they are, or named too; raises Refused."""
        gaps: dict[int, list[tuple[float, float]]] = {}
        nodes, reason = [], ""
        for node in self._cutout.nodes(act.lines):
            try:
                gaps |= self._gaps_of(node, act.lines)
                nodes.append(node)
            except Refused as why:
                reason = reason or str(why)
        if not nodes:
            raise Refused(reason)
        cut = self.taken_out(gaps, _FINE_MM)

        def enter(edits: Edits) -> None:
            for node in nodes:
                take_styling(edits, self._declared, node)
            cut(edits)

        def naming(called: Sequence[int]) -> Enter:
            def named(edits: Edits) -> None:
                enter(edits)
                for node in called:
                    self.name(edits, node)

            return named

        # Dashes round a corner, or a few of them, are no row that would be told by itself.
        plain = {n for line, n in self._drawn(list(gaps)) if not self._is_row(line, gaps[line])}
        done = "the dashes that were shown are lines of their own now, with a tie at each edge"
        if len(gaps) < len(act.lines):
            done += f", in {len(gaps)} of the {len(act.lines)} lines"
        licences = tuple(
            Licence(self._drawing.geometry.line(line), May.SHOW_DASHES, tuple(of))
            for line, of in gaps.items()
        )
        ways = [enter, naming(sorted(plain)), naming(nodes)]
        return [
            Plan(frozenset(act.lines), done, way, licences=licences, in_part=bool(reason))
            for way in ways
        ]

    def _gaps_of(self, node: int, lines: Sequence[int]) -> dict[int, list[tuple[float, float]]]:
        """What of the lines that a node draws is to be left uncut; raises Refused."""
        drawing = self._drawing
        refuse_if_important(drawing, self._declared, drawing.nodes[node].element)
        own = [line for line, other in self._drawn(lines) if other == node]
        for line in own:
            self.refuse_to_cut(line)
        if "non-scaling-stroke" in self._inherited(node, "vector-effect"):
            raise Refused("its dashes are not drawn to the scale of the page")
        matrix, gaps = drawing.nodes[node].matrix, {}
        for line in own:
            total = length_of(subpath_of(self._cutout, line), matrix, _FINE_MM)
            gaps[line] = gaps_of(self._cutout, self._declared, line, total)
        return gaps

    def _drawn(self, lines: Sequence[int]) -> list[tuple[int, int]]:
        return [(line, int(self._drawing.line_node[line])) for line in lines]

    def _is_row(self, line: int, gaps: Sequence[tuple[float, float]]) -> bool:
        return len(gaps) >= _ROW and is_straight(self._drawing, line)

    def name(self, edits: Edits, node: int) -> None:
        """Call what draws a node a fold, where its dashes alone would not tell it."""
        element = self._drawing.nodes[node].element
        if any(str(key).rpartition("}")[2] in _LABELS for key in element.attrib):
            raise Refused("its dashes would not be told from cut lines")
        edits.set(element, "data-name", _NAME)

    def taken_out(
        self, stretches: Mapping[int, Sequence[tuple[float, float]]], flatten_mm: float
    ) -> Enter:
        """Take stretches (mm from the beginning of each line) away."""
        changes = []
        for line, of in stretches.items():
            node = self._drawing.nodes[int(self._drawing.line_node[line])]
            along = [place for stretch in of for place in stretch]
            at = places(subpath_of(self._cutout, line), node.matrix, along, flatten_mm)
            cut = Cut(tuple(map(Stretch, at[::2], at[1::2])))
            changes.append((node.element, int(self._drawing.geometry.subpath[line]), cut))

        def enter(edits: Edits) -> None:
            for element, subpath, cut in changes:
                edits.change(element, subpath, cut)

        return enter

    def refuse_to_cut(self, line: int) -> None:
        """Raise Refused where less of a line would change more than the line."""
        node = int(self._drawing.line_node[line])
        element = self._drawing.nodes[node].element
        where = f"the line on line {self._drawing.source.span(element).line} of the file"
        if len(self._drawing.nodes_of(element)) > 1:
            raise Refused(f"{where} is drawn in several places by a <use>")
        self._references.refuse_to_change(element)
        filled = self._drawing.nodes[node].style.fill != "none"
        if filled and not is_straight(self._drawing, line):
            raise Refused(f"{where} is filled, and its filled area would be another")
        if any(self._inherited(node, name) for name in _MARKERS):
            raise Refused(f"{where} bears markers at its ends")

    def _inherited(self, node: int, name: str) -> str:
        """What a node or the nearest group above it declares of a property, '' for none."""
        for above in self._drawing.ancestors(node):
            found = self._declared.of(self._drawing.nodes[above].element).get(name, "inherit")
            if found.strip() != "inherit":
                return "" if found.strip() == "none" else found
        return ""

    def _licences(self, lines: Mapping[int, object], may: May) -> tuple[Licence, ...]:
        return tuple(Licence(self._drawing.geometry.line(line), may) for line in lines)
