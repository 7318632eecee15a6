"""The tree of a file as it is drawn: groups, uses, nested viewports and the shapes in them.

Content outside a nested svg's or symbol's viewport is not cut off: a knife knows no clipping.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lxml import etree

from matready.lint.drawing import Node, Page
from matready.lint.reading import vocabulary
from matready.lint.reading.elements import Measures, read_shape
from matready.lint.reading.placing import own_matrix
from matready.lint.reading.shapes import Shape
from matready.lint.reading.sheets import Sheets
from matready.lint.reading.style import PRESENTATION, Cascade, Computed
from matready.lint.reading.transforms import IDENTITY, Matrix, is_flat, multiply, translation
from matready.lint.reading.units import MM_PER_PX, Extent
from matready.lint.reading.viewport import (
    read_aspect,
    read_page,
    read_view_box,
    view_matrix,
)
from matready.lint.reading.vocabulary import Kind
from matready.lint.source import MAX_DEPTH, Source, Unreadable, local_name

# A use of uses of uses multiplies without end; no real sheet comes near this many elements.
MAX_NODES = 200_000

_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_SIZES = ("width", "height")
_MM: Matrix = (MM_PER_PX, 0.0, 0.0, MM_PER_PX, 0.0, 0.0)


@dataclass(slots=True)
class Walked:
    """What the walk found: nodes, shapes with their matrices and nodes, counts and notes.

    `notes` are (node, text) pairs, node -1 for the whole file; the counts are as in Drawing.
    """

    page: Page
    nodes: list[Node] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    matrices: list[Matrix] = field(default_factory=list)
    shape_nodes: list[int] = field(default_factory=list)
    hidden: int = 0
    put_no_line: dict[str, int] = field(default_factory=dict)
    notes: list[tuple[int, str]] = field(default_factory=list)


@dataclass(slots=True)
class _Place:
    """Where an element is about to be drawn: what it takes over from above."""

    element: etree._Element
    parent: int
    instance: int
    matrix: Matrix
    style: Computed
    extent: Extent
    uses: int = 0  # how many uses lie above
    sizes: Mapping[str, str] | None = None  # width and height that a use gives to its target


def walk_tree(source: Source) -> Walked:
    """Walk the whole tree; raises Unreadable where uses multiply beyond MAX_NODES."""
    return _Walk(source).run()


class _Walk:
    def __init__(self, source: Source) -> None:
        self._root = source.root
        self._kinds = vocabulary.Kinds(source.root)
        styles = list(source.root.iter(*self._kinds.tags("style")))
        self._sheets = Sheets(source.root, styles) if styles else None
        self._cascade = Cascade(self._sheets)
        self._targets: dict[str, etree._Element] | None = None
        self._stack: list[_Place] = []

    def run(self) -> Walked:
        style, attributes = self._style(self._root, self._cascade.start, Extent(None, None))
        css = style.css

        def get(name: str) -> str | None:
            return css.get(name) or attributes.get(name)

        viewport = read_page(get, style.inherited.font_px)
        self.walked = Walked(viewport.page)
        for text in viewport.notes:
            self._note(-1, text)
        matrix = multiply(_MM, self._own(0, attributes, style, viewport.extent))
        if matrix != _MM:
            self._note(0, "the page itself has a transform, which programs treat differently")
        matrix = multiply(matrix, viewport.matrix)
        self._add(_Place(self._root, -1, -1, matrix, style, viewport.extent), "svg", matrix, style)
        if not style.shown or not viewport.drawn or not vocabulary.passes(attributes):
            self.walked.hidden += self._count_shapes(self._root)
        else:
            self._push(self._root, 0, -1, matrix, style, viewport.extent, 0)
            while self._stack:
                self._draw(self._stack.pop())
        for element in self._root.iter(*self._kinds.tags(*vocabulary.PUT_NO_LINE)):
            name = local_name(element)
            self.walked.put_no_line[name] = self.walked.put_no_line.get(name, 0) + 1
        for text in (*self._kinds.notes, *self._cascade.notes, *self._sheet_notes()):
            self._note(-1, text)
        return self.walked

    def _sheet_notes(self) -> Iterable[str]:
        if self._sheets:
            yield from self._sheets.notes
        for before in self._root.itersiblings(preceding=True):
            if isinstance(before, etree._ProcessingInstruction) and (
                before.target == "xml-stylesheet"
            ):
                yield "a style sheet outside the file (xml-stylesheet) is not opened"

    def _note(self, node: int, text: str) -> None:
        self.walked.notes.append((node, text))

    def _style(
        self, element: etree._Element, parent: Computed, extent: Extent
    ) -> tuple[Computed, dict[str, str]]:
        items: Any = element.items()  # the stubs allow for bytes
        pairs = tuple([pair for pair in items if pair[0] in PRESENTATION])
        attributes = dict(items)
        rules = self._sheets.match(element) if self._sheets else ()
        inline = attributes.get("style")
        if not pairs and not inline and not rules and parent.plain:
            return parent, attributes
        return self._cascade.compute(parent, pairs, inline, rules, extent), attributes

    def _push(
        self, element: etree._Element, node: int, instance: int, matrix: Matrix,
        style: Computed, extent: Extent, uses: int,
    ) -> None:  # fmt: skip
        """Put the children on the stack, the first on top."""
        for child in element.iterchildren("*", reversed=True):
            self._stack.append(_Place(child, node, instance, matrix, style, extent, uses))

    def _add(self, place: _Place, kind: str, matrix: Matrix, style: Computed) -> int:
        nodes = self.walked.nodes
        index = len(nodes)
        if index >= MAX_NODES:
            raise Unreadable(
                f"its <use> elements multiply to more than {MAX_NODES} parts; "
                "draw the copies you need and export it again"
            )
        instance = index if kind == "use" and place.instance < 0 else place.instance
        nodes.append(Node(place.element, kind, place.parent, instance, style.style, matrix))
        return index

    def _draw(self, place: _Place) -> None:
        element = place.element
        kind = self._kinds.of(element)
        if kind is Kind.NOTHING or (kind is Kind.SYMBOL and place.sizes is None):
            return
        style, attributes = self._style(element, place.style, place.extent)
        if not style.shown or not vocabulary.passes(attributes):
            self.walked.hidden += self._count_shapes(element)
            return
        node = len(self.walked.nodes)
        matrix = place.matrix
        if "transform" in attributes or style.css:
            own = self._own(node, attributes, style, place.extent)
            if own is not IDENTITY:
                matrix = multiply(matrix, own)
        name = local_name(element)
        if kind is Kind.SHAPE:
            self._shape(place, name, matrix, style, attributes)
        elif kind is Kind.GROUP:
            self._add(place, name, matrix, style)
            self._push(element, node, place.instance, matrix, style, place.extent, place.uses)
        elif kind is Kind.SWITCH:
            self._switch(place, matrix, style)
        elif kind is Kind.USE:
            self._use(place, matrix, style, attributes)
        else:
            self._nested(place, name, matrix, style, attributes)

    def _measures(
        self, node: int, attributes: Mapping[str, str], style: Computed, extent: Extent
    ) -> Measures:
        return Measures(
            attributes, style.css, extent, style.inherited.font_px,
            lambda text: self._note(node, text),
        )  # fmt: skip

    def _shape(
        self, place: _Place, name: str, matrix: Matrix, style: Computed,
        attributes: Mapping[str, str],
    ) -> None:  # fmt: skip
        node = self._add(place, name, matrix, style)
        walked = self.walked
        used = style.style
        # A line has no inside, so a fill alone does not show it.
        painted = used.stroke != "none" or (used.fill != "none" and name != "line")
        if not painted or not used.visible or is_flat(matrix):
            walked.hidden += 1
            return
        shape = read_shape(name, self._measures(node, attributes, style, place.extent))
        if shape is None:
            walked.hidden += 1
            return
        walked.shapes.append(shape)
        walked.matrices.append(matrix)
        walked.shape_nodes.append(node)

    def _switch(self, place: _Place, matrix: Matrix, style: Computed) -> None:
        """The first child whose conditions hold is drawn, and no other (SVG 2, "switch")."""
        node = self._add(place, "switch", matrix, style)
        for child in place.element.iterchildren("*"):
            attributes: Any = child.attrib
            if self._kinds.renders(child) and vocabulary.passes(attributes):
                self._stack.append(
                    _Place(child, node, place.instance, matrix, style, place.extent, place.uses)
                )
                return

    def _use(
        self, place: _Place, matrix: Matrix, style: Computed, attributes: Mapping[str, str]
    ) -> None:
        node = len(self.walked.nodes)
        measures = self._measures(node, attributes, style, place.extent)
        matrix = multiply(matrix, translation(measures.x("x"), measures.y("y")))
        self._add(place, "use", matrix, style)
        target = self._target(node, place, attributes)
        if target is None:
            return
        sizes = {side: size for side in _SIZES if (size := measures.text(side)) is not None}
        instance = self.walked.nodes[node].instance
        self._stack.append(
            _Place(target, node, instance, matrix, style, place.extent, place.uses + 1, sizes)
        )

    def _target(
        self, node: int, place: _Place, attributes: Mapping[str, str]
    ) -> etree._Element | None:
        """The element that a use shows; None, with a note, where there is nothing to show."""
        href = attributes.get("href", attributes.get(_XLINK_HREF, "")).strip()
        if not href.startswith("#"):
            what = f'asks for "{href[:60]}" outside the file' if href else "names nothing to use"
            self._note(node, f"<use> {what}, so nothing is drawn for it")
            return None
        if self._targets is None:
            self._targets = {}
            for element in self._root.iter("*"):
                self._targets.setdefault(element.get("id", ""), element)
        target = self._targets.get(href[1:]) if len(href) > 1 else None
        if target is None:
            self._note(node, f'<use> asks for "{href[:60]}", which is not in the file')
            return None
        if self._kinds.of(target) is Kind.NOTHING and (
            local_name(target) not in vocabulary.PUT_NO_LINE
        ):
            self._note(node, f'<use> asks for "{href[:60]}", which draws nothing by itself')
            return None
        if self._is_above(target, node) or place.uses >= MAX_DEPTH:
            self._note(node, f'<use> of "{href[:60]}" goes round in a circle, so it is left out')
            return None
        return target

    def _is_above(self, element: etree._Element, node: int) -> bool:
        nodes = self.walked.nodes
        while node >= 0:
            if nodes[node].element is element:
                return True
            node = nodes[node].parent
        return False

    def _nested(
        self, place: _Place, name: str, matrix: Matrix, style: Computed,
        attributes: Mapping[str, str],
    ) -> None:  # fmt: skip
        """A nested svg, or a symbol that a use shows: a viewport of its own (SVG 2, 8.2)."""
        node = len(self.walked.nodes)
        measures = self._measures(node, {**attributes, **(place.sizes or {})}, style, place.extent)
        x, y = measures.x("x"), measures.y("y")
        outer = place.extent
        width, height = measures.size("width", outer.width), measures.size("height", outer.height)
        width = outer.width if width is None else width
        height = outer.height if height is None else height
        notes: list[str] = []
        view_box = read_view_box(attributes.get, notes)
        aspect = read_aspect(attributes.get, notes)
        extent = Extent(width, height)
        inner = translation(x, y)
        empty = width == 0 or height == 0
        if view_box is not None:
            extent = Extent(view_box[2], view_box[3])
            empty = empty or 0 in extent
            if not empty:
                size = (width or view_box[2], height or view_box[3])
                inner = view_matrix(view_box, x, y, *size, aspect)
        self._add(place, name, multiply(matrix, inner), style)
        for text in notes:
            self._note(node, text)
        if empty:
            self.walked.hidden += self._count_shapes(place.element)
            return
        matrix = self.walked.nodes[node].matrix
        self._push(place.element, node, place.instance, matrix, style, extent, place.uses)

    def _own(
        self, node: int, attributes: Mapping[str, str], style: Computed, extent: Extent
    ) -> Matrix:
        """The element's own transform."""
        return own_matrix(attributes, style, extent, lambda text: self._note(node, text))

    def _count_shapes(self, element: etree._Element) -> int:
        """Shapes in a part that nobody sees; a use counts as one."""
        count = 0
        stack = [element]
        while stack:
            element = stack.pop()
            kind = self._kinds.of(element)
            if kind in (Kind.SHAPE, Kind.USE):
                count += 1
            elif kind in (Kind.GROUP, Kind.SWITCH, Kind.VIEWPORT):
                stack.extend(element.iterchildren("*"))
        return count
