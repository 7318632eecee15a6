"""The text of a group for one piece, and of what is brought into it with all it took from above."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from matready.lint.cutting.grouping import is_layer_name
from matready.lint.cutting.words import role_of
from matready.lint.drawing import Drawing
from matready.lint.repair.edits import Edits, data_of, shape_of
from matready.lint.repair.parts import Part
from matready.lint.repair.pathtext import Drop, extract
from matready.lint.repair.sites import Site
from matready.lint.repair.splice import Made
from matready.lint.repair.splice import Part as Text

if TYPE_CHECKING:
    from lxml.etree import _Element

_NO_NAME = re.compile(r"[^\w.-]+")
_INDENT = re.compile(rb"(\r?\n|\r)[ \t]*\Z")
_WIDEST = 200  # no line is indented more


@dataclass(frozen=True, slots=True)
class Move:
    """A part on its way; whether it goes to the end.

    `wraps` are the groups that it takes along anew, nearest first, without the attributes `alike`,
    which the groups that it enters have too.
    """

    part: Part
    wraps: tuple[int, ...]
    behind: bool
    alike: frozenset[str]


@dataclass(frozen=True, slots=True)
class NewGroup:
    """A group at a site; `name` is the piece's."""

    drawing: Drawing
    site: Site
    moves: Sequence[Move]
    name: str

    def enter(self, edits: Edits) -> None:
        """Enter the group, what is moved into it and what that leaves behind."""
        site, gap = self.site, self._line_break()
        front = [(*text, gap) for text in self._texts(edits, behind=False)]
        behind = [(gap, *text) for text in self._texts(edits, behind=True)]
        before, after = sum(front, ()), sum(behind, ())
        if not site.opens:
            edits.insert(site.before, before)
            edits.insert(site.after, after)
            return
        outer = edits.tag(self.drawing.nodes[site.container].element).name
        tag = "".join(outer.rpartition(":")[:2]) + "g"
        opening = (Made(f'<{tag} id="{edits.new_id(self._id())}">'), gap)
        closing = (gap, f"</{tag}>")
        if site.before < site.after:
            edits.insert(site.before, (*opening, *before))
            edits.insert(site.after, (*after, *closing))
            return
        content = (*before, *after[1:]) if after else before[:-1]
        whole = (*opening, *content, *closing)
        edits.insert(site.before, (*whole, gap) if site.before == site.beside else (gap, *whole))

    def _id(self) -> str:
        name = _NO_NAME.sub("-", self.name).strip("-.")
        telling = bool(role_of(name, open_line=True)) or is_layer_name(name)
        if not name or not (name[0].isalpha() or name[0] == "_") or telling:
            return "piece"
        return name

    def _line_break(self) -> str:
        """The line break and indentation of the place; nothing where tags follow each other."""
        beside = self.site.beside
        at = self.site.before if beside < 0 else beside
        found = _INDENT.search(self.drawing.source.text, max(at - _WIDEST, 0), at)
        return found[0].decode("utf-8") if found else ""

    def _texts(self, edits: Edits, behind: bool) -> Iterator[tuple[Text, ...]]:
        """What is moved, in drawing order, in copies of the groups it was in."""
        gap = self._line_break()
        moves = [move for move in self.moves if move.behind == behind]
        for (wraps, alike), run in groupby(moves, key=lambda m: (m.wraps, m.alike)):
            parts: list[Text] = []
            for node in reversed(wraps):
                parts += [self._again(edits, node, alike), gap]
            for move in run:
                parts += [*self._moved(edits, move.part), gap]
            for node in wraps:
                name = edits.tag(self.drawing.nodes[node].element).name
                parts += [f"</{name}>", gap]
            yield tuple(parts[:-1])

    def _again(self, edits: Edits, node: int, without: frozenset[str]) -> Made:
        """The start tag of a group once more: all that it passes on, but not its id."""
        element = self.drawing.nodes[node].element
        tag = edits.tag(element)
        marks = {name for name in tag.attributes if name.rpartition(":")[2] == "groupmode"}
        extra = self._name_of(element)
        return Made(tag.again({"id", *marks, *without}, extra, close=False), element)

    def _name_of(self, element: _Element) -> dict[str, str]:
        """The id as a mere name: it may be what tells which lines are folds."""
        name = element.get("id")
        labels = ("label", "data-name", "aria-label")
        labelled = any(str(key).rpartition("}")[2] in labels for key in element.attrib)
        return {"data-name": str(name)} if name and not labelled else {}

    def _moved(self, edits: Edits, part: Part) -> tuple[Text, ...]:
        if part.subpaths is None:
            return (edits.take(part.element),)
        tag = edits.tag(part.element)
        data = data_of(shape_of(self.drawing, part.element), tag, 0)
        for subpath in part.subpaths:
            edits.change(part.element, subpath, Drop())
        own = {"d": extract(data, part.subpaths)}
        made = Made(tag.again({"id"}, own | self._name_of(part.element), close=True), part.element)
        edits.split_off(part.element, made, own["d"])
        return (made,)
