"""Taking away what puts no line down that is seen: elements, attributes, stretches of the text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matready.lint.acts import Purge
from matready.lint.cutting import Cutout
from matready.lint.drawing import Drawing
from matready.lint.repair.edits import Edits
from matready.lint.repair.plan import Plan
from matready.lint.repair.references import References
from matready.lint.repair.refusal import Refused
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.repair.tags import Tag

_MOVING = ("animate", "set")


def plan_purge(cutout: Cutout, act: Purge, references: References) -> Plan:
    """Take all that the act names away; raises Refused where something else needs a part of it."""
    drawing = cutout.drawing
    for element in act.elements:
        _refuse_needed(drawing, element, references)

    def enter(edits: Edits) -> None:
        for element in act.elements:
            edits.remove(element)
        for element, name in act.attributes:
            edits.set(element, _as_written(edits.tag(element), element, name), None)
        for start, end, instead in act.stretches:
            edits.replace(start, end, (instead,) if instead else ())

    return Plan(frozenset(), act.done, enter)


def _refuse_needed(drawing: Drawing, element: _Element, references: References) -> None:
    """Refuse an element that is seen somewhere, chooses what is seen, or is named by something."""
    where = f"on line {drawing.source.span(element).line} of the file"
    parent = element.getparent()
    if parent is not None and local_name(parent) == "switch":
        raise Refused(f"what is hidden {where} is one choice of several in a <switch>")
    inside = set(element.iter("*"))
    if any(local_name(part).startswith(_MOVING) for part in inside):
        raise Refused(f"what is hidden {where} is animated, and may come to be seen")
    seen = {drawing.nodes[node].element for node in drawing.shapes.tolist()}
    if not seen.isdisjoint(inside):
        raise Refused(f"a part of what is hidden {where} is seen in another place")
    names = {str(part.get("id")) for part in inside} - {"None"}
    for node in drawing.nodes:
        if node.kind == "use" and node.element not in inside and _target(node.element) in names:
            raise Refused(f"what is hidden {where} is named by a <use>")
    if any(f"#{name}" in _sheets(drawing) for name in names):
        raise Refused(f"what is hidden {where} is named by a style sheet")
    references.refuse_to_change(element)


def _target(use: _Element) -> str:
    """The id that a use names."""
    names = [str(v) for k, v in use.attrib.items() if str(k).rpartition("}")[2] == "href"]
    return names[0].strip().removeprefix("#") if names else ""


def _sheets(drawing: Drawing) -> str:
    styles = (one for one in drawing.source.root.iter("*") if local_name(one) == "style")
    return "".join(str(text) for style in styles for text in style.itertext())


def _as_written(tag: Tag, element: _Element, name: str) -> str:
    """An attribute's name with the prefix that it has in the file."""
    space, _, local = name.rpartition("}")
    for written in tag.attributes:
        prefix, _, last = written.rpartition(":")
        if last == local and (element.nsmap.get(prefix, "") if prefix else "") == space[1:]:
            return written
    raise Refused("its place in the file cannot be told for certain")
