"""The tree of a file as it is drawn: groups, uses, nested viewports and the shapes in them.

Content outside a nested svg's or symbol's viewport is not cut off: a knife knows no clipping.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any

from lxml import etree

from matready.lint.drawing import (
    OFF,
    TRANSPARENT,
    UNPAINTED,
    Area,
    Effect,
    Node,
    Sight,
    Unseen,
)
from matready.lint.reading import effects, vocabulary
from matready.lint.reading.elements import Measures, read_shape
from matready.lint.reading.placing import own_matrix
from matready.lint.reading.sheets import Sheets
from matready.lint.reading.sights import on_page, read_sight
from matready.lint.reading.style import PRESENTATION, Cascade, Computed, why_unseen
from matready.lint.reading.transforms import IDENTITY, Matrix, is_flat, multiply, translation
from matready.lint.reading.units import MM_PER_PX, Extent
from matready.lint.reading.viewport import read_nested, read_page
from matready.lint.reading.vocabulary import Kind
from matready.lint.reading.walked import Place, Walked
from matready.lint.source import MAX_DEPTH, Source, Unreadable, local_name

# A use of uses of uses multiplies without end; no real sheet comes near this many elements.
MAX_NODES = 200_000

_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_SIZES = ("width", "height")
_MM: Matrix = (MM_PER_PX, 0.0, 0.0, MM_PER_PX, 0.0, 0.0)


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
        self._stack: list[Place] = []
        self._off: list[tuple[Place, str]] = []  # what is not shown with all in it, and why
        # Which of them is looked into, why it is not seen, and the use that shows it.
        self._behind: tuple[etree._Element, str, etree._Element | None] | None = None
        self._areas: dict[etree._Element, Area] = {}
        self._in_area = False

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
        self._add(Place(self._root, -1, -1, matrix, style, viewport.extent), "svg", matrix, style)
        if not style.shown or not viewport.drawn or not vocabulary.passes(attributes):
            self.walked.hidden += self._count_shapes(self._root)
        else:
            self._push(self._root, 0, -1, matrix, style, viewport.extent, 0)
            self._draw_all()
            self._look_behind()
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
            self._stack.append(Place(child, node, instance, matrix, style, extent, uses))

    def _add(self, place: Place, kind: str, matrix: Matrix, style: Computed) -> int:
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

    def _draw(self, place: Place) -> None:
        element = place.element
        kind = self._kinds.of(element)
        if kind is Kind.NOTHING or (kind is Kind.SYMBOL and place.sizes is None):
            return
        style, attributes = self._style(element, place.style, place.extent)
        shown = style.shown or self._behind is not None
        if not shown or not vocabulary.passes(attributes):
            self.walked.hidden += self._count_shapes(element)
            if not shown and not self._in_area:
                self._off.append((place, OFF if style.style.opacity else TRANSPARENT))
            return
        node = place.parent if kind is Kind.SIGHT else len(self.walked.nodes)
        matrix = place.matrix
        if "transform" in attributes or style.css:
            own = self._own(node, attributes, style, place.extent)
            if own is not IDENTITY:
                matrix = multiply(matrix, own)
        if style.css and kind is not Kind.SIGHT:
            for name in effects.PROPERTIES:
                self._effect(name, node, matrix, style.css.get(name, "none"))
        self._draw_kind(kind, place, matrix, style, attributes)

    def _draw_kind(
        self, kind: Kind, place: Place, matrix: Matrix, style: Computed,
        attributes: Mapping[str, str],
    ) -> None:  # fmt: skip
        name = local_name(place.element)
        if kind is Kind.SHAPE:
            self._shape(place, name, matrix, style, attributes)
        elif kind is Kind.GROUP:
            node = self._add(place, name, matrix, style)
            self._push(place.element, node, place.instance, matrix, style, place.extent, place.uses)
        elif kind is Kind.SWITCH:
            self._switch(place, matrix, style)
        elif kind is Kind.USE:
            self._use(place, matrix, style, attributes)
        elif kind is Kind.SIGHT:
            self._sight(place, name, matrix, style, attributes)
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
        self, place: Place, name: str, matrix: Matrix, style: Computed,
        attributes: Mapping[str, str],
    ) -> None:  # fmt: skip
        node = self._add(place, name, matrix, style)
        walked = self.walked
        why = self._behind[1] if self._behind else why_unseen(style.style, name == "line")
        why = "" if self._in_area and why == UNPAINTED else why
        if is_flat(matrix):
            walked.hidden += 1
            return
        measures = self._measures(node, attributes, style, place.extent)
        if why:
            measures.note = _unsaid  # what is not seen is not read
        shape = read_shape(name, measures)
        if shape is None or why:
            walked.hidden += 1
        if shape is None:
            return
        if why:
            hidden, _, use = self._behind or (place.element, "", None)
            named = self._shown(node) if use is None else use
            walked.unseen.append(Unseen(why, named, hidden, shape, matrix))
            return
        walked.shapes.append(shape)
        walked.matrices.append(matrix)
        walked.shape_nodes.append(node)
        for text in (style.inherited.fill_server, style.inherited.stroke_server):
            if text:
                self._effect("pattern", node, matrix, text)

    def _shown(self, node: int) -> etree._Element:
        """What to name for a node: the outermost use that shows it, or its own element."""
        nodes = self.walked.nodes
        instance = nodes[node].instance
        return nodes[instance if instance >= 0 else node].element

    def _sight(
        self, place: Place, name: str, matrix: Matrix, style: Computed,
        attributes: Mapping[str, str],
    ) -> None:  # fmt: skip
        measures = self._measures(place.parent, attributes, style, place.extent)
        measures.note = _unsaid
        seen = read_sight(place.element, name, measures, style.style)
        if seen is None or is_flat(matrix):
            return
        element = place.element if place.instance < 0 else self._shown(place.instance)
        href = attributes.get("href", attributes.get(_XLINK_HREF, "")).strip()
        box = on_page(seen.box, matrix)
        self.walked.sights.append(
            Sight(name, element, place.element, matrix, place.parent, box, seen.words, href)
        )

    def _effect(self, kind: str, node: int, matrix: Matrix, text: str) -> None:
        """Note an effect, unless it names what is not in the file."""
        if text.lower() == "none" or self._behind or self._in_area:
            return
        name = effects.name_in(text)
        if name is None:
            self.walked.effects.append(Effect(kind, node, matrix, text))
            return
        target = self._by_id(name)
        if target is not None and local_name(target) == effects.AREAS[kind]:
            area = self._areas.get(target)
            if area is None:
                area = self._areas[target] = self._area(target)
            self.walked.effects.append(Effect(kind, node, matrix, text, area))

    def _area(self, element: etree._Element) -> Area:
        """The shapes in a clipPath or its like, by a walk of its own."""
        outside = self.walked, self._stack
        self.walked, self._stack, self._in_area = Walked(self.walked.page), [], True
        attributes: Any = element.attrib
        nowhere = Extent(None, None)
        style, _ = self._style(element, self._cascade.start, nowhere)
        matrix = self._own(-1, attributes, style, nowhere)
        self._push(element, -1, -1, matrix, style, nowhere, 0)
        with suppress(Unreadable):
            self._draw_all()
        inside, self._in_area = self.walked, False
        self.walked, self._stack = outside
        return effects.area_of(element, inside)

    def _draw_all(self) -> None:
        while self._stack:
            self._draw(self._stack.pop())

    def _look_behind(self) -> None:
        """Find the shapes in what is not shown, by one walk of its own for all of it."""
        seen, self.walked = self.walked, Walked(self.walked.page)
        with suppress(Unreadable):
            for place, why in self._off:
                instance = place.instance
                use = seen.nodes[instance].element if instance >= 0 else None
                self._behind = place.element, why, use
                self._stack = [replace(place, parent=-1, instance=-1)]
                self._draw_all()
        seen.unseen += self.walked.unseen
        self.walked, self._behind = seen, None

    def _switch(self, place: Place, matrix: Matrix, style: Computed) -> None:
        """The first child whose conditions hold is drawn, and no other (SVG 2, "switch")."""
        node = self._add(place, "switch", matrix, style)
        for child in place.element.iterchildren("*"):
            attributes: Any = child.attrib
            if self._kinds.renders(child) and vocabulary.passes(attributes):
                self._stack.append(
                    Place(child, node, place.instance, matrix, style, place.extent, place.uses)
                )
                return

    def _use(
        self, place: Place, matrix: Matrix, style: Computed, attributes: Mapping[str, str]
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
            Place(target, node, instance, matrix, style, place.extent, place.uses + 1, sizes)
        )

    def _target(
        self, node: int, place: Place, attributes: Mapping[str, str]
    ) -> etree._Element | None:
        """The element that a use shows; None, with a note, where there is nothing to show."""
        href = attributes.get("href", attributes.get(_XLINK_HREF, "")).strip()
        if not href.startswith("#"):
            what = f'asks for "{href[:60]}" outside the file' if href else "names nothing to use"
            self._note(node, f"<use> {what}, so nothing is drawn for it")
            return None
        target = self._by_id(href[1:]) if len(href) > 1 else None
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

    def _by_id(self, name: str) -> etree._Element | None:
        if self._targets is None:
            self._targets = {}
            for element in self._root.iter("*"):
                self._targets.setdefault(element.get("id", ""), element)
        return self._targets.get(name)

    def _is_above(self, element: etree._Element, node: int) -> bool:
        nodes = self.walked.nodes
        while node >= 0:
            if nodes[node].element is element:
                return True
            node = nodes[node].parent
        return False

    def _nested(
        self, place: Place, name: str, matrix: Matrix, style: Computed,
        attributes: Mapping[str, str],
    ) -> None:  # fmt: skip
        """A nested svg, or a symbol that a use shows: a viewport of its own (SVG 2, 8.2)."""
        node = len(self.walked.nodes)
        measures = self._measures(node, {**attributes, **(place.sizes or {})}, style, place.extent)
        inner = read_nested(attributes.get, measures)
        self._add(place, name, multiply(matrix, inner.matrix), style)
        for text in inner.notes:
            self._note(node, text)
        if inner.empty:
            self.walked.hidden += self._count_shapes(place.element)
            return
        if inner.box is not None and style.css.get("overflow", "hidden") in ("hidden", "scroll"):
            self.walked.effects.append(Effect("viewport", node, matrix, "", box=inner.box))
        matrix = self.walked.nodes[node].matrix
        self._push(place.element, node, place.instance, matrix, style, inner.extent, place.uses)

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


def _unsaid(_: str) -> None:
    """For what is left unread without a word."""
