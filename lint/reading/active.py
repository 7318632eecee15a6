"""What in a file is no drawing and acts or leads outside: scripts, handlers, links, entities."""

from __future__ import annotations

import re
from base64 import b64decode
from binascii import Error as NotBase64
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from urllib.parse import unquote_to_bytes

from lxml import etree

from matready.lint.reading import entities
from matready.lint.reading.vocabulary import SVG
from matready.lint.source import Source, local_name

if TYPE_CHECKING:
    from lxml.etree import _Element

SCRIPT, HANDLER, LINK, ENTITY = "script", "handler", "link", "entity"

_XHTML = "http://www.w3.org/1999/xhtml"
_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
# What none of this can be without; most files are passed by at the cost of a few searches.
_MAYBE = (b"script", b"href", b"url(", b"@import", b"<!entity", b"stylesheet", b"src", b"data=")
_MAYBE_HANDLER = re.compile(rb"on[a-z]{3,}\s*=")
_HANDLER = re.compile(r"on[a-z]{3,}", re.IGNORECASE)
_URL = re.compile(r"url\(\s*[\"']?\s*([^\"')\s]+)", re.IGNORECASE)
_RUNS = re.compile(
    r"(?:java|vb)script:|data:(?:text/html|application/(?:xhtml|java|ecma))", re.IGNORECASE
)
_SCHEME = re.compile(r"[a-z][a-z0-9+.-]*:|//", re.IGNORECASE)
_IGNORED = re.compile(r"[\x00-\x20]+")  # what browsers pass over in the scheme of an address
_LIVE_PICTURE = re.compile(rb"<[\w:]*script|javascript:|\son[a-z]{3,}\s*=", re.IGNORECASE)
_SHEET_LINK = re.compile(rb"@import\b[^;{}]*;?|@font-face\s*\{[^{}]*\}", re.IGNORECASE)
_COMMENT = re.compile(rb"/\*.*?\*/|<!--.*?-->", re.DOTALL)
_STYLESHEET = re.compile(rb"<\?xml-stylesheet\b(.*?)\?>\s?", re.DOTALL)
# Elements that show the same without what they link to; of others it is a part of the drawing.
_LINKED_ONLY = frozenset(("a", "font-face-uri", "color-profile", "cursor", "link", "img", "iframe"))
_HTML_LINKS = ("src", "data", "action", "formaction", "poster")


@dataclass(slots=True)
class Active:
    """All of one kind in a file: how many, the first of them, and what takes them away.

    `removed`, `attributes` and `stretches` are as in the act Purge; `stuck`: some of them are
    needed for what is seen, or cannot be taken out.
    """

    kind: str
    count: int = 0
    first: str = ""
    elements: list[_Element] = field(default_factory=list)
    removed: list[_Element] = field(default_factory=list)
    attributes: list[tuple[_Element, str]] = field(default_factory=list)
    stretches: list[tuple[int, int, str]] = field(default_factory=list)
    stuck: bool = False

    def add(self, element: _Element, text: str) -> None:
        """Count one more, on this element."""
        self.count += 1
        self.first = self.first or text
        self.elements.append(element)


def find_active(source: Source) -> list[Active]:
    """All that is active in a file, kind by kind; kinds with nothing are left out."""
    text = source.text.lower()
    if not any(word in text for word in _MAYBE) and not _MAYBE_HANDLER.search(text):
        return []
    found = {kind: Active(kind) for kind in (SCRIPT, HANDLER, LINK, ENTITY)}
    spaces = {SVG, _XHTML, _space(source.root)}
    for element in source.root.iter("*"):
        if _space(element) in spaces and not _is_about(element):
            _look_at(source, element, found)
    _look_before(source, found[LINK])
    declared = entities.find_entities(source)
    if declared is not None:
        entity = found[ENTITY]
        entity.count, entity.first, entity.stuck = declared.number, declared.first, declared.stuck
        entity.elements, entity.stretches = [source.root], list(declared.stretches)
    return [one for one in found.values() if one.count]


def _space(element: _Element) -> str:
    tag = str(element.tag)
    return tag[1:].partition("}")[0] if tag.startswith("{") else ""


def _is_about(element: _Element) -> bool:
    """Whether it stands in <metadata>, where addresses are only words."""
    return any(local_name(above) == "metadata" for above in element.iterancestors())


def _look_at(source: Source, element: _Element, found: dict[str, Active]) -> None:
    name = local_name(element)
    if name == "script":
        found[SCRIPT].add(element, "<script>")
        found[SCRIPT].removed.append(element)
        return
    if name == "style":
        _look_at_sheet(source, element, found[LINK])
    for key, value in element.attrib.items():
        _look_at_attribute(element, name, str(key), str(value), found)


def _look_at_attribute(
    element: _Element, name: str, key: str, value: str, found: dict[str, Active]
) -> None:
    """One attribute: a handler, a link, or a script in place of a link."""
    if _HANDLER.fullmatch(key):
        _note(found[HANDLER], element, key, key)
    elif key in ("href", _XLINK_HREF) or (key in _HTML_LINKS and _space(element) == _XHTML):
        address = _IGNORED.sub("", value)
        if _RUNS.match(address):
            _note(found[SCRIPT], element, key, address)
        elif _is_live_picture(value.strip()):
            found[SCRIPT].add(element, "a picture with a script")
            found[SCRIPT].stuck = True
        elif _leads_out(name, address):
            _note(found[LINK], element, key, address)
            found[LINK].stuck |= name not in _LINKED_ONLY
    elif name.startswith(("animate", "set")) and _RUNS.match(_IGNORED.sub("", value)):
        _note(found[SCRIPT], element, key, value)
    elif "url(" in value.lower():
        for address in _URL.findall(value):
            if not address.startswith("#") and not address.lower().startswith("data:"):
                found[LINK].add(element, address)
                found[LINK].stuck = True  # without it something would look otherwise


def _note(active: Active, element: _Element, key: str, text: str) -> None:
    active.add(element, text)
    active.attributes.append((element, key))


def _leads_out(name: str, address: str) -> bool:
    """Whether an address leads outside the file.

    A picture, and a shape that a `use` asks for, is a part of the drawing: other rules look at it.
    """
    inside = not address or address.startswith("#") or address.lower().startswith("data:")
    return not inside and name not in ("image", "use")


def _is_live_picture(value: str) -> bool:
    """Whether an embedded SVG picture holds a script or a handler."""
    head, comma, body = value.partition(",")
    if not comma or not head.lower().startswith("data:image/svg+xml"):
        return False
    data = unquote_to_bytes(body)
    if head.lower().rstrip().endswith("base64"):
        try:
            data = b64decode(data)
        except (NotBase64, ValueError):
            return False
    return _LIVE_PICTURE.search(data) is not None


def _look_at_sheet(source: Source, style: _Element, link: Active) -> None:
    """Imports and fonts that a style sheet fetches."""
    _, start, end = source.text_span(style)
    text = _COMMENT.sub(lambda found: b" " * len(found[0]), source.text[start:end])
    fetched = [one for one in _SHEET_LINK.finditer(text) if _fetches(one[0])]
    for one in fetched:
        link.add(style, _shown(one[0]))
        link.stretches.append((start + one.start(), start + one.end(), ""))
    rest = _SHEET_LINK.sub(b"", text).decode("utf-8", "replace")
    for address in _URL.findall(rest):
        if not address.startswith("#") and not address.lower().startswith("data:"):
            link.add(style, address)
            link.stuck = True


def _fetches(rule: bytes) -> bool:
    text = rule.decode("utf-8", "replace")
    if text.lower().startswith("@import"):
        return True
    return any(_SCHEME.match(one) and one[:5] != "data:" for one in _URL.findall(text))


def _shown(rule: bytes) -> str:
    text = rule.decode("utf-8", "replace")
    found = _URL.search(text)
    return found[1] if found else " ".join(text.split()).rstrip(";")


def _look_before(source: Source, link: Active) -> None:
    """Style sheets that are named before the drawing begins."""
    for one in _sheets_before(source.root):
        address = str(one.get("href") or "")
        if not address.startswith("#") and not address.lower().startswith("data:"):
            link.add(source.root, address)
    prolog = source.text[: source.text_span(source.root)[0]]
    text = _COMMENT.sub(lambda found: b" " * len(found[0]), prolog)
    for found in _STYLESHEET.finditer(text):
        if not re.search(rb"href\s*=\s*[\"']\s*(?:#|data:)", found[1]):
            link.stretches.append((found.start(), found.end(), ""))


def _sheets_before(root: _Element) -> Iterable[etree._ProcessingInstruction]:
    before: Iterator[object] = root.itersiblings(preceding=True)
    for one in before:
        if isinstance(one, etree._ProcessingInstruction) and one.target == "xml-stylesheet":
            yield one
