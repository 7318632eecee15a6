"""The edits of one round, gathered fix by fix, then turned into splices in one go."""

from __future__ import annotations

from collections import defaultdict
from math import ceil, log10, sqrt
from typing import TYPE_CHECKING

from matready.lint.drawing import Drawing
from matready.lint.reading.elements import Measures, read_shape
from matready.lint.reading.shapes import PathShape, PolyShape, Shape
from matready.lint.reading.units import ROOT_FONT_PX, Extent, format_number
from matready.lint.repair.pathtext import MoveEnds, Operation, rewrite
from matready.lint.repair.refusal import Refused
from matready.lint.repair.shapepath import data_of_shape
from matready.lint.repair.splice import Copied, Made, Part, Splice, removal
from matready.lint.repair.tags import Tag, read_tag
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

_GEOMETRY = frozenset(
    (
        "d",
        "x",
        "y",
        "width",
        "height",
        "rx",
        "ry",
        "cx",
        "cy",
        "r",
        "x1",
        "y1",
        "x2",
        "y2",
        "points",
    )
)
_FINE = 5  # new numbers have this many decimals in mm


class Edits:
    """Edits to one drawing's source; every element is named by its lxml element."""

    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self._source = drawing.source
        self._splices: list[Splice] = []
        self._attributes: dict[_Element, dict[str, str | None]] = defaultdict(dict)
        self._operations: dict[_Element, dict[int, Operation]] = defaultdict(dict)
        self._removed: set[_Element] = set()
        self._parts: dict[_Element, list[tuple[Made, str]]] = defaultdict(list)
        self._styles = "".join(
            str(text)
            for element in drawing.source.root.iter("*")
            if local_name(element) == "style"
            for text in element.itertext()
        )
        self._ids = {str(element.get("id")) for element in drawing.source.root.iter("*")}

    def tag(self, element: _Element) -> Tag:
        """The element's start tag; Refused where its bytes cannot be told."""
        return read_tag(self._source, element)

    def new_id(self, wanted: str) -> str:
        """An id that no element has: as wanted, or with "piece" and a number after it."""
        name, number = wanted, 1
        while name in self._ids or f"#{name}" in self._styles:
            name = f"{wanted}-piece" if number == 1 else f"{wanted}-piece-{number}"
            number += 1
        self._ids.add(name)
        return name

    def insert(self, at: int, parts: tuple[Part, ...]) -> None:
        """Put parts in at an offset of the text."""
        self._splices.append(Splice(at, at, parts))

    def replace(self, start: int, end: int, parts: tuple[Part, ...]) -> None:
        """Put parts in place of a stretch of the text."""
        self._splices.append(Splice(start, end, parts))

    def take(self, element: _Element) -> Copied:
        """Take an element away from its place; what is returned puts it in elsewhere."""
        tag = self.tag(element)
        self._splices.append(removal(tag.text, tag.start, tag.end))
        return Copied(tag.start, tag.end)

    def remove(self, element: _Element) -> None:
        """Take an element away for good."""
        if element not in self._removed:
            self._removed.add(element)
            self.take(element)

    def set(self, element: _Element, name: str, value: str | None) -> None:
        """Give an element's attribute a value, or take it away with None."""
        self._attributes[element][name] = value

    def change(self, element: _Element, subpath: int, operation: Operation) -> None:
        """Change one sub-path of a shape."""
        self._operations[element][subpath] = operation

    def split_off(self, element: _Element, made: Made, data: str) -> None:
        """Say that a new element draws a part of another, by this path data."""
        self._parts[element].append((made, data))

    def splices(self) -> list[Splice]:
        """All edits as splices; Refused where one cannot be made."""
        found = list(self._splices)
        for element, operations in self._operations.items():
            if element in self._removed:
                continue
            reshaped = self._reshaped(element, operations)
            if reshaped is not None:
                found += reshaped
                continue
            tag, parts = self.tag(element), self._parts[element]
            found.append(removal(tag.text, tag.start, tag.end))
            if parts:  # all of it went to other places: its first part is the element itself
                made, data = parts[0]
                found = [one.with_instead(made, Copied(tag.start, tag.end)) for one in found]
                found.append(tag.set("d", data))
        for element, values in self._attributes.items():
            tag = self.tag(element)
            found += [
                tag.drop(name) if value is None else tag.set(name, value)
                for name, value in values.items()
                if value is not None or name in tag.attributes
            ]
        return found

    def _reshaped(self, element: _Element, operations: dict[int, Operation]) -> list[Splice] | None:
        """Splices that change a shape; None where nothing of it is left."""
        tag, shape = self.tag(element), shape_of(self.drawing, element)
        decimals = self.decimals(element)
        data = data_of(shape, tag, decimals)
        changed = rewrite(data, operations, decimals)
        if not changed.strip():
            return None
        if isinstance(shape, PathShape):
            return [tag.set("d", changed)]
        if all(isinstance(one, MoveEnds) and not one.close for one in operations.values()):
            if isinstance(shape, PolyShape):
                return [tag.set("points", changed.removeprefix("M"))]
            return self._moved_line(tag, operations[0], decimals)
        # What is no longer the whole shape becomes a path of the same look.
        dropped = [tag.drop(name) for name in tag.attributes if name in _GEOMETRY]
        return [*dropped, tag.set("d", changed), *tag.rename("path")]

    def _moved_line(self, tag: Tag, operation: Operation, decimals: int) -> list[Splice]:
        assert isinstance(operation, MoveEnds)
        splices = []
        for number, place in ((1, operation.start), (2, operation.end)):
            if place is not None:
                splices.append(tag.set(f"x{number}", format_number(place.real, decimals)))
                splices.append(tag.set(f"y{number}", format_number(place.imag, decimals)))
        return splices

    def decimals(self, element: _Element) -> int:
        """How many decimals a new number of this element needs."""
        a, b, c, d, _, _ = self.drawing.nodes[self.drawing.nodes_of(element)[0]].matrix
        scale = sqrt(abs(a * d - b * c))
        if not scale:
            raise Refused("its transform squeezes it to nothing")
        return min(max(ceil(_FINE + log10(scale)), 0), 12)


def shape_of(drawing: Drawing, element: _Element) -> Shape:
    """The element's shape as its attributes tell it; Refused where something else does too."""

    def stop(note: str) -> None:
        raise Refused(note)

    kind = local_name(element)
    attributes = {str(key): str(value) for key, value in element.attrib.items()}
    if any(attributes.get(name, "").strip().endswith("%") for name in _GEOMETRY):
        raise Refused("its size is given in percent")
    measures = Measures(attributes, {}, Extent(None, None), ROOT_FONT_PX, stop)
    shape = read_shape(kind, measures)
    if shape is None:
        raise Refused("it draws nothing by its own attributes")
    return shape


def data_of(shape: Shape, tag: Tag, decimals: int) -> str:
    """The shape as path data, with its own spelling where it has one."""
    if isinstance(shape, PathShape):
        raw = tag.raw("d")
        return shape.d if raw is None or "&" in raw else raw
    if isinstance(shape, PolyShape) and not shape.closed:
        raw = tag.raw("points")
        return "M" + (shape.points if raw is None or "&" in raw else raw)
    return data_of_shape(shape, decimals)
