"""SVG's elements: what each of them means for the lines on a page."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

from lxml import etree

from matready.lint.reading.elements import SHAPES

SVG = "http://www.w3.org/2000/svg"

# Elements that put no cut line down, but that a crafter may expect to see cut.
PUT_NO_LINE = (
    "clipPath",
    "mask",
    "pattern",
    "marker",
    "filter",
    "text",
    "image",
    "foreignObject",
)
# What is seen and draws no line; flowRoot is of a draft (SVG 1.2) that some files still hold.
SIGHTS = ("text", "image", "foreignObject", "flowRoot")
# Known elements of SVG 1.1 and 2 that draw nothing by themselves.
_SILENT = frozenset(
    (
        *("animate", "animateColor", "animateMotion", "animateTransform", "mpath", "set"),
        *("title", "desc", "metadata", "defs", "style", "script", "view", "cursor", "discard"),
        *("linearGradient", "radialGradient", "stop", "meshgradient", "hatch", "solidcolor"),
        *("mesh", "solidColor", "color-profile", "tspan", "font", "font-face", "glyph"),
        *("missing-glyph", "hkern", "vkern", "audio", "canvas", "iframe", "video"),
    )
)
_CONDITIONS = frozenset(("requiredExtensions", "requiredFeatures", "systemLanguage"))
_FEATURES = ("http://www.w3.org/TR/SVG", "org.w3c.")


class Kind(Enum):
    """How the walk treats an element."""

    SHAPE = "shape"
    GROUP = "group"
    SWITCH = "switch"
    USE = "use"
    VIEWPORT = "viewport"
    SYMBOL = "symbol"
    SIGHT = "sight"
    NOTHING = "nothing"


_KINDS = {
    **dict.fromkeys(SHAPES, Kind.SHAPE),
    "g": Kind.GROUP,
    "a": Kind.GROUP,
    "switch": Kind.SWITCH,
    "use": Kind.USE,
    "svg": Kind.VIEWPORT,
    "symbol": Kind.SYMBOL,
    **dict.fromkeys(SIGHTS, Kind.SIGHT),
}


class Kinds:
    """The kinds of a file's elements.

    SVG's namespace is the standard one and the root's own, so that files without a namespace are
    read too. `notes` names what is passed over although it looks like a drawing.
    """

    def __init__(self, root: etree._Element) -> None:
        own = _namespace(str(root.tag))
        self._namespaces = {own, SVG}
        self._known: dict[str, Kind] = {}
        self.notes: list[str] = []
        if own == "":
            self.notes.append(f'the file has no xmlns="{SVG}"; it is read as SVG all the same')
        elif own != SVG:
            self.notes.append(f'the file calls its language "{own[:60]}"; it is read as SVG')

    def of(self, element: etree._Element) -> Kind:
        """The element's kind; NOTHING for other languages and for what draws nothing."""
        tag = element.tag
        kind = self._known.get(tag)
        if kind is None:
            kind = self._known[tag] = self._classify(str(tag))
        return kind

    def renders(self, element: etree._Element) -> bool:
        """True for elements that a page can show: shapes and groups, but also text and pictures."""
        return self.of(element) is not Kind.NOTHING

    def tags(self, *names: str) -> list[str]:
        """The names as lxml spells them, in each of the file's SVG namespaces."""
        return [
            f"{{{space}}}{name}" if space else name for space in self._namespaces for name in names
        ]

    def _classify(self, tag: str) -> Kind:
        name = tag.rpartition("}")[2]
        if _namespace(tag) not in self._namespaces:
            if _namespace(tag) == "" and _KINDS.get(name, Kind.SIGHT) is not Kind.SIGHT:
                self.notes.append(f"<{name}> outside SVG's namespace is not drawn")
            return Kind.NOTHING
        if name in _KINDS:
            return _KINDS[name]
        primitive = name.startswith("fe") and name[2:3].isupper()  # of a filter: feGaussianBlur
        if name not in _SILENT and name not in PUT_NO_LINE and not primitive:
            self.notes.append(f"<{name}> is no element of SVG; it is left out with what is in it")
        return Kind.NOTHING


def passes(attributes: Mapping[str, str]) -> bool:
    """Whether an element's conditions hold (SVG 2, "Conditional processing"; SVG 1.1, 5.8).

    No extension is known, the language is English, and every feature of SVG itself is there.
    """
    if _CONDITIONS.isdisjoint(attributes):
        return True
    if "requiredExtensions" in attributes:
        return False
    features = attributes.get("requiredFeatures")
    if features is not None:
        names = features.split()
        if not names or not all(name.startswith(_FEATURES) for name in names):
            return False
    languages = attributes.get("systemLanguage")
    if languages is None:
        return True
    return any(word.strip().lower().split("-")[0] == "en" for word in languages.split(","))


def _namespace(tag: str) -> str:
    return tag[1:].partition("}")[0] if tag.startswith("{") else ""
