"""What earlier runs have left in a folder: copies that `fix` wrote, mats that `sheets` wrote.

A record names the copies with the bytes they were given, and the cutting list names its mats. Their
names are only compared with those of files that are met, so none of them leads anywhere.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

RECORD = ".matready-copies.jsonl"
RECORD_SCHEMA = "matready/copies-1"
MATS_SCHEMA = "matready/sheets-1"
LIST, LIST_FOR_PEOPLE = "cutting-list.json", "cutting-list.md"

_MAT = re.compile(r"[0-9]{2,}-[^/\\]+\.svg")  # a list that names other files is not followed
_LARGEST = 50_000_000  # bytes of a record or a list; a larger file is none


class Earlier(NamedTuple):
    """What earlier runs have written into a folder.

    `copies` are the SHA-256 in hex of all bytes that a copy may have, by its path below the folder,
    as `record_name` gives it. `mats` are names of files.
    """

    copies: Mapping[str, Collection[str]]
    mats: Collection[str]

    def kind(self, below: str, path: Path) -> str:
        """What the file at `path` is, "copy" or "mat"; empty where it is the user's own.

        `below` is its path below the folder, with slashes. A copy that was changed since is the
        user's own; a mat is not, since the next run replaces it all the same.
        """
        if below in self.mats:
            return "mat"
        digests = self.copies.get(record_name(below), ())
        return "copy" if digests and _digest(path) in digests else ""


def earlier_in(folder: Path) -> Earlier:
    """What earlier runs have written into a folder, and still name there."""
    return Earlier(recorded_copies(folder) or {}, frozenset(mats_listed(folder) or ()))


def record_name(below: str) -> str:
    """A path below the folder as the record has it: to some disks A.svg and a.svg are one file."""
    return below.casefold()


def record_line(name: str, digest: str) -> bytes:
    """One line of the record: these bytes were written to that name, or were about to be."""
    return json.dumps({"name": name, "sha256": digest}).encode() + b"\n"


def record_as_bytes(copies: Mapping[str, Iterable[str]]) -> bytes:
    """The whole record of these copies."""
    lines = [json.dumps({"schema": RECORD_SCHEMA}).encode() + b"\n"]
    lines += [record_line(name, one) for name in sorted(copies) for one in sorted(copies[name])]
    return b"".join(lines)


def recorded_copies(folder: Path) -> dict[str, set[str]] | None:
    """The copies that the record in a folder names, as in `Earlier`; None where there is no record.

    A line that is none, as the last of a run that was killed, is passed over.
    """
    first, *lines = _bytes(folder / RECORD).split(b"\n")
    if _object(first).get("schema") != RECORD_SCHEMA:
        return None
    copies: dict[str, set[str]] = {}
    for found in map(_object, lines):
        name, digest = found.get("name"), found.get("sha256")
        if isinstance(name, str) and isinstance(digest, str):
            copies.setdefault(name, set()).add(digest)
    return copies


def mats_listed(folder: Path) -> list[str] | None:
    """The mats that the cutting list in a folder names as its own; None where there is no list."""
    found = _object(_bytes(folder / LIST))
    try:
        names = [mat["file"] for mat in found["mats"]]
        ours = found["schema"] == MATS_SCHEMA
    except (LookupError, TypeError):
        return None
    plain = [name for name in names if isinstance(name, str) and _MAT.fullmatch(name)]
    return plain if ours else None


def _bytes(path: Path) -> bytes:
    """The bytes of a file; none where there is no file, or one that is too large.

    A link is none either: what is added to a record must not end up outside of its folder.
    """
    with suppress(OSError):
        if path.is_file() and not path.is_symlink() and path.stat().st_size <= _LARGEST:
            return path.read_bytes()
    return b""


def _object(data: bytes) -> dict[str, Any]:
    """A JSON object; an empty one where this is none."""
    try:
        found = json.loads(data)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _digest(path: Path) -> str:
    with suppress(OSError), path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
    return ""
