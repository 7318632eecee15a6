"""Which drawings and settings files have changed on the disk, and are whole again.

What the system tells only wakes us: what has changed we see by looking. So nothing hangs on how an
editor saves, in one step, in two, or by a new file that takes the old one's name.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from matready.lint.folders import Found, find_files
from matready.lint.settings import FILE_NAME

TICK_MS = 300  # a save is at rest once two looks, this far apart, see the same
_GROUPING_MS = 50

_Sign = tuple[int, int, int, int]  # device, file number, time of change, size


class NotWatched(Exception):
    """The system does not let us watch; str() is one plain sentence."""


@dataclass(frozen=True, slots=True)
class Moves:
    """What has changed since the last look that saw a change.

    `found` is what is there now. `renamed` maps a file's name to the one it had; those are in
    neither `new` nor `gone`. `settings` are settings files that came, went or changed.
    """

    found: Found
    saved: tuple[Path, ...] = ()
    new: tuple[Path, ...] = ()
    gone: tuple[Path, ...] = ()
    renamed: Mapping[Path, Path] = field(default_factory=dict)
    settings: tuple[Path, ...] = ()


class Ground:
    """The files below some paths, as they were when last looked at."""

    def __init__(self, paths: Sequence[Path], config: Path | None) -> None:
        self._paths = tuple(paths)
        self._config = config
        self._walk()
        self._known = self._last = self._signs()

    @property
    def found(self) -> Found:
        """The files and what leads to none."""
        return self._found

    def look(self, woken: bool) -> Moves | None:
        """What has changed and is at rest; None where nothing has.

        `woken` tells that something has happened below a folder, which may have new files.
        """
        now = self._signs()
        if woken or now != self._last or now != self._known:
            self._walk()
            now = self._signs()
        last, self._last = self._last, now
        settled = {
            path
            for path in now | self._known
            if self._known.get(path) != now.get(path) == last.get(path)
        }
        if not settled:
            return None
        before = self._known
        self._known = {
            **{path: sign for path, sign in before.items() if path not in settled},
            **{path: sign for path, sign in now.items() if path in settled},
        }
        return self._moves(settled, before)

    def _walk(self) -> None:
        self._found = find_files(self._paths)
        whole = [Path(os.path.abspath(path)) for path in self._found.files]  # noqa: PTH100
        folders = {folder for path in whole for folder in path.parents}
        near = {folder / FILE_NAME for folder in folders}
        self._settings = near if self._config is None else {self._config}

    def _signs(self) -> dict[Path, _Sign]:
        """By what each file that is there is known to be the same."""
        paths = (*self._found.files, *self._settings)
        return {path: sign for path in paths if (sign := _sign(path)) is not None}

    def _moves(self, settled: set[Path], before: Mapping[Path, _Sign]) -> Moves:
        """Sort what is settled by what has become of it."""
        now = self._known
        drawings = {path for path in settled if path.name != FILE_NAME} - self._settings
        gone = {path for path in drawings if path not in now}
        new = {path for path in drawings if path not in before}
        left = {before[path]: path for path in gone}
        renamed = {path: left[now[path]] for path in new if now[path] in left}
        order = [path for path in self._found.files if path in drawings]
        return Moves(
            found=self._found,
            saved=tuple(path for path in order if path not in new | gone),
            new=tuple(path for path in order if path in new and path not in renamed),
            gone=tuple(sorted(gone - set(renamed.values()))),
            renamed={path: renamed[path] for path in order if path in renamed},
            settings=tuple(sorted(settled - drawings)),
        )


def _sign(path: Path) -> _Sign | None:
    try:
        about = path.stat()
    except (OSError, ValueError):  # ValueError: a name that no system takes
        return None
    return about.st_dev, about.st_ino, about.st_mtime_ns, about.st_size


def wake_ups(paths: Sequence[Path]) -> Iterator[bool]:
    """Tell for ever, several times a second, whether something has happened below the folders.

    Raises NotWatched, and KeyboardInterrupt.
    """
    from watchfiles import watch  # only who watches needs it

    while True:
        begun = False  # what came before the system listened may have been missed
        folders = [path for path in paths if path.is_dir()]
        there = [_number(folder) for folder in folders]
        try:
            for changes in watch(
                *folders,
                watch_filter=lambda _change, path: not _is_hidden(path, paths),
                step=_GROUPING_MS,
                rust_timeout=TICK_MS,
                yield_on_timeout=True,
                ignore_permission_denied=True,
            ):
                yield bool(changes) or not begun
                begun = True
                # A folder that was made anew is another one to the system.
                if [_number(path) for path in paths if path.is_dir()] != there:
                    break
        except FileNotFoundError:
            pass  # a folder went just now
        except (OSError, RuntimeError) as error:
            reason = str(error).rstrip(".")
            raise NotWatched(
                f"these folders cannot be watched ({reason}); name fewer, or leave out --watch"
            ) from None


def _number(folder: Path) -> tuple[int, int] | None:
    sign = _sign(folder)
    return sign and sign[:2]


def _is_hidden(path: str, folders: Iterable[Path]) -> bool:
    """Whether a part of the path below one of our folders begins with a dot."""
    for folder in map(os.path.abspath, folders):  # where links stay what they are
        if path.startswith(f"{folder}{os.sep}"):
            return f"{os.sep}." in path[len(folder) :]
    return False
