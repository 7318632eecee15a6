"""What elements declare about how they look, as text, and what of it groups pass on or do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matready.lint.reading.declarations import parse_style
from matready.lint.reading.sheets import Sheets
from matready.lint.reading.vocabulary import Kinds

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.source import Source

# SVG 2, "Presentation attributes", without those that are geometry.
_INHERITED = frozenset(
    (
        *("clip-rule", "color", "color-interpolation", "color-interpolation-filters", "cursor"),
        *("color-rendering", "direction", "dominant-baseline", "fill", "fill-opacity", "fill-rule"),
        *("font", "font-family", "font-size", "font-size-adjust", "font-stretch", "font-style"),
        *("font-variant", "font-weight", "glyph-orientation-vertical", "image-rendering"),
        *("letter-spacing", "marker", "marker-end", "marker-mid", "marker-start", "paint-order"),
        *("pointer-events", "shape-rendering", "stroke", "stroke-dasharray", "stroke-dashoffset"),
        *("stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "stroke-opacity"),
        *("stroke-width", "text-anchor", "text-rendering", "visibility", "white-space"),
        *("word-spacing", "writing-mode"),
    )
)
_NOT_INHERITED = frozenset(
    (
        *("alignment-baseline", "baseline-shift", "clip", "clip-path", "display", "filter"),
        *("flood-color", "flood-opacity", "lighting-color", "mask", "opacity", "overflow"),
        *("stop-color", "stop-opacity", "text-decoration", "unicode-bidi", "vector-effect"),
    )
)
PRESENTATION = _INHERITED | _NOT_INHERITED
# Properties by which a group paints its content as one picture. Values that do nothing are listed.
_AS_ONE = {
    "opacity": ("1", "100%"),
    "clip-path": ("none",),
    "clip": ("auto",),
    "mask": ("none",),
    "filter": ("none",),
    "mix-blend-mode": ("normal",),
    "isolation": ("auto",),
}
# What a group must declare to be none of these, nor moved or hidden.
ON_ITS_OWN = {name: values[0] for name, values in _AS_ONE.items()} | {
    "display": "inline",
    "transform": "none",
    "translate": "none",
    "rotate": "none",
    "scale": "none",
}
_TRANSFORMS = frozenset(("transform", "translate", "rotate", "scale", "offset-path", "perspective"))


class Declared:
    """Looks up what elements of one source declare; `sheets` is None where it has none."""

    def __init__(self, source: Source) -> None:
        styles = list(source.root.iter(*Kinds(source.root).tags("style")))
        self._of: dict[_Element, dict[str, str]] = {}
        self.sheets = Sheets(source.root, styles) if styles else None

    def rules(self, element: _Element) -> tuple[int, ...]:
        """The sheet rules that match an element, the strongest last."""
        return self.sheets.match(element) if self.sheets else ()

    def by_rule(self, rule: int) -> dict[str, str]:
        """What one rule declares."""
        assert self.sheets is not None
        return {one.name: one.value for one in self.sheets.rules[rule].declarations}

    def has_important(self, rule: int) -> bool:
        """Whether a rule declares something !important."""
        assert self.sheets is not None
        return any(one.important for one in self.sheets.rules[rule].declarations)

    def of(self, element: _Element) -> dict[str, str]:
        """Each property that an element declares, with the text that wins.

        !important is left out of account.
        """
        found = self._of.get(element)
        if found is None:
            found = self._of[element] = presentation(element) | self.styled(element)
        return found

    def styled(self, element: _Element) -> dict[str, str]:
        """What rules and the style attribute declare, without presentation attributes."""
        found: dict[str, str] = {}
        for rule in self.rules(element):
            found.update(self.by_rule(rule))
        return found | inline(element)

    def as_one(self, element: _Element) -> set[str]:
        """The properties by which an element's content is put together before it is painted."""
        found = self.of(element)
        return {n for n, no in _AS_ONE.items() if found.get(n, no[0]).strip() not in no}

    def moves_by_css(self, element: _Element) -> bool:
        """Whether a style gives the element a transform."""
        return not _TRANSFORMS.isdisjoint(self.of(element))


def presentation(element: _Element) -> dict[str, str]:
    """An element's presentation attributes."""
    return {str(k): str(v) for k, v in element.attrib.items() if k in PRESENTATION}


def inline(element: _Element) -> dict[str, str]:
    """What an element's style attribute declares."""
    return {one.name: one.value for one in parse_style(str(element.get("style", "")))}


def is_inherited(name: str) -> bool:
    """Whether a property passes from parent to child."""
    return name in _INHERITED or name.startswith("--")
