"""Reading a written page as a browser does, and refusing what has no business on it."""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

from lxml import html

# All that pages are made of; whatever is not named here has no business on one.
_ELEMENTS = """
html head meta title style body a header footer main section article h1 h2 h3 h4 h5 p ul ol li div
span dl dt dd code strong details summary figure figcaption svg g path rect circle text use
"""
_ATTRIBUTES = """
lang charset name content http-equiv class id href role aria-label aria-labelledby aria-hidden
viewbox width height x y d r transform font-size textlength lengthadjust
"""
_NUMBERS = re.compile(r"[MlLHVhvaz0-9 .%-]*|translate\([0-9. -]+\)")


def walk(page: str, elements: str = "", attributes: str = "") -> Any:
    """The page as a browser reads it; what the lists above do not hold, nor these, is refused."""
    tree: Any = html.document_fromstring(page)
    known = [*_ELEMENTS.split(), *elements.split()]
    named = [*_ATTRIBUTES.split(), *attributes.split()]
    for node in tree.iter():
        assert node.tag in known, node.tag
        for name, value in node.attrib.items():
            assert name in named, (node.tag, name)
            if name == "href":
                assert re.fullmatch(r"#[a-z][a-z0-9-]*", value)
            if name in {"d", "viewbox", "transform", "x", "y", "width", "height", "font-size"}:
                assert _NUMBERS.fullmatch(value), value
    ids = Counter(tree.xpath("//@id"))
    assert max(ids.values()) == 1
    assert {href[1:] for href in tree.xpath("//@href")} <= set(ids)
    assert tree.xpath("count(//style)") == 1
    assert not re.search(r"url\(|@import|expression", tree.xpath("string(//style)"))
    return tree
