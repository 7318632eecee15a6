"""The folder of the mats: written as a whole, over nothing but what an earlier run has left there.

New files are finished in a hidden folder inside it. Then the old ones leave, and the new ones come
in with the cutting list last: old and new are never mixed, and a folder with a list is whole.
"""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from matready.lint.earlier import LIST, LIST_FOR_PEOPLE, mats_listed
from matready.lint.folders import no_folder
from matready.lint.repair.writing import NotWritten

_FULL = (errno.ENOSPC, errno.EDQUOT)  # the disk, or what one may put on it
_STAGED = ".matready-"


def reason_against(out: Path, paths: Iterable[Path]) -> str | None:
    """Why mats cannot go to `out` while `paths` are read, in one clause; None where they can."""
    real = Path(os.path.realpath(out))
    if reason := no_folder(out):
        return reason
    for path in paths:
        where = Path(os.path.realpath(path))
        if where == real:
            return "is the folder that is read; name another one"
        if where.is_relative_to(real):
            return f"holds {path.name!r}, which is read; name another folder"
    return _without_place(out) or _foreign(out)


def _without_place(out: Path) -> str | None:
    """Why no folder can be made at `out`, or none of its files; None where it can."""
    there = out
    while not os.path.lexists(there) and there != there.parent:
        there = there.parent
    if not _is_folder(there):
        return f"needs a folder where {str(there)!r} is a file; name another place"
    if not os.access(there, os.W_OK | os.X_OK):
        return f"cannot be: you may not write to {str(there)!r}; name another place"
    return None


def write_all(out: Path, files: Mapping[str, bytes]) -> None:
    """Put these files, by name, into `out`, in the place of an earlier run's; raises NotWritten.

    The last of them is the cutting list.
    """
    staged: Path | None = None
    try:
        out.mkdir(parents=True, exist_ok=True)
        staged = Path(tempfile.mkdtemp(prefix=_STAGED, suffix=".tmp", dir=out))
        for folder in ("new", "old"):
            (staged / folder).mkdir()
        for name, data in files.items():
            _write(staged / "new" / name, data)
        # What lies in the folder may have changed while the mats were worked out.
        if reason := _foreign(out):
            raise NotWritten(f"the folder {reason}")
        _change_places(out, staged, files)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        room = "make room, or " if error.errno in _FULL else ""
        raise NotWritten(
            f"the mats could not be written ({reason}); {room}name another folder"
        ) from None
    finally:
        if staged is not None:
            shutil.rmtree(staged, ignore_errors=True)


def _change_places(out: Path, staged: Path, files: Iterable[str]) -> None:
    """Move the old files out and the new ones in; what goes wrong puts the old ones back."""
    old = [name for name in reversed(_earlier(out)) if os.path.lexists(out / name)]
    came: list[str] = []
    try:
        for name in old:
            (out / name).rename(staged / "old" / name)
        for name in files:
            (staged / "new" / name).rename(out / name)
            came.append(name)
    except BaseException:
        for name in came:
            with suppress(OSError):
                (out / name).unlink()
        for name in reversed(old):
            with suppress(OSError):
                (staged / "old" / name).rename(out / name)
        raise


def _write(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _foreign(out: Path) -> str | None:
    """What is said of a folder that holds something else than an earlier run's mats."""
    if not os.path.lexists(out):
        return None
    own = set(_earlier(out))
    try:
        names = sorted(path.name for path in out.iterdir() if not path.name.startswith("."))
    except OSError as error:
        return f"could not be opened ({(error.strerror or 'unknown reason').lower()})"
    other = next((name for name in names if name not in own), None)
    if other is None:
        return None
    return (
        f"holds {other!r}, which no cutting list there names as its own; "
        "name a new or empty folder, since mats of an earlier run are replaced as a whole"
    )


def _earlier(out: Path) -> list[str]:
    """The files that the cutting list in a folder names as its own, and the list, which is last."""
    mats = mats_listed(out)
    return [] if mats is None else [*mats, LIST_FOR_PEOPLE, LIST]


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):  # what may not even be looked at
        return False
