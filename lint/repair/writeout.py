"""Draws in place what a `use` shows, or an svg inside the svg: as groups, with the same picture."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from matready.lint.cutting import Cutout
from matready.lint.drawing import Effect
from matready.lint.reading.transforms import BadTransform, Matrix, parse_transform
from matready.lint.reading.units import format_number
from matready.lint.reading.vocabulary import Kind, Kinds
from matready.lint.repair.declared import Declared
from matready.lint.repair.edits import Edits
from matready.lint.repair.plan import Plan
from matready.lint.repair.references import References
from matready.lint.repair.refusal import Refused
from matready.lint.repair.splice import Made, Part
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

_PLACING = frozenset(("x", "y", "width", "height"))
_FRAME = _PLACING | {"viewBox", "preserveAspectRatio", "overflow", "refX", "refY", "version"}
_REFERENCE = frozenset(("href", "xlink:href"))
_LABELS = frozenset(("label", "data-name", "aria-label"))
# What is no shape of its own and belongs to what it stands in.
_KEPT = frozenset(
    ("title", "desc", "tspan", "textPath", "animate", "animateTransform", "animateMotion", "set")
)
_PERCENT = re.compile(r"[0-9.]%")
_INDENT = re.compile(rb"(\r?\n|\r)[ \t]*\Z")
_WIDEST = 200  # no line is indented more
_MOST = 20_000  # nodes: what is repeated more often is left as short as it is
_DECIMALS = 9
_SAME = 1e-9
_SPARE_MM = 0.005


_Shift = tuple[str, str]  # a line break with its indentation, and what stands for it in a copy


class Writer:
    """Writes out the references of one cutout."""

    def __init__(self, cutout: Cutout, declared: Declared, references: References) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._source = cutout.drawing.source
        self._declared = declared
        self._references = references
        self._kinds = Kinds(self._source.root)
        self._below: dict[int, list[int]] = {}
        self._lines_of: dict[int, list[int]] = {}
        for line, drawn in enumerate(self._drawing.line_node.tolist()):
            self._lines_of.setdefault(drawn, []).append(line)
        for number, node in enumerate(self._drawing.nodes):
            self._below.setdefault(node.parent, []).append(number)

    def plan(self, nodes: Sequence[int]) -> Plan:
        """How to write out some nodes; Refused where the picture would not be the same."""
        inside = self._inside(nodes)
        if len(inside) > _MOST:
            raise Refused(f"it stands for {len(inside)} shapes and groups, too many to write out")
        for effect in self._drawing.effects:
            if effect.kind == "viewport" and effect.node in inside:
                self._refuse_cut_off(effect)
        holds = frozenset(line for node in inside for line in self._lines_of.get(node, ()))

        def enter(edits: Edits) -> None:
            for node in nodes:
                if self._drawing.nodes[node].kind == "use":
                    tag = edits.tag(self._drawing.nodes[node].element)
                    edits.replace(tag.start, tag.end, tuple(self._use(edits, node, ("", ""))))
                else:
                    self._unframe(edits, node)
            self._remove_targets(edits, inside)

        return Plan(holds, "what was shown by reference was drawn in its place", enter)

    def _inside(self, nodes: Sequence[int]) -> set[int]:
        """The nodes and all below them."""
        found, waiting = set[int](), list(nodes)
        while waiting:
            node = waiting.pop()
            found.add(node)
            waiting += self._below.get(node, ())
        return found

    def _use(self, edits: Edits, node: int, shift: _Shift) -> Iterator[Part]:
        """A group in the place of a `use`, with a copy of what it shows."""
        element = self._drawing.nodes[node].element
        tag = edits.tag(element)
        gap = self._line_break(tag.start)
        gap = gap.replace(*shift) if shift[0] else gap
        inner = gap and gap + "  "
        name = self._group_name(tag.name)
        nested = self._drawing.nodes[node].instance != node
        without, extra = {"id"} if nested else set(), self._name_of(element) if nested else {}
        text = tag.again(
            without | _PLACING | _REFERENCE, extra | self._transform(node, True), close=False
        )
        yield Made(text.replace(f"<{tag.name}", f"<{name}", 1), element)
        for child in element.iterchildren("*"):
            if local_name(child) in _KEPT:
                start, _, end = self._source.text_span(child)
                yield inner + self._source.text[start:end].decode("utf-8")
        yield inner
        for below in self._below.get(node, ()):
            start = self._source.text_span(self._drawing.nodes[below].element)[0]
            yield from self._copy(edits, below, (self._line_break(start), inner))
        if not self._below.get(node):
            yield from self._undrawn(edits, node)
        yield f"{gap}</{name}>"

    def _undrawn(self, edits: Edits, node: int) -> Iterator[Part]:
        """What a `use` shows that has no node: a text, a picture, or what is not displayed."""
        element = self._drawing.nodes[node].element
        found = [str(v) for k, v in element.attrib.items() if str(k).rpartition("}")[2] == "href"]
        wanted = found[0].strip().removeprefix("#") if found else ""
        above = {self._drawing.nodes[n].element for n in self._drawing.ancestors(node)}
        for target in self._source.root.iter("*"):
            if target.get("id") == wanted and wanted:
                if target in above:
                    raise Refused(f"the <use> {self._on_line(element)} goes round in a circle")
                yield from self._as_it_is(edits, target, ("", ""))
                return

    def _copy(self, edits: Edits, node: int, shift: _Shift) -> Iterator[Part]:
        """A copy of a drawn element, without ids, with all it refers to drawn in place."""
        drawn = self._drawing.nodes[node]
        if drawn.kind == "use":
            yield from self._use(edits, node, shift)
            return
        tag, extra = edits.tag(drawn.element), self._name_of(drawn.element)
        if drawn.kind in ("symbol", "svg"):
            self._refuse_percent(drawn.element)
            extra |= self._transform(node, False)
            text = tag.again({"id"} | _FRAME, extra, close=tag.empty)
            name = self._group_name(tag.name)
            yield Made(text.replace(f"<{tag.name}", f"<{name}", 1), drawn.element)
        else:
            name = tag.name
            yield Made(tag.again({"id"}, extra, close=tag.empty), drawn.element)
        if not tag.empty:
            nodes = {self._drawing.nodes[n].element: n for n in self._below.get(node, ())}
            yield from self._content(edits, drawn.element, nodes, shift)
            yield f"</{name}>"

    def _as_it_is(self, edits: Edits, element: _Element, shift: _Shift) -> Iterator[Part]:
        """A copy of an element that draws no line, without ids."""
        tag = edits.tag(element)
        yield Made(tag.again({"id"}, self._name_of(element), close=tag.empty), element)
        if not tag.empty:
            yield from self._content(edits, element, {}, shift)
            yield f"</{tag.name}>"

    def _content(
        self, edits: Edits, element: _Element, nodes: dict[_Element, int], shift: _Shift
    ) -> Iterator[Part]:
        """What stands between an element's tags; definitions stay where they are."""
        _, at, end = self._source.text_span(element)
        for child in element.iterchildren("*"):
            start, _, after = self._source.text_span(child)
            yield self._between(at, start, shift)
            if child in nodes:
                yield from self._copy(edits, nodes[child], shift)
            elif not self._is_definition(child):
                yield from self._as_it_is(edits, child, shift)
            at = after
        yield self._between(at, self._source.text.rindex(b"</", at, end), shift)

    def _between(self, start: int, end: int, shift: _Shift) -> str:
        """What stands between tags, indented as it is in its new place."""
        text = self._source.text[start:end].decode("utf-8")
        return text.replace(*shift) if text.isspace() and shift[0] else text

    def _is_definition(self, element: _Element) -> bool:
        """Whether an element is never shown in its own place, but by what names it."""
        known = self._kinds.of(element) in (Kind.NOTHING, Kind.SYMBOL)
        return known and local_name(element) not in _KEPT

    def _unframe(self, edits: Edits, node: int) -> None:
        """Make an svg inside the svg a group."""
        element = self._drawing.nodes[node].element
        self._refuse_percent(element)
        tag = edits.tag(element)
        text = tag.again(_FRAME, self._transform(node, False), close=tag.empty)
        name = self._group_name(tag.name)
        made = Made(text.replace(f"<{tag.name}", f"<{name}", 1), element)
        edits.replace(tag.start, tag.tag_end, (made,))
        if not tag.empty:
            at = tag.text.rindex(b"</", tag.start, tag.end)
            edits.replace(at, tag.end, (f"</{name}>",))

    def _transform(self, node: int, uses: bool) -> dict[str, str]:
        """The transform attribute of the group that stands for a `use` or a viewport."""
        drawn = self._drawing.nodes[node]
        element = drawn.element
        if self._declared.moves_by_css(element) or not _PLACING.isdisjoint(
            self._declared.styled(element)
        ):
            raise Refused(f"the <{drawn.kind}> {self._on_line(element)} is placed by a style")
        own = str(element.get("transform", "")).strip()
        try:
            before = _square(self._drawing.nodes[drawn.parent].matrix) @ _square(
                parse_transform(own) if own else (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
            )
            inner = np.linalg.solve(before, _square(drawn.matrix))
        except (BadTransform, np.linalg.LinAlgError):
            raise Refused(f"the transform {self._on_line(element)} cannot be undone") from None
        (a, _, e), (_, d, f), _ = inner.tolist()
        words = [own] if own and own != "none" else []
        if max(abs(e), abs(f)) > _SAME:
            words.append(f"translate({format_number(e, _DECIMALS)} {format_number(f, _DECIMALS)})")
        if not uses and max(abs(a - 1), abs(d - 1)) > _SAME:
            sizes = [format_number(size, 12) for size in ((a,) if a == d else (a, d))]
            words.append(f"scale({' '.join(sizes)})")
        return {"transform": " ".join(words)} if words else {}

    def _name_of(self, element: _Element) -> dict[str, str]:
        """The id as a mere name: it may be what tells which lines are folds."""
        name = element.get("id")
        labelled = any(str(key).rpartition("}")[2] in _LABELS for key in element.attrib)
        return {"data-name": str(name)} if name and not labelled else {}

    def _refuse_percent(self, element: _Element) -> None:
        for part in element.iterdescendants("*"):
            if any(_PERCENT.search(str(v)) for k, v in part.attrib.items() if k != "offset"):
                raise Refused(f"a size {self._on_line(part)} is a share of the frame it stands in")

    def _refuse_cut_off(self, effect: Effect) -> None:
        """Refuse a viewport that shows not all of what is drawn in it."""
        assert effect.box is not None
        inside = self._inside([effect.node])
        a, b, c, d, e, f = effect.matrix
        scale = sqrt(abs(a * d - b * c))
        if not scale:
            return  # nothing of it shows
        low, high = np.reshape(effect.box, (2, 2))
        turn = np.linalg.inv(np.array([[a, c], [b, d]]))
        geometry = self._drawing.geometry
        for line in (line for node in inside for line in self._lines_of.get(node, ())):
            points = geometry.line(line)
            own = (points - (e, f)) @ turn.T
            reach = (self._half_mm(int(self._drawing.line_node[line])) - _SPARE_MM) / scale
            if (own < low + reach).any() or (own > high - reach).any():
                raise Refused(
                    f"the frame {self._on_line(self._drawing.shown(effect.node))} cuts off "
                    "part of what it shows; let it show all, or draw it in place by hand"
                )
        if any(sight.node in inside for sight in self._drawing.sights):
            raise Refused("a text or picture in it may be cut off by its frame; look at it by eye")

    def _half_mm(self, node: int) -> float:
        """Half the width of a node's stroke on the page."""
        drawn = self._drawing.nodes[node]
        if drawn.style.stroke == "none":
            return 0.0
        a, b, c, d, _, _ = drawn.matrix
        return drawn.style.stroke_width / 2 * sqrt(abs(a * d - b * c))

    def _remove_targets(self, edits: Edits, inside: set[int]) -> None:
        """Take away definitions that were shown here and that nothing else needs."""
        nodes = self._drawing.nodes
        shown = {nodes[n].element for n in inside if nodes[nodes[n].parent].kind == "use"}
        removed = set[object]()
        for target in shown:
            defined = local_name(target) == "symbol" or any(
                local_name(above) == "defs" for above in target.iterancestors()
            )
            if defined and not self._references.named(target):
                removed.add(target)
                edits.remove(target)
        for target in shown:
            above = target.getparent()
            if above is not None and local_name(above) == "defs" and removed.issuperset(above):
                edits.remove(above)

    def _group_name(self, name: str) -> str:
        return "".join(name.rpartition(":")[:2]) + "g"

    def _on_line(self, element: _Element) -> str:
        return f"on line {self._source.span(element).line} of the file"

    def _line_break(self, start: int) -> str:
        """The line break and indentation before a place; nothing where tags follow each other."""
        found = _INDENT.search(self._source.text, max(start - _WIDEST, 0), start)
        return found[0].decode("utf-8") if found else ""


def _square(matrix: Matrix) -> np.ndarray:
    a, b, c, d, e, f = matrix
    return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
