"""Takes lines, or stretches of them, out of a drawing's source, and keeps what they fill."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.grouping import is_layer
from matready.lint.drawing import Floats
from matready.lint.reading.elements import SHAPES
from matready.lint.repair.edits import Edits
from matready.lint.repair.overlap import Overlaps
from matready.lint.repair.parts import Belongings
from matready.lint.repair.pathcuts import Cut, Place, Stretch, places
from matready.lint.repair.pathtext import Drop
from matready.lint.repair.references import References
from matready.lint.repair.refusal import Refused
from matready.lint.repair.space import subpath_of, to_user
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

_STUB_MM = 0.1  # what is left of an end shorter than two plotter widths goes with the rest
_CORNER_MM = 0.09  # a run that ends this near a corner ends there: the width of the same place
_TOUCH_MM = 1e-6
_FILL_MM2 = 0.01
_FILL_AND_STROKE = (
    "one of the lines bounds a filled area and the other is its stroke; give one shape both"
)

Enter = Callable[[Edits], None]


class Run(NamedTuple):
    """A stretch of a line, mm from its beginning, and the lines it lies on at either end."""

    start: float
    end: float
    on: tuple[int, int]


class Takeout:
    """Plans what to take out of one cutout."""

    def __init__(
        self, cutout: Cutout, belongs: Belongings, overlaps: Overlaps, references: References
    ) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._belongs = belongs
        self._overlaps = overlaps
        self._references = references
        self._planned: dict[frozenset[int], Enter | Refused] = {}

    def lines(self, gone: Collection[int]) -> Enter:
        """Take whole lines out, and elements and groups that draw nothing else.

        Raises Refused where that would take a line away elsewhere, or a filled area.
        """
        # The findings of one doubled group all ask for the same.
        wanted = frozenset(gone)
        if wanted not in self._planned:
            try:
                self._planned[wanted] = self._without(wanted)
            except Refused as why:
                self._planned[wanted] = why
        planned = self._planned[wanted]
        if isinstance(planned, Refused):
            raise planned
        return planned

    def _without(self, gone: frozenset[int]) -> Enter:
        drawing, all_gone = self._drawing, set(gone)
        elements: dict[_Element, None] = {}
        subpaths = []
        for line in sorted(all_gone):
            self._keep_fill(line, all_gone)
            self._keep_stroke(line, self._overlaps.paths[line], all_gone)
            node = int(drawing.line_node[line])
            for above in reversed(drawing.ancestors(node)[:-1]):
                if all_gone.issuperset(self._belongs.below(above)) and self._only_lines(above):
                    self._refuse_shown_twice(above, all_gone)
                    self._references.refuse_to_change(drawing.nodes[above].element)
                    elements[drawing.nodes[above].element] = None
                    break
            else:
                self._refuse_shown_twice(node, all_gone)
                self._references.refuse_to_change(drawing.nodes[node].element)
                subpaths.append((drawing.nodes[node].element, line))

        def enter(edits: Edits) -> None:
            for element in elements:
                if not any(above in elements for above in element.iterancestors()):
                    edits.remove(element)
            for element, line in subpaths:
                edits.change(element, int(drawing.geometry.subpath[line]), Drop())

        return enter

    def stretches(self, runs: Mapping[int, Sequence[Run]]) -> Enter:
        """Take stretches out of lines; raises Refused where a filled area would change."""
        changes: list[tuple[_Element, int, Cut]] = []
        for line, of in runs.items():
            node = int(self._drawing.line_node[line])
            self._refuse_shown_twice(node, set())
            for run in of:
                if line not in run.on:  # else its own first lap stays
                    part = self._cutout_points(line, run.start, run.end)
                    self._keep_stroke(line, shapely.LineString(part), set(runs))
            self._references.refuse_to_change(self._drawing.nodes[node].element)
            if self._drawing.nodes[node].style.fill != "none":
                self._refuse_other_fill(line, of)
            cut = Cut(tuple(self._stretch(line, run) for run in of))
            subpath = int(self._drawing.geometry.subpath[line])
            changes.append((self._drawing.nodes[node].element, subpath, cut))

        def enter(edits: Edits) -> None:
            for element, subpath, cut in changes:
                edits.change(element, subpath, cut)

        return enter

    def _only_lines(self, node: int) -> bool:
        """Whether an element is no layer and draws nothing but lines, hidden ones included."""
        element, kind = self._drawing.nodes[node].element, self._drawing.nodes[node].kind
        if kind != "g":
            return True
        names = [local_name(child) for child in element.iter("*")]
        drawn = len({int(self._drawing.line_node[line]) for line in self._belongs.below(node)})
        shapes = sum(name in SHAPES or name == "use" for name in names)
        lines_only = drawn == shapes and set(names) <= {"g", "title", "desc", *SHAPES}
        return lines_only and not is_layer(element)

    def _refuse_shown_twice(self, node: int, gone: set[int]) -> None:
        """What is drawn in several places may only go where it is doubled in all of them."""
        drawing = self._drawing
        element = drawing.nodes[node].element
        shown = drawing.nodes_of(element)
        if len(shown) == 1 or all(gone & set(self._belongs.below(n)) for n in shown):
            return
        # Where both lines are in one symbol, it is doubled wherever that is drawn.
        uses = set(self._belongs.uses(node))
        beside = {k for line in self._belongs.below(node) for k in self._overlaps.beside(line)}
        partners = (int(drawing.line_node[k]) for k in beside - gone)
        if not any(uses.intersection(self._belongs.uses(partner)) for partner in partners):
            where = drawing.source.span(element).line
            raise Refused(
                f"the line on line {where} of the file is drawn in several places by a <use>, and "
                "doubled in one of them only"
            )

    def _keep_fill(self, line: int, gone: set[int]) -> None:
        """A filled line may go only where another like it, filled too, stays."""
        nodes, line_node = self._drawing.nodes, self._drawing.line_node
        if nodes[int(line_node[line])].style.fill == "none":
            return
        if self._drawing.geometry.offsets[line + 1] - self._drawing.geometry.offsets[line] < 3:
            return
        filled = (
            nodes[int(line_node[twin])].style.fill != "none"
            for twin in self._overlaps.twins(line)
            if twin not in gone
        )
        if not any(filled):
            raise Refused(_FILL_AND_STROKE)

    def _keep_stroke(self, line: int, part: shapely.LineString, gone: set[int]) -> None:
        """A part of a line that is seen may go only where others are seen all along it."""
        if not self._is_stroked(line):
            return
        beside = {*self._overlaps.beside(line), *self._overlaps.twins(line)} - gone
        seen = [other for other in beside if self._is_stroked(other)]
        if not self._overlaps.covers(seen, part):
            raise Refused(_FILL_AND_STROKE)

    def _is_stroked(self, line: int) -> bool:
        """Whether a line is seen as one: in the colour of its own fill it is not."""
        style = self._drawing.nodes[int(self._drawing.line_node[line])].style
        return style.stroke not in ("none", style.fill) and style.stroke_width > 0

    def _refuse_other_fill(self, line: int, runs: Sequence[Run]) -> None:
        """What remains is filled along its chords: that must be the area that was filled."""
        parts = [self._cutout_points(line, 0.0, None), *self._remains(line, runs)]
        areas = [
            shapely.make_valid(shapely.Polygon(part)) if len(part) > 2 else shapely.Polygon()
            for part in parts
        ]
        changed = areas[0].symmetric_difference(shapely.union_all(areas[1:])).area
        slack = sum(run.end - run.start for run in runs) * self._cutout.distances.same_place_mm
        if changed > _FILL_MM2 + slack:
            raise Refused("without the doubled run its filled area would be another")

    def _remains(self, line: int, runs: Sequence[Run]) -> list[Floats]:
        """The points of what is left of a line, part by part."""
        total = self._cutout.length(line)
        ordered = sorted(runs)
        gaps = [(a.end, b.start) for a, b in pairwise(ordered)]
        if self._drawing.geometry.closed[line]:
            head = self._cutout_points(line, 0.0, ordered[0].start)
            tail = self._cutout_points(line, ordered[-1].end, total)
            ends = [np.vstack([tail, head])]
        else:
            ends = [
                self._cutout_points(line, a, b)
                for a, b in ((0.0, ordered[0].start), (ordered[-1].end, total))
                if b - a > _STUB_MM
            ]
        return ends + [self._cutout_points(line, a, b) for a, b in gaps if b > a]

    def _cutout_points(self, line: int, start: float, end: float | None) -> Floats:
        blade = blade_of(self._drawing, np.array([line]))
        return blade.part(0, start, float(blade.total[0]) if end is None else end)

    def _stretch(self, line: int, run: Run) -> Stretch:
        """A run as a stretch of the line's own path data."""
        cutout, subpath = self._cutout, subpath_of(self._cutout, line)
        matrix = self._drawing.nodes[int(self._drawing.line_node[line])].matrix
        start, end, total = run.start, run.end, cutout.length(line)
        closed = bool(self._drawing.geometry.closed[line])
        if not closed:
            start, end = (0.0 if start < _STUB_MM else start), min(end, total)
            end = total if total - end < _STUB_MM else end

        def place(along: float) -> Place:
            around = [max(along - _CORNER_MM, 0), along, min(along + _CORNER_MM, total)]
            low, here, high = places(subpath, matrix, around, cutout.distances.flatten_mm)
            return (high[0], 0.0) if low[0] != high[0] and low[1] != 1.0 else here

        ends = []
        for along, other in zip((start, end), run.on, strict=True):
            free = not closed and along in (0.0, total)
            at = None if free else self._on_line(line, along, other)
            ends.append(None if at is None else to_user(matrix, at))
        return Stretch(place(start), place(end), ends[0], ends[1])

    def _on_line(self, line: int, along: float, other: int) -> Floats | None:
        """The place on another line nearest to a place on this one, if it is not there."""
        if line == other:
            return None
        at = self._cutout_points(line, along, along)[0]
        found = self._overlaps.nearest(at, other)
        apart = float(np.hypot(*(found - at)))
        near = _TOUCH_MM < apart <= 2 * self._cutout.distances.same_place_mm
        return found if near else None
