"""Commands of matready to type next, ready to be copied into a terminal."""

from __future__ import annotations

import os
import re
from pathlib import PurePath
from typing import NamedTuple

from matready.lint.reports.as_text import STANDARD_INPUT, shown

# A backslash parts folders in Windows; to other shells it is a mark of their own.
_PLAIN = re.compile(rf"[\w./:@%+=,{re.escape(os.sep)}-]+")
_QUOTABLE = re.compile(r"[^\"`$!\\\x00-\x1f]+")


class Typed(NamedTuple):
    """What was typed: paths, and those options that decide what is found, each with its value."""

    paths: tuple[str, ...] = ()
    options: tuple[tuple[str, str], ...] = ()

    def fix(self, *more: str, to: str = "", without: str = "") -> str:
        """The command that fixes the same in a copy, with `more` options.

        Only where one path was typed it can be named here. `to` says where the result goes; by
        default copies go to a new folder. The option `without` is left out.
        """
        path = self.paths[0] if len(self.paths) == 1 else ""
        where = to or f"--out {folder_of_copies(path)}"
        words = [as_typed(path) or "PATH", *self._options(without), *more, where]
        return " ".join(["matready fix", *words])

    def lint(self, at: str) -> str:
        """The command that checks what lies `at` a place, as that is typed, for all rules."""
        return " ".join(["matready lint", at, *self._options("--rule")])

    def _options(self, without: str = "") -> list[str]:
        kept = [(name, value) for name, value in self.options if name != without]
        return [word for name, value in kept for word in (name, as_typed(value) or "VALUE")]


UNTYPED = Typed()
"""Nothing is known of what was typed."""


def folder_of_copies(path: str) -> str:
    """A name for the folder of copies: never the one that they would be made of."""
    taken = PurePath(path).parts
    names = ("fixed", "fixed-again", "copies", *(f"copies-{k}" for k in range(2, len(taken) + 2)))
    return next(name for name in names if name not in taken)


def as_typed(text: str) -> str:
    """A file's name, or another value, as any shell takes it; empty where none is certain to."""
    if text == STANDARD_INPUT or text != shown(text):
        return ""
    safe = f"./{text}" if text.startswith("-") else text
    if _PLAIN.fullmatch(safe):
        return safe
    return f'"{safe}"' if _QUOTABLE.fullmatch(safe) else ""
