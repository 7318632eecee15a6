"""Names for the parts of all files of a run: each once, with its copies counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import PurePath

from matready.lint.sheets.parts import FileParts, Part


def name_all(files: Iterable[FileParts], copies: Mapping[str, int] | None = None) -> list[Part]:
    """All parts, as often as their file is wanted, each with a name of its own.

    `copies` tells how often, by FileParts.file; a file that is not in it is wanted once. Where two
    files have a part of one name, the file's name is added to it.
    """
    wanted = copies or {}
    whole = [(part, wanted.get(of.file, 1)) for of in files for part in of.parts]
    often = Counter(part.name for part, _ in whole)
    taken: set[str] = set()
    named = []
    for part, count in whole:
        name = part.name
        if often[name] > 1:
            name = f"{name}, {PurePath(part.file).stem}"
        for copy in range(1, count + 1):
            told = f"{name}, copy {copy}" if count > 1 else name
            named.append(replace(part, name=_free(told, taken), copy=copy))
    return named


def _free(name: str, taken: set[str]) -> str:
    free, number = name, 1
    while free in taken:
        number += 1
        free = f"{name} ({number})"
    taken.add(free)
    return free
