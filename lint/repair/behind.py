"""Puts elements behind others of their group, so that they are drawn, and cut, after them."""

from __future__ import annotations

import re

from matready.lint.cutting import Cutout
from matready.lint.repair import ink
from matready.lint.repair.declared import Declared
from matready.lint.repair.edits import Edits
from matready.lint.repair.parts import Belongings
from matready.lint.repair.pictures import Pictures
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused

_INDENT = re.compile(rb"(\r?\n|\r)[ \t]*\Z")
_WIDEST = 200  # no line is indented more


def plan_behind(
    cutout: Cutout, belongs: Belongings, declared: Declared, moves: tuple[tuple[int, int], ...]
) -> Plan:
    """How to put each node behind the other; Refused where a text or picture lies between.

    That lines cover each other as they did is left to the proof.
    """
    drawing = cutout.drawing
    pictures = Pictures(drawing, declared)
    lines = set[int]()
    for node, other in moves:
        own = belongs.below(node)
        lines |= {*own, *belongs.below(other)}
        if pictures.order_shows(own, belongs.ends[node], belongs.ends[other]) != ink.SAME:
            raise Refused("a text or picture that it lies on stands between; move it by hand")

    def enter(edits: Edits) -> None:
        for node, other in moves:
            element = drawing.nodes[node].element
            start = edits.tag(element).start
            found = _INDENT.search(drawing.source.text, max(start - _WIDEST, 0), start)
            gap = found[0].decode() if found else ""
            edits.insert(edits.tag(drawing.nodes[other].element).end, (gap, edits.take(element)))

    return Plan(frozenset(lines), "the outline was put behind what lies inside it", enter)
