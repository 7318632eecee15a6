"""What changes in a file, as a unified diff (POSIX, utility diff, option -u)."""

from __future__ import annotations

import difflib
import re
from pathlib import PurePath

_LINE = re.compile(r"[^\n]*\n|[^\n]+")
_QUOTED = re.compile(r'["\\\x00-\x1f\x7f]')
_SHORT = {'"': r"\"", "\\": r"\\", "\t": r"\t", "\n": r"\n"}


def as_diff(path: PurePath, old: str, new: str) -> str:
    """Compare two texts of the file at `path`; lines end at line feeds only, as for any diff."""
    # Without root or drive, and with /: so that it can be applied from there, on every system.
    name = path.relative_to(path.anchor).as_posix()
    lines = difflib.unified_diff(
        _LINE.findall(old), _LINE.findall(new), _header(f"a/{name}"), _header(f"b/{name}")
    )
    whole = (
        line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in lines
    )
    return "".join(whole)


def _header(name: str) -> str:
    """A file's name as GNU patch and git read it back from a header line.

    One with a quote, a backslash or a control character is written as a string of C; after one with
    a blank comes the tab that stands before a time, or the name would end at the blank.
    """
    if _QUOTED.search(name):
        return f'"{_QUOTED.sub(_escape, name)}"'
    return f"{name}\t" if " " in name else name


def _escape(found: re.Match[str]) -> str:
    return _SHORT.get(found[0], f"\\{ord(found[0]):03o}")
