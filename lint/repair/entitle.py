"""Writes titles: what SVG has for naming an element without changing a pixel (SVG 2, 5.7)."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from matready.lint.cutting import Cutout
from matready.lint.repair.edits import Edits
from matready.lint.repair.plan import Plan
from matready.lint.repair.tags import escaped
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

_BREAK = re.compile(rb"(?:\r?\n|\r)[ \t]*(?=<)")
_SPACE = b" \t\r\n"


def plan_titles(cutout: Cutout, titles: tuple[tuple[int, str], ...]) -> Plan:
    """How to give each node its title."""
    drawing = cutout.drawing
    named = {node for node, _ in titles}
    line_nodes = drawing.line_node.tolist()
    below = {node for node in set(line_nodes) if not named.isdisjoint(drawing.ancestors(node))}
    holds = frozenset(line for line, node in enumerate(line_nodes) if node in below)

    def enter(edits: Edits) -> None:
        for node, title in titles:
            _entitle(edits, drawing.nodes[node].element, title)

    count = len(titles)
    done = "it was given a title" if count == 1 else f"{count} pieces were given titles"
    return Plan(holds, done, enter)


def _entitle(edits: Edits, element: _Element, title: str) -> None:
    """A title as the element's first child, where programs look for it."""
    tag = edits.tag(element)
    prefix = "".join(tag.name.rpartition(":")[:2])
    text = f"<{prefix}title>{escaped(title)}</{prefix}title>"
    old = next((child for child in element.iterchildren("*") if local_name(child) == "title"), None)
    if old is not None:  # one that named nothing, or the piece would have a name
        there = edits.tag(old)
        edits.replace(there.start, there.end, (text,))
    elif tag.empty:
        end = tag.tag_end - len("/>")
        start = tag.start + len(tag.text[tag.start : end].rstrip(_SPACE))
        edits.replace(start, tag.tag_end, (f">{text}</{tag.name}>",))
    else:
        gap = _BREAK.match(tag.text, tag.tag_end)
        edits.insert(tag.tag_end, ((gap[0].decode() if gap else "") + text,))
