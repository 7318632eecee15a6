"""The command `lint`: check every file, ask the rules about whole sets, report."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from matready.lint.cli_report import check_page, open_page, write_page
from matready.lint.console import (
    FOUND,
    STOPPED,
    TROUBLE,
    Progress,
    Trouble,
    in_colour,
    say,
    stopped_after,
    width,
)
from matready.lint.cores import WorkersLost
from matready.lint.finding import Severity
from matready.lint.folders import Found, find_files
from matready.lint.reports import whole_run
from matready.lint.reports.as_json import as_json
from matready.lint.reports.as_text import files_as_text, sets_as_text, unreadable_as_text
from matready.lint.reports.closing import closing_as_text
from matready.lint.reports.commands import Typed
from matready.lint.reports.walk_as_text import left_out_as_text
from matready.lint.results import Checked, Report, SetFindingRecord, UnreadableFile
from matready.lint.runner import inspect_bytes, lint_paths
from matready.lint.sets import check_sets
from matready.lint.source import Unreadable

if TYPE_CHECKING:
    from matready.lint.rule import Rule
    from matready.lint.settings import SettingsFinder

STANDARD_INPUT = Path("-")

Outcome = Checked | UnreadableFile


@dataclass(frozen=True, slots=True)
class Wishes:
    """How the command asks to be told what was found."""

    form: str
    typed: Typed
    page: Path | None = None  # where the page for a browser goes, and whether to show it at once
    opened: bool = False
    watch: bool = False

    def check(self, paths: Sequence[Path]) -> None:
        """Raise Trouble where the wishes contradict each other or lead nowhere."""
        if not paths:
            raise Trouble("nothing to lint; name an SVG file or a folder that holds some")
        check_page(self.page, self.opened, paths)
        if self.watch and STANDARD_INPUT in paths:
            raise Trouble("--watch waits until a file is saved, and - is standard input; name one")
        if self.watch and self.form in _DOCUMENTS:
            raise Trouble(
                f"--watch tells people what a save has changed, and --format {self.form} is one "
                "document of one run; leave one of them out"
            )


@dataclass(slots=True)
class Known:
    """What a run has found out so far: of each file, in their order, and of whole sets."""

    outcomes: list[Outcome] = field(default_factory=list)
    in_sets: Sequence[SetFindingRecord] = ()


def run_lint(
    paths: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None,
    wishes: Wishes,
) -> int:
    """Find the files, check and report; the exit status. Raises BadSettings."""
    found = find_files(path for path in paths if path != STANDARD_INPUT)
    if STANDARD_INPUT in paths:
        found = replace(found, files=(STANDARD_INPUT, *found.files))
    return check_and_report(found, rules, finder, jobs, wishes, Known())


def check_and_report(
    found: Found,
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None,
    wishes: Wishes,
    known: Known,
) -> int:
    """Check what was found and report; the exit status. Raises BadSettings.

    What is found out is added to `known`. An interrupt ends the checking, and so does a
    worker that is lost; what was checked until then is reported all the same.
    """
    refused, outcomes = unread(found), known.outcomes
    stopped, lost = "", ""
    try:
        check_files(found.files, rules, finder, jobs, outcomes, sketched=wishes.page is not None)
        noted, known.in_sets = check_sets([*outcomes, *refused], rules, finder)
    except (KeyboardInterrupt, WorkersLost) as end:
        far = stopped_after(len(outcomes), len(found.files))
        stopped, lost = f"{far} checked, nor was the set as a whole", str(end)
        noted = [*outcomes, *refused]
    status = _status(noted, known.in_sets, finder)
    _report(noted, known.in_sets, rules, wishes, lost or stopped)
    for line in left_out_as_text(found.left_out):
        say(line, err=True)
    if wishes.page is not None and not stopped:
        write_page(wishes.page, noted, known.in_sets, rules)
        if wishes.opened:
            open_page(wishes.page)
    if stopped:
        say(f"matready: {stopped}", err=True)
    if stopped and wishes.page is not None:
        say("matready: no page was written, since it would show only a part", err=True)
    if lost:
        say(f"matready: {lost}", err=True)
    return TROUBLE if lost else STOPPED if stopped else status


def unread(found: Found) -> list[Outcome]:
    """The paths that lead to no file, each with the reason."""
    return [UnreadableFile(str(path), reason) for path, reason in found.refused]


def check_files(
    files: Sequence[Path],
    rules: Sequence[Rule],
    finder: SettingsFinder,
    jobs: int | None,
    outcomes: list[Outcome],
    *,
    sketched: bool = False,
) -> None:
    """Add to `outcomes` what came of each file, in their order, so that an interrupt loses none.

    Standard input, where it is asked for, comes first. `sketched`: with pictures for a page.
    Raises BadSettings.
    """
    if STANDARD_INPUT in files:
        outcomes.append(_from_standard_input(rules, finder, sketched))
    named = [path for path in files if path != STANDARD_INPUT]
    with (
        Progress("checking", len(named)) as progress,
        closing(
            lint_paths(named, rules, finder, jobs, progress.one_more, sketched=sketched)
        ) as results,
    ):
        for outcome in results:
            outcomes.append(outcome)


def _from_standard_input(rules: Sequence[Rule], finder: SettingsFinder, sketched: bool) -> Outcome:
    name = str(STANDARD_INPUT)
    data = sys.stdin.buffer.read()
    try:
        return inspect_bytes(data, name, rules, finder.for_file(STANDARD_INPUT), sketched=sketched)
    except Unreadable as error:
        return UnreadableFile(name, str(error))


def _status(
    outcomes: Iterable[Outcome], in_sets: Iterable[SetFindingRecord], finder: SettingsFinder
) -> int:
    """2 when a file was not read; else 1 when a finding is as bad as its file's settings ask."""
    found = [(one.files[0], one.severity) for one in in_sets]
    for outcome in outcomes:
        if isinstance(outcome, UnreadableFile):
            return TROUBLE
        found += [(outcome.report.path, one.severity) for one in outcome.report.findings]
    for path, severity in found:
        fail_on = finder.for_file(Path(path)).fail_on
        if fail_on != "never" and Severity(severity).rank >= Severity(fail_on).rank:
            return FOUND
    return 0


def _json(report: Report, _rules: Sequence[Rule], _ended: str) -> bytes:
    return as_json(report)


def _sarif(report: Report, rules: Sequence[Rule], ended: str) -> bytes:
    from matready.lint.reports.as_sarif import as_sarif  # slow to load, and seldom asked for

    return as_sarif(report, rules, ended_early=ended)


# Forms that are one document on standard output; the form "text" is none.
_DOCUMENTS: dict[str, Callable[[Report, Sequence[Rule], str], bytes]] = {
    "json": _json,
    "sarif": _sarif,
}


def _report(
    outcomes: Sequence[Outcome],
    in_sets: Sequence[SetFindingRecord],
    rules: Sequence[Rule],
    wishes: Wishes,
    ended: str,
) -> None:
    """Findings to standard output; files that were not read to standard error, in any form.

    `ended` says why the run ended before all files were checked, empty where it did not.
    """
    report = whole_run(outcomes, in_sets)
    text = wishes.form not in _DOCUMENTS
    if not text:
        click.echo(_DOCUMENTS[wishes.form](report, rules, ended), nl=False)
    checked = [outcome for outcome in outcomes if isinstance(outcome, Checked)]
    if text and checked:
        say(files_as_text(checked, width(), in_colour(sys.stdout)) + "\n")
    if text and report.set_findings:
        say(sets_as_text(report.set_findings, width(), in_colour(sys.stdout)) + "\n")
    if report.unreadable:
        say(unreadable_as_text(report.unreadable, in_colour(sys.stderr)), err=True)
    if text and checked:
        say(closing_as_text(report, width(), wishes.typed))
