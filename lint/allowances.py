"""What a drawing allows: `data-matready-allow="rule other-rule"` silences rules in a part of it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from matready.lint.sizes import nearest

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.drawing import Drawing
    from matready.lint.finding import Finding
    from matready.lint.rule import Rule

ATTRIBUTE = "data-matready-allow"

_ALL_RULES = "`matready rules` lists them all"
_BETWEEN = re.compile(r"[\s,]+")


class Allowances:
    """Reads the attribute of all elements; it holds for an element and all below it.

    What a `use` draws is below the `use` too.
    """

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._own: dict[_Element, frozenset[str]] = {}
        self._whole: dict[_Element, frozenset[str]] = {}
        # Most files have none, and their text tells so at once.
        if ATTRIBUTE.encode() in drawing.source.text:
            for element in drawing.source.root.iter("*"):
                if value := element.get(ATTRIBUTE):
                    self._own[element] = frozenset(filter(None, _BETWEEN.split(value)))

    def of_file(self) -> frozenset[str]:
        """Rules that the root element allows, and so the whole file."""
        return self._own.get(self._drawing.source.root, frozenset())

    def silence(self, rule: Rule, found: Finding) -> bool:
        """Whether a finding's element, or one above it, allows the rule: one, or each of many."""
        if not self._own:
            return False
        nodes, drawn = self._drawing.nodes, dict.fromkeys(found.nodes)
        ways = [[nodes[n].element for n in self._drawing.ancestors(node)] for node in drawn]
        ways += [[element] for element in found.elements]
        allowed = [any(rule.name in self._allowed(one) for one in way) for way in ways]
        return all(allowed) if rule.gathers or found.places else any(allowed)

    def _allowed(self, element: _Element) -> frozenset[str]:
        """Rules allowed by an element or by one above it in the file."""
        way = [element]
        while (parent := way[-1].getparent()) is not None and way[-1] not in self._whole:
            way.append(parent)
        allowed = frozenset[str]()
        for each in reversed(way):
            allowed = self._whole.setdefault(each, allowed | self._own.get(each, frozenset()))
        return allowed

    def misnamed(self, known: Iterable[str]) -> list[str]:
        """A sentence for each name that no rule has."""
        rules = list(known)
        return [
            f'line {self._drawing.source.span(element).line}: {ATTRIBUTE} names no rule "{name}"; '
            + (f'the nearest is "{near}"' if (near := nearest(name, rules)) else _ALL_RULES)
            for element, names in self._own.items()
            for name in sorted(names.difference(rules))
        ]
