"""Rules over files: one report a file, in the order of the files, on as many cores as it pays."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from msgspec.structs import replace

from matready.lint.cores import each
from matready.lint.inspection import checked, inspect_source
from matready.lint.results import (
    Checked,
    FileReport,
    Repaired,
    UnreadableFile,
)
from matready.lint.sets import with_collected
from matready.lint.settings import Settings
from matready.lint.source import Source, Unreadable, bytes_of, read_file, read_source

if TYPE_CHECKING:
    from matready.lint.rule import Rule
    from matready.lint.settings import SettingsFinder

_ALONE_SKETCHED = 8  # with repairs and pictures a file takes several times as long

_Result = TypeVar("_Result")


@dataclass(frozen=True, slots=True)
class Proposal:
    """A repaired file that is still to be written.

    `changed` tells whether its bytes differ from the source's; `before` is the digest of those.
    """

    repaired: Repaired
    changed: bool
    before: bytes


def inspect_bytes(
    data: bytes,
    name: str,
    rules: Sequence[Rule],
    settings: Settings | None = None,
    *,
    sketched: bool = False,
) -> Checked:
    """Check one SVG given as bytes, and draw its picture where it is wanted. Raises Unreadable."""
    settings = settings or Settings()
    return _read_and_inspect(lambda: read_source(data, name), rules, settings, sketched=sketched)


def lint_bytes(
    data: bytes, name: str, rules: Sequence[Rule], settings: Settings | None = None
) -> FileReport:
    """The report of one SVG given as bytes. Raises Unreadable."""
    return inspect_bytes(data, name, rules, settings).report


def lint_paths(
    paths: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None = None,
    on_done: Callable[[], None] | None = None,
    *,
    sketched: bool = False,
) -> Generator[Checked | UnreadableFile, None, None]:
    """Check files one after the other, or on several cores; results come in the order of `paths`.

    `jobs` None means one process for a few files and one a core for many. `on_done` is called
    after each file. `sketched`: with a picture of each, before and after its fixes. Raises
    BadSettings for a faulty settings file.
    """
    if not sketched:
        return _each(lint_file, paths, rules, finder, jobs, on_done)
    jobs = jobs or (None if len(paths) <= _ALONE_SKETCHED else os.cpu_count())
    return _each(partial(lint_file, sketched=True), paths, rules, finder, jobs, on_done)


def repair_paths(
    paths: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    reshape: bool,
    jobs: int | None = None,
    on_done: Callable[[], None] | None = None,
) -> Generator[Proposal | UnreadableFile, None, None]:
    """Repair files as `lint_paths` checks them; nothing is written. Raises BadSettings."""
    return _each(partial(repair_file, reshape=reshape), paths, rules, finder, jobs, on_done)


def _each(
    work: Callable[[Path, Sequence[Rule], Settings], _Result],
    paths: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None,
    on_done: Callable[[], None] | None,
) -> Generator[_Result, None, None]:
    """Do the work on every file with its settings; results in the order of the files."""
    settings = [finder.for_file(path) for path in paths]
    with closing(each(work, paths, rules, settings, jobs)) as results:
        for result in results:
            if on_done:
                on_done()
            yield result


def lint_file(
    path: Path, rules: Sequence[Rule], settings: Settings, sketched: bool = False
) -> Checked | UnreadableFile:
    """Check one file; a file that can't be read is a result too."""
    try:
        return _read_and_inspect(
            lambda: read_file(path), rules, settings, in_set=True, sketched=sketched
        )
    except Unreadable as error:
        return UnreadableFile(str(path), str(error))


def repair_file(
    path: Path, rules: Sequence[Rule], settings: Settings, reshape: bool
) -> Proposal | UnreadableFile:
    """Repair one file in memory; a file that can't be read is a result too."""
    # Loaded here because a lint does without, and because repair lints its own copies.
    from matready.lint.repair import repair
    from matready.lint.repair.writing import digest

    try:
        with own_mistakes_in_words():
            data = bytes_of(path)
            repaired = repair(data, str(path), rules, settings, reshape)
    except Unreadable as error:
        return UnreadableFile(str(path), str(error))
    return Proposal(repaired, changed=repaired.data != data, before=digest(data))


def _read_and_inspect(
    read: Callable[[], Source],
    rules: Sequence[Rule],
    settings: Settings,
    *,
    in_set: bool = False,
    sketched: bool = False,
) -> Checked:
    """Check what is read; a file among others also says what rules over sets want to know."""
    with own_mistakes_in_words():
        inspection = inspect_source(read(), rules, settings)
        result = checked(inspection, settings)
        if sketched:
            # Loaded here because a lint without a page does without.
            from matready.lint.figures.sketch import sketch_of

            sketch = sketch_of(inspection, result.report, rules, settings)
            result = replace(result, sketch=sketch)
        return with_collected(result, inspection.cutout, rules, settings) if in_set else result


@contextmanager
def own_mistakes_in_words() -> Iterator[None]:
    """A mistake of this program must not cost the user the other files."""
    try:
        yield
    except Unreadable:
        raise
    except Exception as error:
        said = f"the program broke on this file ({type(error).__name__}: {error}); please report it"
        raise Unreadable(said) from error
