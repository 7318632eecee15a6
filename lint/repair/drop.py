"""Which of two lines in the same place goes, so that exactly one stays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.grouping import is_layer
from matready.lint.cutting.roles import BY_LAYER, BY_NAME, BY_SETTINGS, SCORE, texts_of
from matready.lint.repair.declared import PRESENTATION, Declared
from matready.lint.repair.edits import Edits
from matready.lint.repair.overlap import Overlaps
from matready.lint.repair.parts import Belongings
from matready.lint.repair.plan import Plan
from matready.lint.repair.references import References
from matready.lint.repair.refusal import Refused
from matready.lint.repair.takeout import Run, Takeout

_ALL_OF_IT = 0.98  # share of some lines that others must make up to stand for them
_COPY = "one of the two lines was taken out"
_RUN = "the edge is cut once now; the parts beside it share it, so move them only together"


class Dropper:
    """Plans how to cut once in one cutout."""

    def __init__(
        self, cutout: Cutout, belongs: Belongings, declared: Declared, references: References
    ) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._belongs = belongs
        self._overlaps = Overlaps(cutout)
        self._declared = declared
        self._takeout = Takeout(cutout, belongs, self._overlaps, references)
        self._near_mm = 2 * cutout.distances.same_place_mm  # stubs this short go with the rest

    def plans(self, runs: Sequence[int]) -> list[Plan]:
        """Ways to cut once where `runs` of Cutout.doubles cut twice, the best first.

        Raises Refused where there is none.
        """
        doubles, picked = self._cutout.doubles, list(runs)
        copies = set(self._cutout.blade.source[doubles.line[picked]].tolist())
        whole = bool(doubles.whole(self._cutout.blade)[picked].all())
        if whole and not (doubles.line[picked] == doubles.other[picked]).any():
            ways = self._whole_lines(copies)
        else:
            ways = self._stretches(picked)
        found, reason = [], ""
        for way in ways:
            try:
                found.append(way())
            except Refused as why:
                reason = reason or str(why)
        if not found:
            raise Refused(reason)
        return found

    def _whole_lines(self, copies: set[int]) -> list[Callable[[], Plan]]:
        """Take the copies, or what they are copies of, or else of the latter what is doubled."""
        length = self._cutout.length
        beside = {other for copy in copies for other in self._overlaps.beside(copy)} - copies
        others = {other for other in beside if self._overlaps.lies_on(other, copies)}
        ways = [lambda: self._without(copies, beside)]
        if sum(map(length, others)) >= _ALL_OF_IT * sum(map(length, copies)):
            ways.append(lambda: self._without(others, copies))
            worth = [max(map(self._worth, lines)) for lines in (copies, others)]
            # Of two that look otherwise, the later one is painted on top: it is what is seen.
            on_top = worth[0] == worth[1] and self._looks(copies) != self._looks(others)
            if worth[0] > worth[1] or on_top:
                ways.reverse()
        paths = [self._overlaps.paths[copy] for copy in copies]
        ways.append(lambda: self._shared_out(paths, beside, copies))
        return ways

    def _without(self, lines: Collection[int], rest: Iterable[int]) -> Plan:
        gone = self._with_their_groups(lines)
        enter = self._takeout.lines(gone)
        return Plan(frozenset(gone).union(rest), _COPY, enter, slack_mm=self._near_mm)

    def _shared_out(
        self, paths: Sequence[shapely.LineString], beside: Iterable[int], copies: set[int]
    ) -> Plan:
        """Take out of the lines beside some paths what lies on these."""
        gone, runs = set(), {}
        zones = [self._overlaps.zone(path) for path in paths]
        for line in beside:
            found = [run for zone in zones for run in self._overlaps.shared(line, zone)]
            if sum(b - a for a, b in found) >= _ALL_OF_IT * self._cutout.length(line):
                gone.add(line)
            elif found:
                on = min(copies)
                runs[line] = [Run(a, b, (on, on)) for a, b in found]
        if not gone and not runs:
            raise Refused("what it lies on cannot be told")
        enters = [self._takeout.lines(gone), self._takeout.stretches(runs)]

        def enter(edits: Edits) -> None:
            for each in enters:
                each(edits)

        return Plan(frozenset([*copies, *gone, *runs]), _RUN, enter, slack_mm=self._near_mm)

    def _worth(self, line: int) -> tuple[bool, ...]:
        """What a line is called, seen and grouped as makes it worth more than a stray."""
        drawing, node = self._drawing, int(self._drawing.line_node[line])
        told = int(self._cutout.roles.clue[line]) in (BY_SETTINGS, BY_LAYER, BY_NAME)
        chain = (drawing.nodes[above].element for above in drawing.ancestors(node))
        plain = not any(self._declared.as_one(above) for above in chain)
        element = drawing.nodes[node].element
        group = self._group_of(node)
        roles = self._cutout.roles.role[list(self._belongs.below(group))] if group >= 0 else ()
        styled = any(key in PRESENTATION or key in ("style", "class") for key in element.attrib)
        filled = drawing.nodes[node].style.fill != "none"
        named = bool(texts_of(drawing, node))
        return told, plain, SCORE in roles, filled, group >= 0, named, styled

    def _looks(self, lines: Iterable[int]) -> set[tuple[str, str]]:
        """The fills and strokes of some lines."""
        nodes = self._drawing.nodes
        styles = (nodes[int(self._drawing.line_node[line])].style for line in lines)
        return {(style.fill, style.stroke) for style in styles}

    def _group_of(self, node: int) -> int:
        """The largest group or `use` around a node that holds one piece alone, or -1."""
        found = -1
        for above in self._drawing.ancestors(node)[:-1]:
            kind, element = self._drawing.nodes[above].kind, self._drawing.nodes[above].element
            if len(self._belongs.owners.get(above, ())) > 1 or is_layer(element):
                break
            found = above if kind in ("g", "use") else found
        return found

    def _with_their_groups(self, lines: Collection[int]) -> set[int]:
        """The lines, and of the groups that they stand in what is there again line for line.

        A fold would stay behind alone where the copy of its outline goes.
        """
        gone = set(lines)
        for group in {self._group_of(int(self._drawing.line_node[line])) for line in lines}:
            below = self._belongs.below(group) if group >= 0 else range(0)
            for line in below:
                if any(twin not in below for twin in self._overlaps.twins(line)):
                    gone.add(line)
        return gone

    def _stretches(self, runs: list[int]) -> list[Callable[[], Plan]]:
        """Take the doubled stretches out of the later line, or out of those it lies on."""
        doubles, blade = self._cutout.doubles, self._cutout.blade
        by_line: dict[int, list[Run]] = defaultdict(list)
        paths, rest = [], set()
        for run in self._first_laps_left(runs):
            line, start, end = int(doubles.line[run]), doubles.start[run], doubles.end[run]
            if line == int(doubles.other[run]) and self._comes_back(run):
                start = (start + end) / 2
            on = blade.source[doubles.tips[run]].tolist()
            by_line[int(blade.source[line])].append(Run(float(start), float(end), tuple(on)))
            paths.append(shapely.LineString(blade.part(line, float(start), float(end))))
            rest |= {*on, int(blade.source[doubles.other[run]])}
        copies = set(by_line)
        beside = {other for copy in copies for other in self._overlaps.beside(copy)} - copies

        def later() -> Plan:
            holds = frozenset(copies | rest)
            return Plan(holds, _RUN, self._takeout.stretches(by_line), slack_mm=self._near_mm)

        return [later, lambda: self._shared_out(paths, beside, copies)]

    def _first_laps_left(self, runs: list[int]) -> list[int]:
        """Of runs that lie on their own line all but the first of each line."""
        doubles = self._cutout.doubles
        order = sorted(runs, key=lambda run: (int(doubles.line[run]), float(doubles.start[run])))
        kept, seen = [], set[int]()
        for run in order:
            line = int(doubles.line[run])
            if line != int(doubles.other[run]) or line in seen:
                kept.append(run)
            seen.add(line)
        return kept or order

    def _comes_back(self, run: int) -> bool:
        """True where the second half of a run on its own line lies on the first."""
        doubles, blade = self._cutout.doubles, self._cutout.blade
        line, start, end = int(doubles.line[run]), doubles.start[run], doubles.end[run]
        middle = float(start + end) / 2
        first = shapely.LineString(blade.part(line, float(start), middle))
        later = blade.locate(np.array([line]), np.array([(middle + float(end)) / 2]))[0]
        return bool(first.distance(shapely.Point(later)) <= self._near_mm)
