"""Plain words as Markdown that shows them as they are: CommonMark with the tables of GitHub."""

from __future__ import annotations

import re
from collections.abc import Iterable

from matready.lint.reports.rule_pages import DRAWN, paragraphs_of

# What CommonMark would read as more than a letter, anywhere or (_START) where a line begins.
_MARKUP = re.compile(r"\\`|[\\*<>\[\]~&]|(?<!\w)_|_(?!\w)")
_START = re.compile(r"^(\d*)([#+.)-](?=\s|#))")


def escaped(text: str, *, code: bool = True) -> str:
    """Words of our own, in which what is in backticks stays code; without `code` any others."""
    parts = text.split("`") if code else [text.replace("`", "\\`")]
    if len(parts) % 2 == 0:  # a backtick without its mate is a letter
        parts[-2:] = [f"{parts[-2]}\\`{parts[-1]}"]
    words = [part if k % 2 else _MARKUP.sub(_with_backslash, part) for k, part in enumerate(parts)]
    return _START.sub(r"\1\\\2", "`".join(words))


def name_escaped(text: str) -> str:
    """A name or a sentence out of a file, on one line, with nothing in it read as markup."""
    return escaped(" ".join(text.split()), code=False)


def table_row(cells: Iterable[str]) -> str:
    """A row of a table, of cells that are Markdown already."""
    return f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


def explanation_as_markdown(body: str) -> str:
    """The text under a heading of a rule, its paragraphs apart; Wrong and Right stand out."""
    return "\n\n".join(map(_paragraph, paragraphs_of(body)))


def _with_backslash(found: re.Match[str]) -> str:
    return found[0] if found[0].startswith("\\`") else f"\\{found[0]}"


def _paragraph(text: str) -> str:
    start = next((start for start in DRAWN if text.startswith(start)), "")
    return f"**{start.strip()}** {escaped(text[len(start) :])}" if start else escaped(text)
