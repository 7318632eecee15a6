"""From the paths of the command line to the list of SVG files to read."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from matready.lint.earlier import Earlier, earlier_in

SUFFIXES = (".svg", ".svgz")
NO_SVG = "no SVG file is in this folder; name a folder that holds .svg or .svgz files"
ONLY_EARLIER = (
    "nothing but what earlier runs wrote is in this folder; name the one that holds the drawings"
)
NOT_OPENED = "this folder could not be opened ({reason}); check who may read it"
NOT_A_FILE = "this is a pipe or a device, not a file; move it out of the folder"

_NAME_A_FOLDER = "name a folder, which need not be there yet"
_DIGITS = re.compile(r"([0-9]+)")

Refusal = tuple[Path, str]


class LeftOut(NamedTuple):
    """A file of an earlier run that was met on a walk, "copy" or "mat", and the folder of these."""

    path: Path
    folder: Path
    kind: str


@dataclass(frozen=True, slots=True)
class Found:
    """What a list of paths leads to.

    `files` are to be read, in order, each once. `refused` are paths that lead to no file, each
    with one plain sentence: a folder that may not be opened or holds no SVG, a pipe in a folder.
    `left_out` are files that are not to be read since an earlier run wrote them.
    """

    files: tuple[Path, ...]
    refused: tuple[Refusal, ...]
    left_out: tuple[LeftOut, ...] = ()


def find_files(paths: Iterable[Path]) -> Found:
    """Walk the folders among `paths` and keep the files, each once, in the order met.

    A path that is no folder is kept whatever its suffix, and also when nothing is there: reading it
    tells what is wrong. Below a folder `.svg` and `.svgz` in any letter case are kept, in natural
    order (2 before 10); names that begin with a dot are left out. A folder named `x.svg` is kept
    too, since a file was expected there, and then walked. Links are followed, loops are not.

    Copies and mats that an earlier run put into a folder met on the way are left out. Where the
    folder itself is among `paths` they are kept.
    """
    files: dict[str, Path] = {}
    refused: dict[str, Refusal] = {}
    left_out: dict[str, LeftOut] = {}
    for path in paths:
        below: list[Path | Refusal | LeftOut] = [path]
        if _is_folder(path):
            below = list(_walk(path))
        if all(isinstance(entry, LeftOut) for entry in below):
            below.append((path, ONLY_EARLIER if below else NO_SVG))
        for entry in below:
            if isinstance(entry, Path):
                files.setdefault(os.path.realpath(entry), entry)
            elif isinstance(entry, LeftOut):
                left_out.setdefault(os.path.realpath(entry.path), entry)
            else:
                refused.setdefault(os.path.realpath(entry[0]), entry)
    unread = (entry for key, entry in left_out.items() if key not in files)
    return Found(tuple(files.values()), tuple(refused.values()), tuple(unread))


def no_folder(out: Path) -> str | None:
    """Why `out` can be no folder of results, as a clause after its name; None where it can.

    A drawing's name is mostly meant for one drawing, and would be looked for as that.
    """
    if os.path.lexists(out) and not _is_folder(out):
        return f"is a file; {_NAME_A_FOLDER}"
    if not os.path.lexists(out) and out.name.lower().endswith(SUFFIXES):
        return f"is the name of a drawing, not of a folder; {_NAME_A_FOLDER}"
    return None


def natural_key(path: Path) -> tuple[object, ...]:
    """Sort key of a file name: digits count as numbers, letter case last, "arch" before "arch2"."""
    return (_parts(path.stem), _parts(path.suffix), path.name)


def _parts(text: str) -> tuple[tuple[int, int, str], ...]:
    """Split a text into numbers and words that compare with each other."""
    pieces = (piece for piece in _DIGITS.split(text) if piece)
    return tuple((0, int(p), p) if p.isdecimal() else (1, 0, p.casefold()) for p in pieces)


def _walk(top: Path) -> Iterator[Path | Refusal | LeftOut]:
    """Yield what is below a folder, and tell what of it earlier runs have left there."""
    wrote: dict[Path, tuple[Path, Earlier]] = {}
    for entry in list(_below(top, wrote)):  # a copy may be met by a link before its folder is
        yield (_left_out(entry, wrote) or entry) if isinstance(entry, Path) else entry


def _left_out(path: Path, wrote: Mapping[Path, tuple[Path, Earlier]]) -> LeftOut | None:
    """The file as one that an earlier run wrote; None where it is the user's own."""
    real = Path(os.path.realpath(path))
    for parent in real.parents if wrote else ():
        if parent in wrote:
            folder, earlier = wrote[parent]
            if kind := earlier.kind(real.relative_to(parent).as_posix(), real):
                return LeftOut(path, folder, kind)
    return None


def _below(top: Path, wrote: dict[Path, tuple[Path, Earlier]]) -> Iterator[Path | Refusal]:
    """Yield what is kept below a folder, depth first, in natural order.

    What earlier runs wrote into folders below is added to `wrote`, by their real paths.
    """
    within = Path(os.path.realpath(top))
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
            # Not the folder that was named, nor one around it to which a link leads back.
            if not within.is_relative_to(real) and any(earlier := earlier_in(path)):
                wrote[Path(real)] = path, earlier
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
