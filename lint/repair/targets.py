"""Where the repaired copies go: beside the folder structure of the sources, and never over one."""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from matready.lint.folders import NO_SVG, LeftOut, Refusal, find_files, no_folder
from matready.lint.repair.record import CopyRecord
from matready.lint.repair.writing import NotWritten


@dataclass(frozen=True, slots=True)
class Job:
    """One file to repair; `target` is where its copy goes, None where none was asked for."""

    source: Path
    target: Path | None


@dataclass(frozen=True, slots=True)
class Jobs:
    """The files to repair, in order, each once, and the paths that lead to no file.

    `left_out` are files that are not read since an earlier run wrote them elsewhere than into the
    folder of copies. `strays` are in that folder and no copies: they are not read either.
    """

    jobs: tuple[Job, ...]
    refused: tuple[Refusal, ...]
    left_out: tuple[LeftOut, ...] = ()
    strays: tuple[Path, ...] = ()


def find_jobs(paths: Iterable[Path], out: Path | None) -> Jobs:
    """Find the files and, below `out`, the place of each copy.

    A folder keeps its structure: `a/b/c.svg`, found by way of `a`, goes to `out/b/c.svg`; a file
    that was named goes to `out` itself. What is in `out`, where that is below a folder that is
    walked, are no sources.
    """
    jobs: dict[str, Job] = {}
    refused: dict[str, Refusal] = {}
    left_out: dict[str, LeftOut] = {}
    strays: dict[str, Path] = {}
    for path in paths:
        found = find_files([path])
        walked = _is_folder(path)
        files = [file for file in found.files if not (walked and _is_copy(file, path, out))]
        refusals = [each for each in found.refused if not _is_copy(each[0], path, out)]
        if not files and not refusals:
            refusals = [(path, NO_SVG)]
        for file in files:
            below = file.relative_to(path) if walked else Path(file.name)
            target = None if out is None else out / below
            jobs.setdefault(os.path.realpath(file), Job(file, target))
        for refusal in refusals:
            refused.setdefault(os.path.realpath(refusal[0]), refusal)
        strays |= {os.path.realpath(file): file for file in found.files if file not in files}
        others = (one for one in found.left_out if not _is_copy(one.path, path, out))
        left_out |= {os.path.realpath(one.path): one for one in others}
    # A stray that is in the way of a copy is told when that comes.
    read = {*jobs, *(os.path.realpath(job.target) for job in jobs.values() if job.target)}
    return Jobs(
        tuple(jobs.values()),
        tuple(refused.values()),
        tuple(one for key, one in left_out.items() if key not in read),
        tuple(path for key, path in strays.items() if key not in read),
    )


def reason_against(out: Path, paths: Iterable[Path]) -> str | None:
    """Why `out` cannot be the folder of the copies, in one sentence; None where it can."""
    if reason := no_folder(out):
        return reason
    for path in paths:
        if _is_folder(path) and os.path.realpath(path) == os.path.realpath(out):
            return "is the folder that is read; name another one, or choose --in-place"
    return None


class Claims:
    """Which names in the folder of copies are taken already, and which are sources.

    `record` tells which of them are copies of earlier runs.
    """

    def __init__(self, out: Path, sources: Iterable[Path]) -> None:
        self.record = CopyRecord(out)
        self._out = Path(os.path.realpath(out))
        self._sources = {key: path for path in sources for key in _keys(path)}
        self._taken: dict[_Key, Path] = {}

    def claim(self, job: Job) -> None:
        """Take the job's target for its source; raises NotWritten where that may not be.

        To be called right before writing, so that the disk is looked at as it is then.
        """
        assert job.target is not None
        places = (job.target, job.target.parent)  # a link outside may lead back to a file in here
        if not all(Path(os.path.realpath(at)).is_relative_to(self._out) for at in places):
            raise NotWritten("a link in the folder of copies leads out of it; remove that link")
        keys = _keys(job.target)
        for source in filter(None, map(self._sources.get, keys)):
            raise NotWritten(
                f"its copy would be written over the source {source}; "
                "name another folder with --out"
            )
        for first in filter(None, map(self._taken.get, keys)):
            raise NotWritten(
                f"its copy would get the same name as that of {first}; fix the two into two folders"
            )
        # The path alone: what lies there now is about to be replaced, and its number given anew.
        self._taken[keys[0]] = job.source

    def written(self, job: Job) -> None:
        """Look at the copy that now lies at the job's target.

        By what is found there, names are known that this disk takes for one, as A.svg and a.svg.
        """
        assert job.target is not None
        self._taken.update(dict.fromkeys(_keys(job.target), job.source))


_Key = str | tuple[int, int]


def _keys(path: Path) -> list[_Key]:
    """What two names of one file have in common: the path behind all links, or what lies there."""
    keys: list[_Key] = [os.path.normcase(os.path.realpath(path))]
    with suppress(OSError, ValueError):
        about = path.stat()
        if about.st_ino:  # a file system may number nothing, and then 0 says nothing
            keys.append((about.st_dev, about.st_ino))
    return keys


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):  # what may not even be looked at
        return False


def _is_copy(path: Path, top: Path, out: Path | None) -> bool:
    """Tell whether a path met below `top` lies in the folder of copies, itself below `top`."""
    if out is None:
        return False
    real_out, real_top = Path(os.path.realpath(out)), Path(os.path.realpath(top))
    inside = real_out != real_top and real_out.is_relative_to(real_top)
    return inside and Path(os.path.realpath(path)).is_relative_to(real_out)
