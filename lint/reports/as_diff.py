"""What changes in a file, as a unified diff (POSIX, utility diff, option -u)."""

from __future__ import annotations

import difflib
import re

_LINE = re.compile(r"[^\n]*\n|[^\n]+")


def as_diff(path: str, old: str, new: str) -> str:
    """Compare two texts of the file at `path`; lines end at line feeds only, as for any diff."""
    name = path.lstrip("/").replace("\n", "?")
    lines = difflib.unified_diff(_LINE.findall(old), _LINE.findall(new), f"a/{name}", f"b/{name}")
    whole = (
        line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in lines
    )
    return "".join(whole)
