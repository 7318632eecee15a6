"""Takes out what is cut twice, so that exactly one of two lines in the same place stays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import texts_of
from matready.lint.drawing import Floats
from matready.lint.repair.declared import PRESENTATION
from matready.lint.repair.edits import Edits
from matready.lint.repair.parts import Belongings
from matready.lint.repair.pathcuts import Cut, Place, Stretch, places
from matready.lint.repair.pathtext import Drop, Operation
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused
from matready.lint.repair.space import subpath_of, to_user

if TYPE_CHECKING:
    from lxml.etree import _Element

_MUTUAL = 0.99  # share of either line that lies on the other when they are copies of each other
_STUB_MM = 0.1  # what is left of an end shorter than two plotter widths goes with the rest
_CORNER_MM = 0.06  # a run that ends this near a corner ends there: the width of the same place
_TOUCH_MM = 1e-6

_Entry = Callable[[Edits], None]


class Dropper:
    """Plans what to take out of one cutout."""

    def __init__(self, cutout: Cutout, belongs: Belongings) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._belongs = belongs

    def plan(self, runs: Sequence[int]) -> Plan:
        """How to cut once where `runs` of Cutout.doubles cut twice; raises Refused."""
        doubles, blade = self._cutout.doubles, self._cutout.blade
        picked = list(runs)
        source = blade.source
        copies = source[doubles.line[picked]].tolist()
        originals = source[doubles.other[picked]].tolist()
        tips = source[doubles.tips[picked]].ravel().tolist()
        holds = frozenset([*copies, *originals, *tips])
        whole = bool(doubles.whole(blade)[picked].all())
        if whole and copies != originals:
            lines = self._lesser(copies, originals)
            return Plan(holds, "the copy was taken out", self._whole_lines(lines))
        if set(copies) & set(originals):
            picked = self._second_laps(picked)
        return Plan(holds, "the doubled run was taken out", self._stretches(picked))

    def _lesser(self, copies: list[int], originals: list[int]) -> list[int]:
        """Which of two sets of like lines goes: copies, unless the originals mean less."""
        length = self._cutout.length
        mutual = all(
            length(copy) >= _MUTUAL * length(original)
            for copy, original in zip(copies, originals, strict=True)
        )
        worth = [max(map(self._worth, lines)) for lines in (copies, originals)]
        choices = [originals, copies] if mutual and worth[0] > worth[1] else [copies, originals]
        reason = ""
        for lines in choices if mutual else choices[:1]:
            try:
                self._whole_lines(lines)
            except Refused as why:
                reason = reason or str(why)
                continue
            return lines
        raise Refused(reason)

    def _worth(self, line: int) -> tuple[bool, bool, bool]:
        """Grouped, named and styled lines are worth more than strays."""
        drawing, node = self._drawing, int(self._drawing.line_node[line])
        element = drawing.nodes[node].element
        above = drawing.ancestors(node)[1:]
        groups = [n for n in above if drawing.nodes[n].kind in ("g", "use") and n > 0]
        fewest = min((len(self._belongs.below(n)) for n in groups), default=0)
        grouped = 0 < fewest < len(drawing.line_node) and fewest > 1
        styled = any(key in PRESENTATION or key in ("style", "class") for key in element.attrib)
        return grouped, bool(texts_of(drawing, node)), styled

    def _whole_lines(self, lines: Sequence[int]) -> _Entry:
        """Take whole lines out, and elements that draw nothing else."""
        drawing = self._drawing
        gone = set(lines)
        elements: dict[_Element, None] = {}
        subpaths = []
        for line in lines:
            node = int(drawing.line_node[line])
            uses = [n for n in drawing.ancestors(node) if drawing.nodes[n].kind == "use"]
            if uses and self._all_doubled(uses[-1], gone):
                elements[drawing.nodes[uses[-1]].element] = None
                continue
            self._refuse_shown_twice(node, gone)
            if gone.issuperset(self._belongs.below(node)):
                elements[drawing.nodes[node].element] = None
            else:
                element = drawing.nodes[node].element
                subpaths.append((element, int(drawing.geometry.subpath[line]), Drop()))

        def enter(edits: Edits) -> None:
            for element in elements:
                edits.remove(element)
            for element, subpath, operation in subpaths:
                edits.change(element, subpath, operation)

        return enter

    def _all_doubled(self, use: int, gone: set[int]) -> bool:
        """Whether all that a `use` draws is doubled: cut twice, or there again line for line."""
        below = self._belongs.below(use)
        return all(
            line in gone or any(twin not in below for twin in self._twins[self._spot(line)])
            for line in below
        )

    def _spot(self, line: int) -> bytes:
        geometry = self._drawing.geometry
        points = geometry.points[geometry.offsets[line] : geometry.offsets[line + 1]]
        return np.round(points / _TOUCH_MM).astype(np.int64).tobytes()

    @cached_property
    def _twins(self) -> dict[bytes, list[int]]:
        """Lines by the very places that they run through."""
        twins: dict[bytes, list[int]] = defaultdict(list)
        for line in range(len(self._drawing.line_node)):
            twins[self._spot(line)].append(line)
        return twins

    def _refuse_shown_twice(self, node: int, gone: set[int]) -> None:
        """What is drawn in several places may only go where it is doubled in all of them."""
        drawing = self._drawing
        element = drawing.nodes[node].element
        shown = [n for n in range(len(drawing.nodes)) if drawing.nodes[n].element is element]
        if len(shown) > 1 and not all(gone & set(self._belongs.below(n)) for n in shown):
            where = drawing.source.span(drawing.shown(node)).line
            raise Refused(f"the line on line {where} of the file is drawn in several places")

    def _second_laps(self, runs: list[int]) -> list[int]:
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

    def _stretches(self, runs: Sequence[int]) -> _Entry:
        by_line: dict[int, list[int]] = defaultdict(list)
        for run in runs:
            by_line[int(self._cutout.blade.source[self._cutout.doubles.line[run]])].append(run)
        changes: list[tuple[int, Operation]] = []
        for line, of in by_line.items():
            self._refuse_shown_twice(int(self._drawing.line_node[line]), set())
            stretches = [self._stretch(line, run) for run in of]
            changes.append((line, Cut(tuple(stretches))))

        def enter(edits: Edits) -> None:
            for line, operation in changes:
                element = self._drawing.nodes[int(self._drawing.line_node[line])].element
                edits.change(element, int(self._drawing.geometry.subpath[line]), operation)

        return enter

    def _stretch(self, line: int, run: int) -> Stretch:
        """A run as a stretch of the line's own path data."""
        cutout, doubles = self._cutout, self._cutout.doubles
        matrix = self._drawing.nodes[int(self._drawing.line_node[line])].matrix
        subpath = subpath_of(cutout, line)
        start, end = float(doubles.start[run]), float(doubles.end[run])
        total = cutout.length(line)
        if int(doubles.line[run]) == int(doubles.other[run]) and self._comes_back(run):
            start = (start + end) / 2
        closed = bool(self._drawing.geometry.closed[line])
        if not closed:
            start, end = (0.0 if start < _STUB_MM else start), min(end, total)
            end = total if total - end < _STUB_MM else end

        def place(along: float) -> Place:
            low, here, high = places(
                subpath, matrix, [max(along - _CORNER_MM, 0), along, min(along + _CORNER_MM, total)]
            )
            return (high[0], 0.0) if low[0] != high[0] and low[1] != 1.0 else here

        ends = []
        for along, tip in zip((start, end), doubles.tips[run].tolist(), strict=True):
            free = not closed and along in (0.0, total)
            at = None if free else self._on_line(run, along, int(cutout.blade.source[tip]))
            ends.append(None if at is None else to_user(matrix, at))
        return Stretch(place(start), place(end), ends[0], ends[1])

    def _comes_back(self, run: int) -> bool:
        """True where the second half of a run on its own line lies on the first."""
        doubles, blade = self._cutout.doubles, self._cutout.blade
        line, start, end = (
            int(doubles.line[run]),
            float(doubles.start[run]),
            float(doubles.end[run]),
        )
        middle = (start + end) / 2
        first = shapely.LineString(blade.part(line, start, middle))
        later = blade.locate(np.array([line]), np.array([(middle + end) / 2]))[0]
        return bool(
            first.distance(shapely.Point(later)) <= 2 * self._cutout.distances.same_place_mm
        )

    def _on_line(self, run: int, along: float, other: int) -> Floats | None:
        """The place on the other line nearest to a place on the run's line, if it is not there."""
        blade, geometry = self._cutout.blade, self._drawing.geometry
        line = int(self._cutout.doubles.line[run])
        if int(blade.source[line]) == other:
            return None
        at = blade.locate(np.array([line]), np.array([along]))[0]
        points = geometry.points[geometry.offsets[other] : geometry.offsets[other + 1]]
        path = shapely.LineString(points)
        found = path.interpolate(path.project(shapely.Point(at)))
        apart = float(np.hypot(found.x - at[0], found.y - at[1]))
        if not _TOUCH_MM < apart <= 2 * self._cutout.distances.same_place_mm:
            return None
        return np.array([found.x, found.y])
