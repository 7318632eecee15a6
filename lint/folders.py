"""From the paths of the command line to the list of SVG files to read."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

SUFFIXES = (".svg", ".svgz")
NO_SVG = "no SVG file is in this folder; name a folder that holds .svg or .svgz files"
NOT_OPENED = "this folder could not be opened ({reason}); check who may read it"
NOT_A_FILE = "this is a pipe or a device, not a file; move it out of the folder"

_DIGITS = re.compile(r"([0-9]+)")

Refusal = tuple[Path, str]


@dataclass(frozen=True, slots=True)
class Found:
    """What a list of paths leads to.

    `files` are to be read, in order, each once. `refused` are paths that lead to no file, each
    with one plain sentence: a folder that may not be opened or holds no SVG, a pipe in a folder.
    """

    files: tuple[Path, ...]
    refused: tuple[Refusal, ...]


def find_files(paths: Iterable[Path]) -> Found:
    """Walk the folders among `paths` and keep the files, each once, in the order met.

    A path that is no folder is kept whatever its suffix, and also when nothing is there: reading it
    tells what is wrong. Below a folder `.svg` and `.svgz` in any letter case are kept, in natural
    order (2 before 10); names that begin with a dot are left out. A folder named `x.svg` is kept
    too, since a file was expected there, and then walked. Links are followed, loops are not.
    """
    files: dict[str, Path] = {}
    refused: dict[str, Refusal] = {}
    for path in paths:
        below = list(_walk(path)) if _is_folder(path) else [path]
        for entry in below or [(path, NO_SVG)]:
            if isinstance(entry, Path):
                files.setdefault(os.path.realpath(entry), entry)
            else:
                refused.setdefault(os.path.realpath(entry[0]), entry)
    return Found(tuple(files.values()), tuple(refused.values()))


def natural_key(path: Path) -> tuple[object, ...]:
    """Sort key of a file name: digits count as numbers, letter case last, "arch" before "arch2"."""
    return (_parts(path.stem), _parts(path.suffix), path.name)


def _parts(text: str) -> tuple[tuple[int, int, str], ...]:
    """Split a text into numbers and words that compare with each other."""
    pieces = (piece for piece in _DIGITS.split(text) if piece)
    return tuple((0, int(p), p) if p.isdecimal() else (1, 0, p.casefold()) for p in pieces)


def _walk(top: Path) -> Iterator[Path | Refusal]:
    """Yield what is kept below a folder, depth first, in natural order."""
    met: set[str] = set()  # real paths of folders: a link back up, or two links to one, end here
    waiting = [top]
    while waiting:
        path = waiting.pop()
        named_svg = path.suffix.lower() in SUFFIXES and path is not top
        if _is_folder(path):
            if named_svg:
                yield path
            real = os.path.realpath(path)
            if real in met:
                continue
            met.add(real)
            try:
                waiting.extend(_entries(path))
            except OSError as error:
                reason = (error.strerror or "unknown reason").lower()
                yield path, NOT_OPENED.format(reason=reason)
        elif named_svg:
            yield (path, NOT_A_FILE) if _would_block(path) else path


def _entries(folder: Path) -> list[Path]:
    """List what is in a folder, last name first, names that begin with a dot left out."""
    shown = (path for path in folder.iterdir() if not path.name.startswith("."))
    return sorted(shown, key=natural_key, reverse=True)


def _is_folder(path: Path) -> bool:
    """Tell whether this is a folder; what may not even be looked at is none."""
    try:
        return path.is_dir()
    except OSError:
        return False


def _would_block(path: Path) -> bool:
    """Tell whether reading this would wait for ever: a pipe, a socket, a device.

    A link that leads nowhere does not: reading it says what is wrong.
    """
    try:
        return path.exists() and not path.is_file()
    except OSError:
        return False
