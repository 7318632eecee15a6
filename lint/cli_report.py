"""The page that `--report FILE.html` of `lint` and `sheets` writes, and that `--open` shows."""

from __future__ import annotations

import os
import webbrowser
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matready.lint.console import Trouble, say
from matready.lint.reports.as_text import shown
from matready.lint.reports.generator import HEAD_BYTES, is_ours

if TYPE_CHECKING:
    from matready.lint.results import Checked, SetFindingRecord, UnreadableFile
    from matready.lint.rule import Rule
    from matready.lint.sheets.cutting_list import CuttingList
    from matready.lint.sheets.laid import Mat

_SUFFIXES = frozenset((".html", ".htm"))


def check_page(page: Path | None, opened: bool, paths: Sequence[Path]) -> None:
    """Raise Trouble where the page cannot go where it is asked to, or there is none to open."""
    if page is None:
        if opened:
            raise Trouble(
                "--open shows the page that --report writes; name one: --report FILE.html"
            )
        return
    name = shown(str(page))
    if _is_folder(page):
        raise Trouble(f"--report: {name} is a folder; name a file in it, such as report.html")
    if page.suffix.lower() not in _SUFFIXES:
        # So that no drawing and no one's notes are ever written over.
        raise Trouble(f"--report: {name} does not end in .html, as the name of the page has to")
    if any(_is_one_file(path, page) for path in paths):
        raise Trouble(f"--report: {name} is one of the files to be read; name another one")
    hindered = _hindered(page)
    if hindered:
        raise Trouble(f"--report: {name} {hindered}")


def _hindered(page: Path) -> str:
    """Why the page cannot be written there, as the end of a sentence; empty where it can."""
    try:
        if not page.exists():
            return _without_folder(page.parent)
        if not page.is_file():
            return "is a pipe or a device; name another file"
        if not os.access(page, os.W_OK):
            return "is read-only; allow writing to it, or name another file"
        with page.open("rb") as file:
            start = file.read(HEAD_BYTES)
    except OSError as error:
        reason = (error.strerror or "bad name").lower()
        return f"cannot be written ({reason}); name another file"
    if start and not is_ours(start):
        return "is there and is no page of matready's; name another file, or move that one away"
    return _without_folder(page.parent)


def _without_folder(folder: Path) -> str:
    """Why nothing can be written into a folder, which may be missing.

    One that is missing is made with the page, as `fix --out` makes its own.
    """
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    if not folder.is_dir():
        return f"needs a folder where {shown(str(folder))} is a file; name another place"
    if not os.access(folder, os.W_OK | os.X_OK):
        return f"cannot be written: you may not write to {shown(str(folder))}; name another place"
    return ""


def _is_folder(page: Path) -> bool:
    try:
        return page.is_dir()
    except OSError:  # what may not be looked at cannot be written either, which is said then
        return False


def _is_one_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there
        return False


def write_page(
    page: Path,
    outcomes: Sequence[Checked | UnreadableFile],
    in_sets: Sequence[SetFindingRecord],
    rules: Sequence[Rule],
) -> None:
    """Write the page and say where it is, on standard error. Raises Trouble."""
    from matready.lint.reports.as_html import as_html  # slow to load, and seldom asked for

    _write(page, as_html(outcomes, in_sets, rules))


def write_mats_page(page: Path, record: CuttingList, mats: Sequence[Mat]) -> None:
    """Write the page of the mats, which are those of `record`, and say so. Raises Trouble."""
    # Slow to load, and seldom asked for.
    from matready.lint.figures.mats import mat_picture
    from matready.lint.reports.sheets_as_html import sheets_as_html

    _write(page, sheets_as_html(record, [mat_picture(mat) for mat in mats]))


def _write(page: Path, text: str) -> None:
    from matready.lint.repair.writing import NotWritten, sweep, write_copy

    try:
        sweep(page.parent)
        # "replace": a piece's name may hold what no encoding can write.
        write_copy(page, text.encode("utf-8", "replace"))
    except NotWritten as error:
        raise Trouble(f"--report: {shown(str(page))} was not written: {error}") from None
    say(f"report: {shown(str(page))}", err=True)


def open_page(page: Path) -> None:
    """Show the page in the browser at hand; where there is none, say so."""
    try:
        opened = webbrowser.open(page.resolve().as_uri())
    except webbrowser.Error:
        opened = False
    if not opened:
        say(f"no browser could be started; open {shown(str(page))} yourself", err=True)
