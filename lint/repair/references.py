"""What of a file is named by other parts of it, beside the `use` elements that are drawn."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from matready.lint.drawing import Drawing
from matready.lint.repair.refusal import Refused
from matready.lint.source import local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

_URL = re.compile(r"url\(\s*['\"]?#([^'\")]+)['\"]?\s*\)")
_TIMED = re.compile(r"([^\s;+.]+)\.(?:begin|end|click|repeat)")
_LISTS = frozenset(("aria-labelledby", "aria-describedby", "aria-owns", "aria-controls"))


class References:
    """Looks up which element of a drawing's file names which other one."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        drawn = {node.element for node in drawing.nodes if node.kind == "use"}
        self._named: dict[str, list[_Element]] = {}
        for element in drawing.source.root.iter("*"):
            if element not in drawn:
                for name in _names_in(element):
                    self._named.setdefault(name, []).append(element)

    def named(self, element: _Element) -> bool:
        """Whether anything but drawn `use` elements names an element or a part of it."""
        return any(str(part.get("id")) in self._named for part in element.iter("*"))

    def refuse_to_change(self, element: _Element) -> None:
        """Raise Refused where something outside an element names it or a part of it."""
        if not self._named:
            return
        inside = set(element.iter("*"))
        for part in inside:
            for by in self._named.get(str(part.get("id")), ()):
                if by not in inside:
                    source = self._drawing.source
                    kind = local_name(by)
                    raise Refused(
                        f"the <{kind}> on line {source.span(by).line} of the file needs the line "
                        f"on line {source.span(element).line} as it is"
                    )


def _names_in(element: _Element) -> list[str]:
    found = []
    for key, value in element.attrib.items():
        name, text = str(key).rpartition("}")[2], str(value)
        found += _URL.findall(text)
        if name == "href" and text.strip().startswith("#"):
            found.append(text.strip()[1:])
        elif name in _LISTS:
            found += text.split()
        elif name in ("begin", "end"):
            found += _TIMED.findall(text)
    return found
