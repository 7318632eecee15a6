"""The record of the copies: what may be written over, because `fix` wrote it and no one else."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from matready.lint.earlier import (
    RECORD,
    record_as_bytes,
    record_line,
    record_name,
    recorded_copies,
)
from matready.lint.repair.writing import NotWritten, append_line, digest, write_copy


class CopyRecord:
    """What is known of the copies in the folder `out`, and what this run adds.

    Whenever a run is killed, the record names the bytes that are there: a line is on the disk
    before its copy, and the one of the older copy goes only at the end.
    """

    def __init__(self, out: Path) -> None:
        self._out = Path(os.path.realpath(out))
        found = recorded_copies(self._out)
        self._begun = found is not None
        self._known = found or {}
        self._written: dict[str, set[str]] = {}

    def check(self, target: Path, data: bytes) -> None:
        """Raise NotWritten where `data` would take the place of a file of the user's own."""
        try:
            if not target.is_file():
                return  # nothing is there, or what is never written over
            old = target.read_bytes()
        except OSError:
            old = None
        known = self._known.get(self._name(target), ())
        if old is None or (old != data and digest(old).hex() not in known):
            raise NotWritten(
                f"{target} is no copy of an earlier fix, or was changed since, and is kept; move "
                "it elsewhere, or name another folder with --out"
            )

    def write(self, target: Path, data: bytes) -> None:
        """Write a copy to `target`, the record first; raises NotWritten."""
        name, its = self._name(target), digest(data).hex()
        if not self._begun:
            write_copy(self._out / RECORD, record_as_bytes({}))
            self._begun = True
        if its not in self._known.get(name, ()):
            append_line(self._out / RECORD, record_line(name, its))
        self._known.setdefault(name, set()).add(its)
        write_copy(target, data)
        self._written.setdefault(name, set()).add(its)

    def finish(self) -> None:
        """Forget what was written over."""
        if all(self._known[name] == written for name, written in self._written.items()):
            return
        # Read again: another run may have written to the same folder meanwhile.
        there = recorded_copies(self._out) or {}
        with suppress(NotWritten):  # then it names too much, which is no harm
            write_copy(self._out / RECORD, record_as_bytes({**there, **self._written}))

    def _name(self, target: Path) -> str:
        # The folder behind its links, but no link to a file: that is written over as a link.
        folder = Path(os.path.realpath(target.parent)).relative_to(self._out)
        return record_name((folder / target.name).as_posix())
