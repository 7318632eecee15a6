"""Files by their URI (RFC 3986), as reports for other programs name them."""

from __future__ import annotations

import os
from pathlib import Path, PurePath
from urllib.parse import quote


def uri_of(path: PurePath, folder: PurePath) -> str:
    """The URI of an absolute path: relative where it lies below the folder, else a `file:` one.

    Relative ones have / between their parts on every system, and neither `.` nor `..`.
    """
    if not path.is_relative_to(folder):
        return path.as_uri()
    # Also the colon is spelled out: before the first / it would end a scheme (RFC 3986, 4.2).
    return "/".join(quote(os.fsencode(part)) for part in path.relative_to(folder).parts)


def absolute(path: str) -> Path:
    """The path from the root of the file system on; links are followed only where a .. asks it."""
    # What .. leads to behind a link only the file system knows.
    return Path(path).resolve() if ".." in Path(path).parts else Path(path).absolute()
