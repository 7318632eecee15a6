"""The command `fix`: repair every file, write it where it was asked for, report."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from matready.lint.console import (
    FOUND,
    STOPPED,
    TROUBLE,
    Progress,
    Trouble,
    hearing_interrupts,
    in_colour,
    say,
    stopped_after,
    width,
)
from matready.lint.cores import WorkersLost
from matready.lint.repair.targets import Claims, Job, find_jobs, reason_against
from matready.lint.repair.writing import NotWritten, digest, sweep, write_in_place
from matready.lint.reports import whole_fix
from matready.lint.reports.as_json import as_json
from matready.lint.reports.as_text import shown, unreadable_as_text
from matready.lint.reports.commands import Typed, as_typed
from matready.lint.reports.fix_as_text import (
    Made,
    fix_closing_as_text,
    fixes_as_text,
    unwritten_as_text,
)
from matready.lint.reports.walk_as_text import left_out_as_text, strays_as_text
from matready.lint.results import Done, FixedFile, FixReport, UnreadableFile, UnwrittenFile
from matready.lint.runner import Proposal, repair_paths

if TYPE_CHECKING:
    from matready.lint.rule import Rule
    from matready.lint.settings import SettingsFinder

_STANDARD_INPUT = Path("-")

Outcome = Done | UnreadableFile | UnwrittenFile


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the command asks to be done with what was repaired."""

    form: str
    typed: Typed
    out: Path | None
    in_place: bool
    dry_run: bool
    reshape: bool

    @property
    def made(self) -> Made:
        """How and where the copies are made, as one types it."""
        if self.out is not None:
            at = as_typed(str(self.out))
            return Made(f"--out {at or 'DIR'}", "" if self.dry_run else at, self.reshape)
        if not self.in_place:
            return Made("", "", self.reshape)
        paths = () if self.dry_run else self.typed.paths
        return Made("--in-place", as_typed(paths[0]) if len(paths) == 1 else "", self.reshape)

    def check(self, paths: Sequence[Path]) -> None:
        """Raise Trouble where the wishes contradict each other or lead nowhere."""
        if not paths:
            raise Trouble("nothing to fix; name an SVG file or a folder that holds some")
        if _STANDARD_INPUT in paths:
            raise Trouble("fix reads files only, and - is standard input; save the drawing first")
        if self.out is not None and self.in_place:
            raise Trouble("--out DIR writes copies and --in-place the files themselves; choose one")
        if self.out is None and not (self.in_place or self.dry_run):
            raise Trouble("say where the result goes: --out DIR for copies, or --in-place")
        if self.out is not None and (reason := reason_against(self.out, paths)):
            raise Trouble(f"--out: {shown(str(self.out))} {reason}")


def run_fix(
    paths: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None,
    wishes: Wishes,
) -> int:
    """Repair, write and report; the exit status. Raises BadSettings."""
    found = find_jobs(paths, wishes.out)
    sources = [job.source for job in found.jobs]
    delivery = _Delivery(wishes, sources)
    stopped: BaseException | None = None
    try:
        with Progress("fixing", len(sources)) as progress:
            proposals = repair_paths(
                sources, rules, finder, wishes.reshape, jobs, progress.one_more
            )
            with closing(proposals):
                for job, proposal in zip(found.jobs, proposals, strict=True):
                    delivery.deliver(job, proposal)
    except (KeyboardInterrupt, WorkersLost) as end:
        stopped = end
    delivery.finish()
    refused = [UnreadableFile(str(path), reason) for path, reason in found.refused]
    report = whole_fix([*delivery.outcomes, *refused])
    _report(report, delivery, wishes)
    for line in (*left_out_as_text(found.left_out), *strays_as_text(wishes.out, found.strays)):
        say(line, err=True)
    if stopped is not None:
        say(f"matready: {stopped_after(len(delivery.outcomes), len(sources))} fixed", err=True)
    if isinstance(stopped, WorkersLost):
        say(f"matready: {stopped}", err=True)
        return TROUBLE
    if stopped is not None:
        return STOPPED
    return _status(report)


class _Delivery:
    """Hands every proposal to the disk, in order, as the wishes say."""

    def __init__(self, wishes: Wishes, sources: Sequence[Path]) -> None:
        self._wishes = wishes
        self._claims = None if wishes.out is None else Claims(wishes.out, sources)
        self._swept: set[Path] = set()
        self.outcomes: list[Outcome] = []
        self.diffs: list[str] = []

    def deliver(self, job: Job, proposal: Proposal | UnreadableFile) -> None:
        """Write one file, or keep its diff in a dry run, and note what came of it."""
        # An interrupt waits until the file is written and noted.
        with _interrupts_waiting():
            self.outcomes.append(self._outcome(job, proposal))

    def _outcome(self, job: Job, proposal: Proposal | UnreadableFile) -> Outcome:
        if isinstance(proposal, UnreadableFile):
            return proposal
        try:
            written = self._write(job, proposal)
        except NotWritten as error:
            return UnwrittenFile(str(job.source), str(error))
        repaired = proposal.repaired
        report = FixedFile(
            path=repaired.path,
            written=None if written is None else str(written),
            changed=proposal.changed,
            moved_mm=repaired.moved_mm,
            fixed=repaired.fixed,
            not_fixed=repaired.not_fixed,
            left=repaired.left,
            not_checked=repaired.not_checked,
            silenced=repaired.silenced,
        )
        return Done(report, repaired.in_inches)

    def finish(self) -> None:
        """Close the record of the copies, where there is one."""
        if self._claims is not None:
            self._claims.record.finish()

    def _write(self, job: Job, proposal: Proposal) -> Path | None:
        """Where the file was written, None where it was not to be."""
        data = proposal.repaired.data
        target = cast(Path, job.target)
        if self._claims is not None:
            self._claims.claim(job)
            self._claims.record.check(target, data)
        if self._wishes.dry_run:
            if proposal.changed:
                self.diffs.append(_diff(job.source, proposal))
            return None
        if self._claims is None:
            self._sweep(job.source.resolve().parent)
            if not proposal.changed:
                return None
            write_in_place(job.source, data, proposal.before)
            return job.source
        for folder in (cast(Path, self._wishes.out), target.parent):
            self._sweep(folder)
        self._claims.record.write(target, data)
        self._claims.written(job)
        return target

    def _sweep(self, folder: Path) -> None:
        """Once a run, clear each folder of what a killed run has left there."""
        if folder not in self._swept:
            self._swept.add(folder)
            sweep(folder)


@contextmanager
def _interrupts_waiting() -> Iterator[None]:
    """Hear an interrupt only at the end of the block; a second one at once."""
    heard: list[bool] = []

    def hear() -> None:
        if heard:
            raise KeyboardInterrupt
        heard.append(True)

    try:
        with hearing_interrupts(hear):
            yield
    finally:
        if heard:
            raise KeyboardInterrupt


def _diff(path: Path, proposal: Proposal) -> str:
    """What would change, as a unified diff of the unpacked texts. Raises NotWritten."""
    from matready.lint.reports.as_diff import as_diff
    from matready.lint.source import Unreadable, read_source

    name = str(path)
    try:
        before = path.read_bytes()
        if digest(before) != proposal.before:
            raise NotWritten("the file was changed while it was being repaired; run fix again")
        old, new = (read_source(data, name).text for data in (before, proposal.repaired.data))
    except (OSError, Unreadable):
        raise NotWritten("the file could not be read a second time; run fix again") from None
    return as_diff(path, old.decode("utf-8"), new.decode("utf-8"))


def _report(report: FixReport, delivery: _Delivery, wishes: Wishes) -> None:
    """The report to standard output, in a dry run to standard error; what failed to the latter."""
    if wishes.form == "json":
        click.echo(as_json(report), nl=False)
    elif wishes.dry_run:
        _print_diff("".join(delivery.diffs))
    done = [outcome for outcome in delivery.outcomes if isinstance(outcome, Done)]
    text, err = wishes.form == "text" and bool(done), wishes.dry_run
    if text:
        colour = in_colour(sys.stderr if err else sys.stdout)
        say(fixes_as_text(done, width(err=err), colour) + "\n", err=err)
    for failed in _failed(report):
        say(failed, err=True)
    if text:
        closing = fix_closing_as_text(report, width(err=err), wishes.typed, wishes.made)
        say(closing, err=err)


def _failed(report: FixReport) -> Iterator[str]:
    colour = in_colour(sys.stderr)
    if report.unreadable:
        yield unreadable_as_text(report.unreadable, colour)
    if report.unwritten:
        yield unwritten_as_text(report.unwritten, colour)


def _print_diff(text: str) -> None:
    """As it is into a file or a pipe; on a terminal without what could steer it."""
    if sys.stdout.isatty():
        lines = text.split("\n")
        say("\n".join(shown(line.replace("\t", "    ")) for line in lines).rstrip("\n"))
    elif text:
        # "surrogateescape": a file name that is not text comes out as its own bytes (PEP 383).
        click.echo(text.encode("utf-8", "surrogateescape"), nl=False)


def _status(report: FixReport) -> int:
    """2 when a file was not read or not written; else 1 when something fixable was not fixed."""
    if report.unreadable or report.unwritten:
        return TROUBLE
    return FOUND if report.totals.not_fixed else 0
