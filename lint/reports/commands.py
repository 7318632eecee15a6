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
_PATH = "PATH"  # stands for paths that are too many to be written out, or that no shell is sure of
_MOST_WRITTEN = 160  # characters; what is longer is not read, and hardly copied


class Typed(NamedTuple):
    """What was typed: paths, and those options that decide what is found, each with its value."""

    paths: tuple[str, ...] = ()
    options: tuple[tuple[str, str], ...] = ()

    def fix(self, *more: str, to: str = "", without: str = "") -> str:
        """The command that fixes the same in a copy, with `more` options.

        `to` says where the result goes; by default copies go to a new folder. The option `without`
        is left out.
        """
        where = to or f"--out {folder_of_copies(*self.paths)}"
        words = [self._written(), *self._options(without), *more, where]
        return " ".join(["matready fix", *words])

    def lint(self, at: str) -> str:
        """The command that checks what lies `at` a place, as that is typed, for all rules."""
        return " ".join(["matready lint", at, *self._options("--rule")])

    def about(self, command: str) -> str:
        """What to say of a command in which the paths are not written out."""
        unwritten = len(self.paths) > 1 and f" {_PATH} " in command
        return f"; for {_PATH} type the same names again" if unwritten else ""

    def _written(self) -> str:
        """The paths, where they can be typed and are not too long to be."""
        words = [as_typed(path) for path in self.paths]
        written = " ".join(words)
        return written if all(words) and 0 < len(written) <= _MOST_WRITTEN else _PATH

    def _options(self, without: str = "") -> list[str]:
        kept = [(name, value) for name, value in self.options if name != without]
        return [word for name, value in kept for word in (name, as_typed(value) or "VALUE")]


UNTYPED = Typed()
"""Nothing is known of what was typed."""


def folder_of_copies(*paths: str) -> str:
    """A name for the folder of copies: never one that they would be made of."""
    taken = {part for path in paths for part in PurePath(path).parts}
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
