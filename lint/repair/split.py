"""Parts a path that draws cuts and scores into two paths of the same look."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from matready.lint.cutting import Cutout
from matready.lint.cutting.dashstyle import is_straight
from matready.lint.cutting.grouping import holders_of
from matready.lint.cutting.roles import BY_NAME, SCORE
from matready.lint.repair.declared import Declared
from matready.lint.repair.edits import Edits, data_of, shape_of
from matready.lint.repair.ink import Ink
from matready.lint.repair.parts import Belongings
from matready.lint.repair.pathtext import Drop, extract
from matready.lint.repair.plan import Plan
from matready.lint.repair.references import References
from matready.lint.repair.refusal import Refused
from matready.lint.repair.splice import Made, Part

if TYPE_CHECKING:
    from lxml.etree import _Element

_INDENT = re.compile(rb"(\r?\n|\r)[ \t]{0,200}\Z")
_MARKERS = frozenset(("marker", "marker-start", "marker-mid", "marker-end"))


def plan_split(
    cutout: Cutout, belongs: Belongings, declared: Declared, references: References, node: int
) -> Plan:
    """How to part a node's cuts from its scores; raises Refused where that would show."""
    drawing = cutout.drawing
    element = drawing.nodes[node].element
    drawn = {n: _scores_of(cutout, n) for n in drawing.nodes_of(element)}
    scores = drawn[node]
    _refuse_to_part(cutout, declared, node, scores)
    references.refuse_to_change(element)
    subpaths = drawing.geometry.subpath[scores].tolist()
    if any(drawing.geometry.subpath[lines].tolist() != subpaths for lines in drawn.values()):
        raise Refused("it draws cuts in one place and folds in another")
    lines = [line for n in drawn for line in belongs.below(n)]
    wrapped = _holds_alone(cutout, belongs, node)
    named = any(int(cutout.roles.clue[line]) == BY_NAME for line in scores)

    def enter(edits: Edits) -> None:
        tag = edits.tag(element)
        data = extract(data_of(shape_of(drawing, element), tag, 0), subpaths)
        own = {"d": data} | (_name_of(element) if named else {})
        made = Made(tag.again({"id"}, own, close=True), element)
        for subpath in subpaths:
            edits.change(element, subpath, Drop())
        edits.split_off(element, made, data)
        indent = _INDENT.search(tag.text, max(tag.start - 202, 0), tag.start)
        gap = indent[0].decode("utf-8") if indent else ""
        group = "".join(tag.name.rpartition(":")[:2]) + "g"
        closing: tuple[Part, ...] = ()
        if wrapped:
            edits.insert(tag.start, (Made(f"<{group}>"), gap))
            closing = (gap, f"</{group}>")
        edits.insert(tag.end, (gap, made, *closing))

    done = "the folds are a path of their own now, beside the outline's"
    return Plan(frozenset(lines), done, enter)


def _scores_of(cutout: Cutout, node: int) -> list[int]:
    lines = np.flatnonzero(cutout.drawing.line_node == node).tolist()
    return [line for line in lines if cutout.roles.role[line] == SCORE]


def _refuse_to_part(cutout: Cutout, declared: Declared, node: int, scores: list[int]) -> None:
    drawing = cutout.drawing
    drawn = drawing.nodes[node]
    where = f"the path on line {drawing.source.span(drawn.element).line} of the file"
    if drawing.nodes[drawn.parent].kind == "use":
        raise Refused(f"{where} is what a <use> draws")
    if declared.as_one(drawn.element) or "url" in (drawn.style.fill, drawn.style.stroke):
        raise Refused(f"{where} is painted as one picture, which its parts would not be")
    chain = [declared.of(drawing.nodes[above].element) for above in drawing.ancestors(node)]
    if any(not _MARKERS.isdisjoint(found) for found in chain):
        raise Refused(f"{where} bears markers")
    if drawn.style.fill != "none" and not all(is_straight(drawing, line) for line in scores):
        raise Refused(f"{where} is filled between its folds")
    clear = any(found.get(name, "1").strip() not in ("1", "100%") for found in chain
                for name in ("stroke-opacity", "fill-opacity"))  # fmt: skip
    rest = set(np.flatnonzero(drawing.line_node == node).tolist()) - set(scores)
    if clear and Ink(drawing).split_shows(scores, rest):
        raise Refused(f"{where} is transparent, and its parts touch")


def _holds_alone(cutout: Cutout, belongs: Belongings, node: int) -> bool:
    """Whether it is this element alone that keeps the folds of a piece with its outline."""
    for piece in cutout.pieces:
        nodes = cutout.nodes(piece.own)
        holders = holders_of(cutout.drawing, belongs.owners, nodes, piece.unit)
        if holders == [node]:
            return True
    return False


def _name_of(element: _Element) -> dict[str, str]:
    """The id as a mere name: it is what tells that the lines are folds."""
    name = element.get("id")
    return {"data-name": str(name)} if name and "data-name" not in element.attrib else {}
