"""The cascade: from what an element and the sheets declare to its computed style.

Order, weakest first: presentation attributes, sheets by specificity, the `style` attribute,
`!important` of sheets, `!important` of `style` (CSS Cascade 4, section 6; SVG 2, "Presentation
attributes"). A declaration that cannot be read counts as absent. Font sizes are taken from
`font-size` only.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from math import inf
from typing import TYPE_CHECKING, Any, NamedTuple

from matready.lint.drawing import INVISIBLE, UNPAINTED, Style
from matready.lint.reading import colours
from matready.lint.reading.declarations import parse_style
from matready.lint.reading.units import (
    ROOT_FONT_PX,
    WHITE,
    Extent,
    Length,
    parse_length,
    to_user,
)

if TYPE_CHECKING:
    from matready.lint.reading.sheets import Sheets

Pairs = tuple[tuple[str, str], ...]

# CSS Fonts 4, 2.5, in px where medium is 16.
_FONT_WORDS = {
    "xx-small": 9.6, "x-small": 12.0, "small": 14.2, "medium": 16.0, "large": 19.2,
    "x-large": 24.0, "xx-large": 32.0,
}  # fmt: skip
_COMMAS = re.compile(rf"[{WHITE}]*,[{WHITE}]*|[{WHITE}]+")
_PATH_CALL = re.compile(r"""path\(\s*(?:(?:nonzero|evenodd)\s*,\s*)?(["'])(.*)\1\s*\)""", re.DOTALL)
_SERVERS = {"fill": ("fill_server",), "stroke": ("stroke_server",)}
_NO_CSS: dict[str, str] = {}
_ONE = Length(1.0, "")


class Inherited(NamedTuple):
    """The properties that children take over; servers are the text of a paint url(...), or ""."""

    fill: str = "#000000"
    stroke: str = colours.NONE
    stroke_width: Length = _ONE
    dashes: tuple[Length, ...] = ()
    visible: bool = True
    color: str = "#000000"
    fill_opacity: float = 1.0
    stroke_opacity: float = 1.0
    font_px: float = ROOT_FONT_PX
    fill_server: str = ""
    stroke_server: str = ""


class Computed(NamedTuple):
    """An element's computed style.

    `css` holds effects, and geometry and transform properties that CSS declares, as text. `shown`
    is False where the element and all below it stay off the page (display: none, opacity: 0).
    `plain`: a child that declares nothing has this very style.
    """

    serial: int
    inherited: Inherited
    style: Style
    css: dict[str, str]
    shown: bool
    plain: bool


class Cascade:
    """Computes styles of one file; equal ones are one object. `notes` says what was not read."""

    def __init__(self, sheets: Sheets | None) -> None:
        self.notes: list[str] = []
        self._sheets = sheets
        self._known: dict[tuple[object, ...], Computed] = {}
        self._styles: dict[Style, Style] = {}
        self.start = Computed(0, Inherited(), Style(), _NO_CSS, shown=True, plain=True)

    def compute(
        self, parent: Computed, pairs: Pairs, inline: str | None, rules: tuple[int, ...],
        extent: Extent,
    ) -> Computed:  # fmt: skip
        """The style of a child of `parent`.

        `pairs` are its presentation attributes (PRESENTATION), `inline` its style attribute,
        `rules` the sheet rules that match it, and `extent` the viewport percentages refer to.
        """
        key = (parent.serial, pairs, inline, rules, extent)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._compute(parent, pairs, inline, rules, extent)
        return known

    def _compute(
        self, parent: Computed, pairs: Pairs, inline: str | None, rules: tuple[int, ...],
        extent: Extent,
    ) -> Computed:  # fmt: skip
        values: dict[str, Any] = {}
        css: dict[str, str] = {}
        for name, text in self._declared(pairs, inline, rules):
            self._declare(name, text, parent, values, css)
        opacity = values.pop("opacity", 1.0)
        shown = values.pop("display", True) and opacity > 0
        font = _font_px(values.pop("font_px", None), parent.inherited.font_px)
        inherited = _in_user(parent.inherited._replace(font_px=font, **values))
        style = _used(inherited, opacity, extent)
        style = self._styles.setdefault(style, style)
        plain = not css and opacity == 1 and "%" not in _units(inherited)
        return Computed(len(self._known) + 1, inherited, style, css or _NO_CSS, shown, plain)

    def _declared(self, pairs: Pairs, inline: str | None, rules: tuple[int, ...]) -> list[Any]:
        """All declarations as (name, text), the strongest last."""
        found: list[tuple[str, str]] = list(pairs)
        important: list[tuple[str, str]] = []
        sources = [self._sheets.rules[rule].declarations for rule in rules] if self._sheets else []
        if inline:
            sources.append(parse_style(inline))
        for source in sources:
            for name, text, is_important in source:
                (important if is_important else found).append((name, text))
        return found + important

    def _declare(
        self, name: str, text: str, parent: Computed, values: dict[str, Any], css: dict[str, str]
    ) -> None:
        word = text.lower()
        if name in _AS_TEXT:
            if _AS_TEXT[name](text):
                css[name] = text
            return
        if name not in _PROPERTIES:
            return
        field, parse = _PROPERTIES[name]
        if word in ("inherit", "initial", "unset", "revert"):
            for each in (field, *_SERVERS.get(field, ())):
                values[each] = _by_keyword(each, word, parent)
            return
        value = parse(text)
        if value == colours.UNKNOWN_SPACE:
            value = "#000000"
            self._note(f'the colour "{text[:40]}" is not read; black stands in its place')
        if field == "color" and value in (colours.CURRENT, colours.SERVER):
            return
        if value is not None:
            values[field] = value
            server = text if value == colours.SERVER else ""
            values |= dict.fromkeys(_SERVERS.get(field, ()), server)
        elif "var(" in word:
            self._note(f'"{name}: {text[:40]}" is not read, because var() is not')

    def _note(self, text: str) -> None:
        if text not in self.notes:
            self.notes.append(text)


def _by_keyword(field: str, word: str, parent: Computed) -> Any:
    """The value that inherit, initial, unset and revert stand for."""
    if field == "display":
        return True  # a parent that is not displayed has no children to ask
    if field == "opacity":
        return parent.style.opacity if word == "inherit" else 1.0
    return getattr(Inherited() if word == "initial" else parent.inherited, field)


def _font_px(declared: Length | float | None, parent_px: float) -> float:
    """The font size in px; Lengths relative to fonts or in percent are measured by the parent's."""
    if not isinstance(declared, Length):
        return parent_px if declared is None else declared
    size = to_user(declared, parent_px, parent_px)
    return parent_px if size is None else size


def _in_user(style: Inherited) -> Inherited:
    """Font-relative lengths in user units: children inherit the length, not the number of em."""
    if _units(style) <= {"", "%"}:
        return style
    width, *dashes = (
        length if length.unit == "%" else Length(to_user(length, None, style.font_px) or 0.0, "")
        for length in (style.stroke_width, *style.dashes)
    )
    return style._replace(stroke_width=width, dashes=tuple(dashes))


def _units(style: Inherited) -> set[str]:
    return {length.unit for length in (style.stroke_width, *style.dashes)}


def _used(inherited: Inherited, opacity: float, extent: Extent) -> Style:
    """The record for a node: paints without opacity are none, percentages are resolved."""
    # Without a page size a percentage has no measure; its number keeps a dashed line dashed.
    diagonal = 100.0 if extent.diagonal is None else extent.diagonal
    dashes = None
    if inherited.dashes:
        dashes = tuple([to_user(length, diagonal) or 0.0 for length in inherited.dashes])
        if len(dashes) % 2:
            dashes *= 2  # SVG 2, stroke-dasharray: an odd list is repeated
        if not 0 < sum(dashes) < inf or not any(dashes[1::2]):
            dashes = None  # nothing to draw with, or no gap: solid
    color = inherited.color
    return Style(
        fill=_paint(inherited.fill, inherited.fill_opacity, color),
        stroke=_paint(inherited.stroke, inherited.stroke_opacity, color),
        stroke_width=to_user(inherited.stroke_width, diagonal) or 0.0,
        dashes=dashes,
        visible=inherited.visible,
        opacity=opacity,
        color=color,
    )


def _paint(paint: str, opacity: float, color: str) -> str:
    if opacity == 0:
        return colours.NONE
    return color if paint == colours.CURRENT else paint


def _length(text: str) -> Length | None:
    """A length that may not be negative."""
    length = parse_length(text)
    return None if length is None or length.number < 0 else length


def _dashes(text: str) -> tuple[Length, ...] | None:
    text = text.strip(WHITE)
    if text.lower() == "none":
        return ()
    lengths = [_length(part) for part in _COMMAS.split(text)]
    known = tuple(length for length in lengths if length is not None)
    return known if len(known) == len(lengths) else None


def _share(text: str) -> float | None:
    """An opacity: a number or percentage, held between 0 and 1."""
    length = parse_length(text)
    if length is None or length.unit not in ("", "%"):
        return None
    return min(max(length.number / (100 if length.unit == "%" else 1), 0.0), 1.0)


def _font_size(text: str) -> Length | None:
    word = text.strip(WHITE).lower()
    if word in ("larger", "smaller"):
        return Length(120.0 if word == "larger" else 100 / 1.2, "%")
    return Length(_FONT_WORDS[word], "px") if word in _FONT_WORDS else _length(word)


def _visible(text: str) -> bool | None:
    return {"visible": True, "hidden": False, "collapse": False}.get(text.strip(WHITE).lower())


def _displayed(text: str) -> bool:
    return text.strip(WHITE).lower() != "none"


_PROPERTIES: dict[str, tuple[str, Callable[[str], Any]]] = {
    "fill": ("fill", colours.parse_paint),
    "stroke": ("stroke", colours.parse_paint),
    "stroke-width": ("stroke_width", _length),
    "stroke-dasharray": ("dashes", _dashes),
    "visibility": ("visible", _visible),
    "color": ("color", colours.parse_paint),
    "fill-opacity": ("fill_opacity", _share),
    "stroke-opacity": ("stroke_opacity", _share),
    "font-size": ("font_px", _font_size),
    "display": ("display", _displayed),
    "opacity": ("opacity", _share),
}


def why_unseen(used: Style, is_line: bool) -> str:
    """Why a shape in what is shown is not seen itself; "" where it is."""
    if not used.visible:
        return INVISIBLE
    # A line has no inside, so a fill alone does not show it.
    painted = used.stroke != "none" or (used.fill != "none" and not is_line)
    return "" if painted else UNPAINTED


def path_of_css(text: str) -> str:
    """The path data inside CSS's path("..."); "" for none."""
    found = _PATH_CALL.fullmatch(text)
    return found[2] if found else ""


def _is_size(text: str) -> bool:
    if text.lower() == "auto":
        return True
    length = parse_length(text)
    return length is not None and (length.unit != "" or length.number == 0)


def _is_path(text: str) -> bool:
    return text.lower() == "none" or _PATH_CALL.fullmatch(text) is not None


def _is_anything(text: str) -> bool:
    return text.lower() not in ("inherit", "initial", "unset", "revert", "")


# Properties that are kept as text, with the test that a declaration must pass to count.
_AS_TEXT: dict[str, Callable[[str], bool]] = {
    **dict.fromkeys(("x", "y", "width", "height", "r", "cx", "cy", "rx", "ry"), _is_size),
    **dict.fromkeys(
        ("transform", "translate", "rotate", "scale", "transform-origin", "transform-box"),
        _is_anything,
    ),
    **dict.fromkeys(("clip-path", "mask", "filter", "overflow"), _is_anything),
    "d": _is_path,
}
# Attributes that take part in the cascade; geometry and transform have a syntax of their own.
PRESENTATION = frozenset(
    (*_PROPERTIES, "transform-origin", "transform-box", "clip-path", "mask", "filter", "overflow")
)

__all__ = ["PRESENTATION", "Cascade", "Computed", "Inherited", "path_of_css", "why_unseen"]
