"""What changes in a file, as a unified diff (POSIX, utility diff, option -u)."""

from __future__ import annotations

import difflib
import re
from pathlib import PurePath

_LINE = re.compile(r"[^\n]*\n|[^\n]+")


def as_diff(path: PurePath, old: str, new: str) -> str:
    """Compare two texts of the file at `path`; lines end at line feeds only, as for any diff."""
    # Without root or drive, and with /: so that it can be applied from there, on every system.
    name = path.relative_to(path.anchor).as_posix().replace("\n", "?")
    lines = difflib.unified_diff(_LINE.findall(old), _LINE.findall(new), f"a/{name}", f"b/{name}")
    whole = (
        line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in lines
    )
    return "".join(whole)
