"""Entities that a file declares for itself, and what writing them out would change in its text."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

from matready.lint.source import Source

_DECLARED = re.compile(
    rb"\s*<!ENTITY\s+(?P<name>[^\s%\"'<>]+)\s+(?:\"(?P<double>[^\"]*)\"|'(?P<single>[^']*)')\s*>"
)
_ANY = re.compile(rb"<!ENTITY\s")
_DOCTYPE = re.compile(rb"<!DOCTYPE\s[^\[<>]*?(?P<subset>\s*\[)")
_SUBSET_END = re.compile(rb"\](?=\s*>)")
_USED = re.compile(rb"&([^\s#&;<>\"']+);")
_VERBATIM = re.compile(rb"<!--.*?-->|<!\[CDATA\[.*?\]\]>|<\?.*?\?>", re.DOTALL)
_NUMBERED = re.compile(r"&#(?:x([0-9a-fA-F]+)|([0-9]+));")
_KNOWN = frozenset(("amp", "lt", "gt", "quot", "apos"))  # XML 1.0, 4.6
_DEEPEST = 20  # entities in entities


class Entities(NamedTuple):
    """How many entities are declared, the name of the first, and the edits that write them out.

    `stretches` are as in the act Purge. `stuck`: they bring in elements, or cannot all be read.
    """

    number: int
    first: str
    stretches: tuple[tuple[int, int, str], ...]
    stuck: bool


class _Stuck(Exception):
    pass


def find_entities(source: Source) -> Entities | None:
    """The entities of a file; None where it declares none."""
    text = source.text
    if b"<!ENTITY" not in text:
        return None
    body = source.text_span(source.root)[0]
    prolog = _blanked(text[:body])
    count = len(_ANY.findall(prolog))
    if not count:
        return None
    doctype = _DOCTYPE.search(prolog)
    declared = list(_DECLARED.finditer(prolog))
    first = declared[0]["name"].decode("utf-8") if declared else ""
    ends = [found.end() for found in _SUBSET_END.finditer(prolog)]
    if doctype is None or not ends or len(declared) != count:
        return Entities(count, first, (), stuck=True)
    try:
        values = _values(declared)
        stretches = _without(prolog, declared, doctype.start("subset"), doctype.end(), ends[-1])
        stretches += _written_out(text, body, values)
    except _Stuck:
        return Entities(count, first, (), stuck=True)
    return Entities(count, first, tuple(stretches), stuck=False)


def _blanked(text: bytes) -> bytes:
    """The text with spaces for what is not read as markup."""
    return _VERBATIM.sub(lambda found: b" " * len(found[0]), text)


def _values(declared: list[re.Match[bytes]]) -> dict[str, str]:
    """What stands for each entity; the first declaration of a name counts (XML 1.0, 4.2)."""
    raw: dict[str, str] = {}
    for one in declared:
        value = one["double"] if one["double"] is not None else one["single"]
        raw.setdefault(one["name"].decode("utf-8"), value.decode("utf-8"))
    return {name: _value(name, raw, 0) for name in raw}


def _value(name: str, raw: Mapping[str, str], depth: int) -> str:
    """An entity's text with the entities in it; raises _Stuck where that is more than text."""
    if name not in raw or depth > _DEEPEST:
        raise _Stuck
    value = _NUMBERED.sub(_character, raw[name])
    parts = re.split(r"&([^\s#&;]+);", value)
    for k in range(1, len(parts), 2):
        parts[k] = _value(parts[k], raw, depth + 1)
    joined = "".join(parts)
    if "<" in joined or "&" in joined or "%" in raw[name]:
        raise _Stuck
    return joined


def _character(found: re.Match[str]) -> str:
    return chr(int(found[1], 16) if found[1] else int(found[2]))


def _without(
    prolog: bytes, declared: list[re.Match[bytes]], before: int, opened: int, closed: int
) -> list[tuple[int, int, str]]:
    """Edits that take the declarations out, and the brackets too where nothing is left in them."""
    rest = list(prolog[opened : closed - 1])
    for one in declared:
        for at in range(one.start() - opened, one.end() - opened):
            rest[at] = 32
    if not bytes(rest).strip():
        return [(before, closed, "")]
    return [(one.start(), one.end(), "") for one in declared]


def _written_out(text: bytes, body: int, values: Mapping[str, str]) -> list[tuple[int, int, str]]:
    """Edits that put the text of each entity where it is named."""
    edits = []
    for found in _USED.finditer(_blanked(text[body:])):
        name = found[1].decode("utf-8", "replace")
        if name in _KNOWN:
            continue
        if name not in values:
            raise _Stuck
        # Quotes that an entity brings do not end a value (XML 1.0, 4.4.5); written out they would.
        value = values[name].replace('"', "&quot;").replace("'", "&#39;")
        edits.append((body + found.start(), body + found.end(), value))
    return edits
