"""CSS text to declarations, and which media a sheet is for."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

# Deeper brackets than any drawing needs, and shallower than the parser's own recursion.
MAX_NESTING = 40

_NEEDS_PARSER = re.compile(r"""["'\\{}@/\[]""")
_SEMICOLON = re.compile(r";(?![^(]*\))")
_IMPORTANT = re.compile(r"\s*!\s*important\s*", re.IGNORECASE)


class Declaration(NamedTuple):
    """One `name: value` of CSS; the name in lower case."""

    name: str
    value: str
    important: bool


@lru_cache(maxsize=4096)
def parse_style(text: str) -> tuple[Declaration, ...]:
    """The declarations of a `style` attribute; what is no declaration is left out, as CSS says."""
    if _NEEDS_PARSER.search(text):
        from tinycss2 import parse_blocks_contents

        if nested_too_deep(text):
            return ()
        return declarations(parse_blocks_contents(text, skip_comments=True, skip_whitespace=True))
    found = []
    for part in _SEMICOLON.split(text):
        name, _, value = part.partition(":")
        name = name.strip().lower()
        if name and value:
            plain = _IMPORTANT.sub("", value) if "!" in value else value
            found.append(Declaration(name, plain.strip(), plain != value))
    return tuple(found)


def declarations(nodes: Iterable[Any]) -> tuple[Declaration, ...]:
    """The declarations among tinycss2's nodes, values as text without comments."""
    from tinycss2 import serialize

    return tuple(
        Declaration(
            node.lower_name,
            serialize([token for token in node.value if token.type != "comment"]).strip(),
            node.important,
        )
        for node in nodes
        if node.type == "declaration"
    )


def nested_too_deep(text: str) -> bool:
    """True where brackets nest deeper than MAX_NESTING."""
    depth = 0
    for bracket in re.findall(r"[()\[\]{}]", text):
        depth += 1 if bracket in "([{" else -1
        if depth > MAX_NESTING:
            return True
    return False


def media_applies(query: str) -> bool | None:
    """Whether rules for these media hold on a page; None where it takes a condition to know."""
    answer: bool | None = False
    for part in query.lower().split(","):
        words = part.split()
        if words[:1] == ["only"]:
            words = words[1:]
        if words in ([], ["all"], ["screen"]):
            return True
        if len(words) > 1 or not words[0].isalpha():
            answer = None
    return answer
