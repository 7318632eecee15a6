"""A start tag as it stands in the text: where its attributes are, and what changing one takes."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from matready.lint.repair.refusal import Refused
from matready.lint.repair.splice import Splice

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.source import Source

_NAME = re.compile(rb"<([^\s/>]+)")
_ATTRIBUTE = re.compile(rb"""\s*([^\s=/>"'<]+)\s*=\s*(?:"([^"]*)"|'([^']*)')""")


@dataclass(frozen=True, slots=True)
class Attribute:
    """Offsets in the text: the space before the name, the value between its quotes."""

    start: int
    value_start: int
    value_end: int
    quote: str


@dataclass(frozen=True, slots=True)
class Tag:
    """A start tag: `start` to `tag_end`, of an element that goes on to `end`; offsets in `text`.

    `attributes` are by their names as written, prefixes included; `values` as XML reads them.
    """

    text: bytes
    start: int
    name_end: int
    tag_end: int
    end: int
    attributes: Mapping[str, Attribute]

    @property
    def name(self) -> str:
        """The element's name as written, with its prefix."""
        return self.text[self.start + 1 : self.name_end].decode("utf-8")

    @property
    def empty(self) -> bool:
        """True for `<path .../>`."""
        return self.tag_end == self.end

    def raw(self, name: str) -> str | None:
        """An attribute's value as it is spelled in the file."""
        found = self.attributes.get(name)
        if found is None:
            return None
        return self.text[found.value_start : found.value_end].decode("utf-8")

    def set(self, name: str, value: str) -> Splice:
        """Give an attribute a value; it is added after the others where there is none."""
        found = self.attributes.get(name)
        if found is not None:
            return Splice(found.value_start, found.value_end, (escaped(value, found.quote),))
        last = max((a.value_end + 1 for a in self.attributes.values()), default=self.name_end)
        return Splice(last, last, (f' {name}="{escaped(value)}"',))

    def drop(self, name: str) -> Splice:
        """Take an attribute away, with the space before it."""
        found = self.attributes[name]
        return Splice(found.start, found.value_end + 1, ())

    def rename(self, name: str) -> list[Splice]:
        """Call the element by another name, its end tag too."""
        prefix, colon, _ = self.name.rpartition(":")
        full = prefix + colon + name
        splices = [Splice(self.start + 1, self.name_end, (full,))]
        if not self.empty:
            at = self.text.rindex(b"</", self.start, self.end) + 2
            splices.append(Splice(at, at + len(self.name.encode("utf-8")), (full,)))
        return splices

    def again(self, without: Collection[str], extra: Mapping[str, str], close: bool) -> str:
        """The same start tag written once more, as an empty element where `close`."""
        parts = [f"<{self.name}"]
        for name, found in self.attributes.items():
            if name in without:
                continue
            if name in extra:
                value = escaped(extra[name], found.quote)
                parts.append(f" {name}={found.quote}{value}{found.quote}")
            else:
                parts.append(self.text[found.start : found.value_end + 1].decode("utf-8"))
        parts += [
            f' {name}="{escaped(value)}"'
            for name, value in extra.items()
            if name not in self.attributes
        ]
        return "".join(parts) + ("/>" if close else ">")


def escaped(value: str, quote: str = '"') -> str:
    """Text as it may stand between quotes of an attribute."""
    value = value.replace("&", "&amp;").replace("<", "&lt;")
    return value.replace(quote, "&quot;" if quote == '"' else "&#39;")


def read_tag(source: Source, element: _Element) -> Tag:
    """The start tag of an element; Refused where its bytes cannot be told."""
    start, tag_end, end = source.text_span(element)
    return tag_at(source.text, start, tag_end, end)


def tag_at(text: bytes, start: int, tag_end: int, end: int) -> Tag:
    """The start tag that stands in a text from `start` to `tag_end`."""
    found = _NAME.match(text, start)
    if tag_end == start or found is None:
        raise Refused("its place in the file cannot be told for certain")
    attributes = {}
    at = found.end()
    while (attribute := _ATTRIBUTE.match(text, at, tag_end)) is not None:
        group = 2 if attribute[2] is not None else 3
        attributes[attribute[1].decode("utf-8")] = Attribute(
            attribute.start(), attribute.start(group), attribute.end(group), "\"'"[group - 2]
        )
        at = attribute.end()
    return Tag(text, start, found.end(), tag_end, end, attributes)
