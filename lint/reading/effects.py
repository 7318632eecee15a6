"""Clips, masks, filters and patterns: what names them, and in which units they are drawn."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

PROPERTIES = ("clip-path", "mask", "filter")
# The element that each kind of effect must name; a gradient is a paint that hides nothing.
AREAS = {"clip-path": "clipPath", "mask": "mask", "filter": "filter", "pattern": "pattern"}
_URL = re.compile(r"url\(\s*[\"']?([^\"')]+)[\"']?\s*\)")
_UNITS = {"clipPath": "clipPathUnits", "mask": "maskContentUnits"}


def name_in(text: str) -> str | None:
    """The id of the element that an effect or paint names: "" outside the file, None for none."""
    found = _URL.match(text.strip())
    if found is None:
        return None
    place = found[1].strip()
    return place[1:] if place.startswith("#") else ""


def is_by_box(area: _Element) -> bool:
    """Whether its shapes are drawn in shares of the box of what it is put on (CSS Masking 1)."""
    units = _UNITS.get(local_name(area))
    return units is not None and area.get(units) == "objectBoundingBox"
