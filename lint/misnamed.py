"""A path at which there is no file: what was probably meant, in one sentence."""

from __future__ import annotations

import os
from itertools import islice
from pathlib import Path

from matready.lint.folders import SUFFIXES
from matready.lint.sizes import nearest

_NOT_THERE = "there is no such file"
_MOST_NAMES = 1000  # of a folder are looked at: comparing names takes time


def nothing_at(path: Path) -> str:
    """Why there is nothing at a path, and the name that it was to have, where one is much like it.

    A pattern in quotes, which no shell spells out, is told as such.
    """
    if "*" in path.name or "?" in path.name:
        return f"{_NOT_THERE}; in quotes * and ? are no more than signs, so name the folder instead"
    while not path.parent.is_dir() and path != path.parent:
        path = path.parent
    names = {_stem(name): name for name in _drawings_and_folders(path.parent)}
    near = nearest(_stem(path.name), names)
    if near is None:
        return f"{_NOT_THERE}; check the name and the folder"
    return f'{_NOT_THERE}; the nearest name there is "{names[near]}"'


def _stem(name: str) -> str:
    return name.rsplit(".", 1)[0] if name.lower().endswith(SUFFIXES) else name


def _drawings_and_folders(folder: Path) -> list[str]:
    try:
        with os.scandir(folder) as entries:
            found = list(islice(entries, _MOST_NAMES))
    except OSError:
        return []
    return sorted(
        entry.name
        for entry in found
        if entry.name.isprintable()
        and not entry.name.startswith(".")
        and (entry.name.lower().endswith(SUFFIXES) or entry.is_dir())
    )
