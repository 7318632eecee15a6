"""Writing a repaired file so that, whenever the program is stopped, the old or the new is there.

The bytes go into a hidden file in the same folder, which then takes the place of the old one in
one step of the operating system.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

# What a run that was killed leaves behind. An hour is far longer than one file takes to write, so
# no run that still goes on, here or on another machine, loses what it is writing.
LEFTOVER = re.compile(r"\.matready-[0-9a-f]{16}\.tmp")
LEFTOVER_AFTER_S = 3600.0

_ANYONE_MAY_WRITE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH


class NotWritten(Exception):
    """A file that was not written; its text is one plain sentence without the file's name."""


def digest(data: bytes) -> bytes:
    """A short stand-in for the bytes (SHA-256): equal where, and only where, they are equal."""
    return hashlib.sha256(data).digest()


def write_copy(target: Path, data: bytes) -> None:
    """Write a copy to `target`, with the folders it needs, over an older one. Raises NotWritten."""
    with _refusals_in_words():
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            old = target.stat()
        except FileNotFoundError:
            old = None
        if old is not None:
            _refuse_what_is_no_file(old)
            _refuse_read_only(target, old)
        with _beside(target, data, old) as new:
            new.replace(target)
    _settle(target.parent)


def append_line(path: Path, line: bytes) -> None:
    """Have one more line at the end of a file before anything that follows. Raises NotWritten."""
    with _refusals_in_words(), path.open("ab") as file:
        # What a killed run has left unfinished is a line of its own.
        file.write(b"\n" + line)
        file.flush()
        os.fsync(file.fileno())


def write_in_place(path: Path, data: bytes, before: bytes) -> None:
    """Put `data` in the place of the file at `path`, which keeps its permissions and links.

    `before` is the digest of what was read there. Raises NotWritten where something else is there
    by now, and for a file that may not be written or that has a second name on the disk.
    """
    with _refusals_in_words():
        # A link stays what it is: the file that it leads to is replaced.
        target = path.resolve(strict=True)
        old = target.stat()
        _refuse_what_is_no_file(old)
        _refuse_read_only(target, old)
        if old.st_nlink > 1:
            raise NotWritten(
                "this file has a second name on the disk (a hard link) that would keep the old "
                "drawing; write a copy with --out"
            )
        with _beside(target, data, old) as new:
            if digest(target.read_bytes()) != before:
                raise NotWritten("the file was changed while it was being repaired; run fix again")
            new.replace(target)
    _settle(target.parent)


def sweep(folder: Path) -> None:
    """Remove what a run that was killed left in the folder; nothing that may still be in use."""
    now = time.time()
    with suppress(OSError):
        for path in list(folder.iterdir()):
            with suppress(OSError):
                if LEFTOVER.fullmatch(path.name) and _age_s(path, now) > LEFTOVER_AFTER_S:
                    path.unlink()


def _age_s(path: Path, now: float) -> float:
    return now - path.lstat().st_mtime


@contextmanager
def _beside(target: Path, data: bytes, old: os.stat_result | None) -> Iterator[Path]:
    """A finished file with the data next to `target`; gone at the end if it was not moved there."""
    new = target.with_name(f".matready-{secrets.token_hex(8)}.tmp")
    try:
        with new.open("xb") as file:
            if old is not None:  # before the first byte: a private drawing is never an open one
                _take_over(target, old, new)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield new
    finally:
        with suppress(OSError):
            new.unlink()


def _take_over(target: Path, old: os.stat_result, new: Path) -> None:
    """Give the new file the old one's owner, permission bits and attributes, where allowed."""
    if sys.platform != "win32":
        # To give a file away takes special rights; the group alone may be allowed without.
        for owner in (-1, old.st_uid):
            with suppress(OSError):
                os.chown(new, owner, old.st_gid)
    # After the owner, since a change of owner may take bits away.
    with suppress(OSError):
        new.chmod(stat.S_IMODE(old.st_mode))
    if sys.platform == "linux":  # of other systems' attributes Python knows nothing
        with suppress(OSError):
            for name in os.listxattr(target):
                with suppress(OSError):
                    os.setxattr(new, name, os.getxattr(target, name))


def _settle(folder: Path) -> None:
    """Have the folder itself on the disk, where the system can: the new name outlives a crash."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _refuse_what_is_no_file(about: os.stat_result) -> None:
    if not stat.S_ISREG(about.st_mode):
        raise NotWritten("a folder, pipe or device of that name is in the way; move it elsewhere")


def _refuse_read_only(path: Path, about: os.stat_result) -> None:
    # A folder that may be written would let the file be replaced all the same, and so would an
    # administrator's rights; but who took the permission away did not want it changed.
    if not about.st_mode & _ANYONE_MAY_WRITE or not os.access(path, os.W_OK):
        raise NotWritten("the file there is read-only; allow writing to it")


@contextmanager
def _refusals_in_words() -> Iterator[None]:
    """Turn what the operating system says into a NotWritten."""
    try:
        yield
    except PermissionError:
        # Windows says the same of a file that another program has open.
        raise NotWritten(
            "you may not write to that place; choose another folder, or close what has the file "
            "open"
        ) from None
    except FileNotFoundError:
        raise NotWritten(
            "its place is not there: the folder could not be made, or the file was moved away "
            "meanwhile; choose another folder, or run fix again"
        ) from None
    except (NotADirectoryError, FileExistsError):
        raise NotWritten("a file stands where a folder is needed; move it elsewhere") from None
    except (OSError, ValueError, RuntimeError) as error:
        # ValueError: a name that no system takes. RuntimeError: a circle of links (Python 3.11).
        reason = (getattr(error, "strerror", None) or "bad name").lower()
        raise NotWritten(f"it could not be written ({reason}); make room or write elsewhere") from (
            None
        )
