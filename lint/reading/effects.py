"""Clips, masks, filters and patterns: what names them, and in which units they are drawn."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from matready.lint.drawing import Area, Node
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.reading.walked import Walked

PROPERTIES = ("clip-path", "mask", "filter")
# The element that each kind of effect must name; a gradient is a paint that hides nothing.
AREAS = {"clip-path": "clipPath", "mask": "mask", "filter": "filter", "pattern": "pattern"}
_URL = re.compile(r"url\(\s*[\"']?([^\"')]+)[\"']?\s*\)")
# The units of the shapes inside, where they may be shares of a box (CSS Masking 1).
_UNITS = {"clipPath": "clipPathUnits", "mask": "maskContentUnits"}


def name_in(text: str) -> str | None:
    """The id of the element that an effect or paint names: "" outside the file, None for none."""
    found = _URL.match(text.strip())
    if found is None:
        return None
    place = found[1].strip()
    return place[1:] if place.startswith("#") else ""


def area_of(element: _Element, inside: Walked) -> Area:
    """The area that an element makes of the shapes in it."""
    kept: Sequence[int] = range(len(inside.shapes))
    if local_name(element) == "clipPath":
        kept = [k for k in kept if _may_clip(inside.nodes, inside.shape_nodes[k])]
    units = _UNITS.get(local_name(element))
    return Area(
        element,
        tuple(inside.shapes[k] for k in kept),
        tuple(inside.matrices[k] for k in kept),
        tuple(inside.nodes[inside.shape_nodes[k]] for k in kept),
        units is not None and element.get(units) == "objectBoundingBox",
    )


def _may_clip(nodes: Sequence[Node], node: int) -> bool:
    """Whether a shape clips: groups may not stand in a clipPath (CSS Masking 1, 8)."""
    node = nodes[node].parent
    while node >= 0:
        if nodes[node].kind != "use":
            return False
        node = nodes[node].parent
    return True
