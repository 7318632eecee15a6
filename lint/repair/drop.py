"""Takes out what is cut twice, so that exactly one of two lines in the same place stays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.grouping import is_layer, owners_in
from matready.lint.cutting.roles import SCORE, texts_of
from matready.lint.drawing import Floats
from matready.lint.reading.elements import SHAPES
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
            gone, enter = self._lesser(copies, originals)
            return Plan(holds | gone, "the copy was taken out", enter)
        if set(copies) & set(originals):
            picked = self._second_laps(picked)
        return Plan(holds, "the doubled run was taken out", self._stretches(picked))

    def _lesser(self, copies: list[int], originals: list[int]) -> tuple[set[int], _Entry]:
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
            gone = self._with_their_groups(lines)
            try:
                return gone, self._whole_lines(gone)
            except Refused as why:
                reason = reason or str(why)
        raise Refused(reason)

    def _worth(self, line: int) -> tuple[bool, bool, bool, bool]:
        """Lines grouped with folds, grouped, named or styled are worth more than strays."""
        drawing, node = self._drawing, int(self._drawing.line_node[line])
        element = drawing.nodes[node].element
        group = self._group_of(node)
        roles = self._cutout.roles.role[list(self._belongs.below(group))] if group >= 0 else ()
        styled = any(key in PRESENTATION or key in ("style", "class") for key in element.attrib)
        return SCORE in roles, group >= 0, bool(texts_of(drawing, node)), styled

    def _group_of(self, node: int) -> int:
        """The largest group or `use` around a node that holds one piece alone, or -1."""
        found = -1
        for above in self._drawing.ancestors(node)[:-1]:
            kind, element = self._drawing.nodes[above].kind, self._drawing.nodes[above].element
            if len(self._owners.get(above, ())) > 1 or is_layer(element):
                break
            found = above if kind in ("g", "use") else found
        return found

    @cached_property
    def _owners(self) -> dict[int, set[int]]:
        return owners_in(self._cutout)

    def _with_their_groups(self, lines: Sequence[int]) -> set[int]:
        """The lines, and of the groups that they stand in what is there again line for line.

        A fold would stay behind alone where the copy of its outline goes.
        """
        gone = set(lines)
        for group in {self._group_of(int(self._drawing.line_node[line])) for line in lines}:
            below = self._belongs.below(group) if group >= 0 else range(0)
            gone |= {line for line in below if line not in gone and self._is_twin(line, below)}
        return gone

    def _is_twin(self, line: int, below: range) -> bool:
        """Whether a line that is no part of `below` runs in the same place in the same role."""
        same, roles = self._cutout.distances.same_place_mm, self._cutout.roles.role
        path = self._paths[line]
        for other in self._tree.query(path, "dwithin", distance=same).tolist():
            if other not in below and roles[other] == roles[line]:
                twin = self._paths[other]
                if path.hausdorff_distance(twin) <= same:
                    return True
        return False

    @cached_property
    def _paths(self) -> list[shapely.LineString]:
        geometry = self._drawing.geometry
        return [
            shapely.LineString(geometry.points[a:b]) for a, b in pairwise(geometry.offsets.tolist())
        ]

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._paths)

    def _whole_lines(self, gone: set[int]) -> _Entry:
        """Take whole lines out, and elements and groups that draw nothing else."""
        drawing = self._drawing
        elements: dict[_Element, None] = {}
        subpaths = []
        for line in sorted(gone):
            node = int(drawing.line_node[line])
            for above in reversed(drawing.ancestors(node)[:-1]):
                element = drawing.nodes[above].element
                if gone.issuperset(self._belongs.below(above)) and self._only_lines(above):
                    self._refuse_shown_twice(above, gone)
                    elements[element] = None
                    break
            else:
                self._refuse_shown_twice(node, gone)
                subpaths.append((drawing.nodes[node].element, line))

        def enter(edits: Edits) -> None:
            for element in elements:
                if not any(above in elements for above in element.iterancestors()):
                    edits.remove(element)
            for element, line in subpaths:
                edits.change(element, int(drawing.geometry.subpath[line]), Drop())

        return enter

    def _only_lines(self, node: int) -> bool:
        """Whether an element is no layer and draws nothing but lines, hidden ones included."""
        element = self._drawing.nodes[node].element
        if self._drawing.nodes[node].kind != "g":
            return True
        names = [str(child.tag).rpartition("}")[2] for child in element.iter("*")]
        drawn = len({int(self._drawing.line_node[line]) for line in self._belongs.below(node)})
        shapes = sum(name in SHAPES or name == "use" for name in names)
        return drawn == shapes and set(names) <= {"g", "title", "desc", *SHAPES}

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
            around = [max(along - _CORNER_MM, 0), along, min(along + _CORNER_MM, total)]
            low, here, high = places(subpath, matrix, around, cutout.distances.flatten_mm)
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
