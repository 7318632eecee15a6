"""The command `sheets`: take the pieces of all files, lay them on the fewest mats, write those."""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click
from msgspec.structs import replace as replace_in

from matready.lint.cli_report import open_page, write_mats_page
from matready.lint.cli_sheets_wishes import Common, Wishes, common_of, settings_of
from matready.lint.console import (
    FOUND,
    TROUBLE,
    Progress,
    Trouble,
    hearing_interrupts,
    in_colour,
    say,
    stopped_at_once,
    width,
)
from matready.lint.cores import WorkersLost, each
from matready.lint.earlier import LIST, LIST_FOR_PEOPLE, mats_listed
from matready.lint.repair.targets import find_jobs
from matready.lint.repair.writing import NotWritten
from matready.lint.reports.as_json import as_json
from matready.lint.reports.as_text import name_as_text, shown, unreadable_as_text
from matready.lint.reports.list_as_markdown import as_markdown
from matready.lint.reports.sheets_as_text import sheets_as_text
from matready.lint.reports.walk_as_text import left_out_as_text
from matready.lint.results import UnreadableFile
from matready.lint.settings import Settings
from matready.lint.sheets.cutting_list import CuttingList, cutting_list
from matready.lint.sheets.gathering import Mending, gather
from matready.lint.sheets.mat_svg import by_colour
from matready.lint.sheets.naming import name_all
from matready.lint.sheets.outfolder import write_all
from matready.lint.sheets.output import MatFile, mat_files
from matready.lint.sheets.parts import FileParts, Refusal
from matready.lint.sheets.planning import Plan, plan
from matready.lint.sheets.prove import Unproven

if TYPE_CHECKING:
    from matready.lint.rule import Rule
    from matready.lint.settings import SettingsFinder

_NOT_PROVEN = "nothing was written, since a mat failed its proof: {reason}; please report it"
_WRITTEN = ", without a whole report; the mats of this run are written, and each of them is whole"
_STOPPING = (
    "matready: the search is stopped, and the best mats so far are proven and written; "
    "Ctrl-C once more, and nothing is written"
)


def run_sheets(
    paths: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None,
    wishes: Wishes,
) -> int:
    """Read, lay out, prove, write and report; the exit status. Raises BadSettings.

    An interrupt after which nothing is written is the caller's to tell.
    """
    interrupts = _Interrupts()
    try:
        return _run(paths, rules, finder, jobs, wishes, interrupts)
    except KeyboardInterrupt:
        if not interrupts.written:
            raise
        return stopped_at_once(_WRITTEN)


def _run(
    paths: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None,
    wishes: Wishes,
    interrupts: _Interrupts,
) -> int:
    found = find_jobs(paths, wishes.out)
    sources = [job.source for job in found.jobs]
    copies = wishes.copies_of(sources)
    settings = settings_of(sources, finder, wishes)
    common = common_of(sources, settings, finder, wishes)
    with ExitStack() as ending:
        ending.callback(_tell_of_old_mats, wishes.out)
        files, unread = _gathered(sources, rules, settings, jobs, wishes)
        unread += [UnreadableFile(str(path), reason) for path, reason in found.refused]
        with interrupts:
            layout = _laid_out(files, copies, common, interrupts)
            mats = _proven(layout, rules, common)
            record = _listed(layout, mats, files, unread, copies, common)
            if mats:  # else the folder stays as it is
                with interrupts.waiting():
                    _write(wishes.out, record, mats)
                    interrupts.written = True
                    ending.pop_all()  # what lies there now is of this run
        _report(record, unread, wishes)
        for line in left_out_as_text(found.left_out):
            say(line, err=True)
    if wishes.page is not None:
        write_mats_page(wishes.page, record, [mat.mat for mat in mats])
        if wishes.opened:
            open_page(wishes.page)
    if unread:
        return TROUBLE
    return FOUND if record.refused else 0


def _tell_of_old_mats(out: Path | None) -> None:
    """Say of a run that wrote nothing, however it ended, that the mats in its folder are old."""
    if out is not None and mats_listed(out):
        name = name_as_text(str(out))
        say(f"{name}: the mats there are of an earlier run; do not cut them for this one", err=True)


def _gathered(
    sources: Sequence[Path],
    rules: Sequence[Rule],
    settings: Sequence[Settings],
    jobs: int | None,
    wishes: Wishes,
) -> tuple[list[FileParts], list[UnreadableFile]]:
    """The parts of all files, and the files that could not be read; raises Trouble."""
    files: list[FileParts] = []
    unread: list[UnreadableFile] = []
    work = partial(gather, mending=Mending(wishes.mend, wishes.reshape))
    try:
        with (
            Progress("reading", len(sources)) as progress,
            closing(each(work, sources, rules, settings, jobs)) as results,
        ):
            for result in results:
                progress.one_more()
                if isinstance(result, UnreadableFile):
                    unread.append(result)
                else:
                    files.append(result)
    except WorkersLost as error:
        raise Trouble(str(error)) from None
    return files, unread


def _laid_out(
    files: Sequence[FileParts],
    copies: Mapping[str, int],
    common: Common,
    interrupts: _Interrupts,
) -> Plan:
    """All parts on mats, proven; raises Trouble."""
    parts = name_all(files, copies)
    try:
        with _Bars() as bars:
            found = plan(parts, common.papers, common.layout, bars.show, interrupts.heard)
    except ValueError as error:
        raise Trouble(_NOT_PROVEN.format(reason=str(error).rstrip("."))) from None
    if interrupts.heard():
        say(_STOPPING, err=True)
    return found


def _proven(layout: Plan, rules: Sequence[Rule], common: Common) -> list[MatFile]:
    """The mats as they are written; raises Trouble."""
    try:
        return mat_files(layout.mats, rules, common.settings, common.own, common.stocks)
    except Unproven as error:
        raise Trouble(_NOT_PROVEN.format(reason=str(error).rstrip("."))) from None


def _listed(
    layout: Plan,
    mats: Sequence[MatFile],
    files: Sequence[FileParts],
    unread: Sequence[UnreadableFile],
    copies: Mapping[str, int],
    common: Common,
) -> CuttingList:
    """The cutting list, in which nothing is missing; raises Trouble."""
    refusals = [
        replace(refusal, pieces=refusal.pieces * copies.get(of.file, 1))
        for of in files
        for refusal in of.refusals
    ]
    refusals += layout.refusals
    _check_all_told(files, copies, layout, refusals)
    refusals += [Refusal(one.path, (), one.reason, whole=True) for one in unread]
    return cutting_list(
        {mat.name: mat.mat for mat in mats},
        refusals,
        [(of.file, what) for of in files for what in of.left_out],
        files=len(files),
        least=layout.least,
        speed_mm_s=common.settings.on_mat.speed_mm_s,
        complete=layout.complete,
        notes=[
            *by_colour([mat.mat for mat in mats], common.settings.read),
            *layout.notes,
            *(said for mat in mats for said in mat.cautions),
        ],
    )


def _check_all_told(
    files: Sequence[FileParts],
    copies: Mapping[str, int],
    layout: Plan,
    refusals: Sequence[Refusal],
) -> None:
    """Raise Trouble unless each piece, as often as it is wanted, is on one mat or refused."""
    wanted = Counter(
        {(of.file, piece): copies.get(of.file, 1) for of in files for piece in of.pieces}
    )
    told: Counter[tuple[str, str]] = Counter()
    for mat in layout.mats:
        told.update((at.part.file, piece) for at in mat.placements for piece in at.part.pieces)
    told.update((refusal.file, piece) for refusal in refusals for piece in refusal.pieces)
    wrong = next((key for key in wanted | told if wanted[key] != told[key]), None)
    if wrong is not None:
        reason = f"{wrong[1]} of {wrong[0]} is not just once on a mat or refused"
        raise Trouble(_NOT_PROVEN.format(reason=shown(reason)))


def _write(out: Path | None, record: CuttingList, mats: Sequence[MatFile]) -> None:
    """Write the mats and the list, which comes last; raises Trouble."""
    assert out is not None
    files = {mat.name: mat.text.encode() for mat in mats}
    files[LIST_FOR_PEOPLE] = as_markdown(record).encode("utf-8", "replace")
    files[LIST] = as_json(record)
    try:
        write_all(out, files)
    except NotWritten as error:
        raise Trouble(f"--out: {shown(str(out))}: {error}") from None


def _report(record: CuttingList, unread: Sequence[UnreadableFile], wishes: Wishes) -> None:
    """The summary, or the cutting list as JSON, to standard output; the rest to standard error."""
    if wishes.form == "json":
        click.echo(as_json(record), nl=False)
    if unread:
        say(unreadable_as_text(unread, in_colour(sys.stderr)), err=True)
    if wishes.form == "text":
        told = {one.path for one in unread}
        rest = tuple(one for one in record.refused if one.pieces or one.file not in told)
        text = sheets_as_text(
            replace_in(record, refused=rest), str(wishes.out), width(), in_colour(sys.stdout)
        )
        say(text)


class _Interrupts:
    """The first interrupt is a wish to end the search; a second one ends the program.

    `written` tells whether the mats of this run are in their folder.
    """

    def __init__(self) -> None:
        self.written = False
        self._heard = False
        self._waiting = False
        self._open = ExitStack()

    def heard(self) -> bool:
        """Whether the search is to end."""
        return self._heard

    @contextmanager
    def waiting(self) -> Iterator[None]:
        """Let no interrupt end the block: new mats that are half in would be told as none."""
        self._waiting = True
        try:
            yield
        finally:
            self._waiting = False

    def __enter__(self) -> _Interrupts:
        self._open.enter_context(hearing_interrupts(self._hear))
        return self

    def __exit__(self, *exception: object) -> None:
        self._open.close()

    def _hear(self) -> None:
        if self._heard and not self._waiting:
            raise KeyboardInterrupt
        self._heard = True


class _Bars:
    """A bar for each paper that is packed, one after the other."""

    def __init__(self) -> None:
        self._begun = time.monotonic()
        self._open = ExitStack()
        self._paper: str | None = None
        self._bar: Progress | None = None

    def __enter__(self) -> _Bars:
        return self

    def __exit__(self, *exception: object) -> None:
        self._open.close()

    def show(self, paper: str, done: int, rounds: int) -> None:
        """Show how much of the search for a paper is done."""
        if paper != self._paper or self._bar is None:
            self._open.close()
            bar = Progress(f"packing {paper}", rounds, counted=False, since=self._begun)
            self._paper, self._bar = paper, self._open.enter_context(bar)
        self._bar.up_to(done)
