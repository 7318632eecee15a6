"""The command `lint --watch`: check all once, then each drawing as it is saved."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from matready.lint.cli_lint import Known, Outcome, Wishes, check_and_report, check_files, unread
from matready.lint.cli_report import write_page
from matready.lint.console import STOPPED, Trouble, in_colour, say, width
from matready.lint.cores import WorkersLost
from matready.lint.folders import LeftOut
from matready.lint.reports import whole_run
from matready.lint.reports.as_text import CARE, name_as_text, sets_as_text, totals_as_text
from matready.lint.reports.walk_as_text import left_out_as_text
from matready.lint.reports.watch_as_text import drawing_as_text, line_as_text
from matready.lint.results import Checked, SetFindingRecord
from matready.lint.rule import Rule
from matready.lint.sets import check_sets
from matready.lint.settings import BadSettings, Settings, SettingsFinder, shown_path
from matready.lint.watching import Ground, Moves, NotWatched, wake_ups

ReadSettings = Callable[[], SettingsFinder]


def run_watch(
    paths: Sequence[Path],
    rules: Sequence[Rule],
    read_settings: ReadSettings,
    config: Path | None,
    jobs: int | None,
    wishes: Wishes,
) -> int:
    """Check and report, then wait for changes until an interrupt; the exit status.

    The page for a browser, where there is one, is written at each change. `config` is the settings
    file that was named, None where the nearest one counts. Raises BadSettings and Trouble.
    """
    ground = Ground(paths, config)
    desk = _Desk(rules, read_settings, jobs, wishes)
    if status := desk.begin(ground):
        return status
    try:
        say("")
        desk.say("watching; save a drawing and it is checked again, Ctrl-C ends this")
        for woken in wake_ups(paths):
            if moves := ground.look(woken):
                say("")
                desk.take(moves)
    except KeyboardInterrupt:
        say("matready: no longer watching", err=True)
    except (NotWatched, WorkersLost) as error:
        raise Trouble(str(error)) from None
    return 0


class _Desk:
    """What is known of all drawings, and what to say where that changes."""

    def __init__(
        self,
        rules: Sequence[Rule],
        read_settings: ReadSettings,
        jobs: int | None,
        wishes: Wishes,
    ) -> None:
        self._rules = rules
        self._read_settings = read_settings
        self._jobs = jobs
        self._wishes = wishes
        self._outcomes: dict[Path, Outcome] = {}
        self._settings: dict[Path, Settings] = {}
        self._in_sets: Sequence[SetFindingRecord] = ()
        self._unread: set[Path] = set()  # saved, and not read again yet
        self._left_out: Sequence[LeftOut] = ()
        self._clean = False

    def begin(self, ground: Ground) -> int:
        """Check all files and report as without watching; the exit status of a run cut short.

        It is 0 where all was checked, whatever was found. Raises BadSettings.
        """
        finder, files = self._read_settings(), ground.found.files
        known = Known()
        status = check_and_report(
            ground.found, self._rules, finder, self._jobs, self._wishes, known
        )
        if len(known.outcomes) < len(files) or status == STOPPED:
            return status
        self._left_out = ground.found.left_out
        self._outcomes = dict(zip(files, known.outcomes, strict=True))
        self._settings = {path: finder.for_file(path) for path in files}
        self._in_sets = known.in_sets
        self._clean = _is_clean(known.outcomes, self._in_sets)
        return 0

    def take(self, moves: Moves) -> None:
        """Check what has changed, and say it; faulty settings are said, and mended ones awaited."""
        for path in moves.settings:
            self.say(f"{name_as_text(shown_path(path))} changed")
        if moves.found.left_out != self._left_out:
            self._left_out = moves.found.left_out
            for line in left_out_as_text(self._left_out):
                self.say(line)
        files = moves.found.files
        for path in moves.gone:
            if path not in files:
                self.say(f"{name_as_text(str(path))} is gone")
        self._unread |= {*moves.saved, *moves.new, *moves.renamed}
        try:
            finder = self._read_settings()
            settings = {path: finder.for_file(path) for path in files}
        except (BadSettings, Trouble) as error:
            self.say(f"nothing is checked until the settings are put right: {error}")
            return
        other = {path for path in files if settings[path] != self._settings.get(path)}
        # A file that was named and is gone is one that cannot be read; others are no more.
        todo = [path for path in files if path in {*self._unread, *other, *moves.gone}]
        fresh: list[Outcome] = []
        sketched = self._wishes.page is not None
        check_files(todo, self._rules, finder, self._jobs, fresh, sketched=sketched)
        before = self._outcomes
        after = {**before, **dict(zip(todo, fresh, strict=True))}
        self._outcomes = {path: after[path] for path in files if path in after}
        self._settings = settings
        self._report(moves, todo, before, finder)
        self._unread.clear()

    def _report(
        self,
        moves: Moves,
        todo: Sequence[Path],
        before: dict[Path, Outcome],
        finder: SettingsFinder,
    ) -> None:
        """Say what has changed; all drawings of its set were asked anew for that."""
        whole = [*self._outcomes.values(), *unread(moves.found)]
        noted, in_sets = check_sets(whole, self._rules, finder)
        shown = dict(zip(self._outcomes, noted, strict=False))
        for path in todo:
            changed = _report_of(self._outcomes[path]) != _report_of(before.get(path))
            if path in self._unread or changed:
                self._say_drawing(path, shown[path], moves, before)
        self._say_sets(in_sets, {str(path) for path in todo})
        self.say(totals_as_text(whole_run(noted, in_sets)))
        was_clean, self._clean = self._clean, _is_clean(noted, in_sets)
        if self._clean and not was_clean:
            self.say(CARE)
        if self._wishes.page is not None:
            try:
                write_page(self._wishes.page, noted, in_sets, self._rules)
            except Trouble as error:
                self.say(str(error))

    def _say_drawing(
        self, path: Path, now: Outcome, moves: Moves, before: dict[Path, Outcome]
    ) -> None:
        old = moves.renamed.get(path, path)
        if old != path:
            what = f"renamed from {name_as_text(str(old))}"
        elif path in moves.gone:
            what = "is gone"
        elif path in self._unread:
            what = "saved" if path in before else "is new"
        else:
            what = "under the new settings" if path in before else ""
        was = before.get(old)
        say(drawing_as_text(_now(), what, now, was, width(), in_colour(sys.stdout)))

    def _say_sets(self, in_sets: Sequence[SetFindingRecord], touched: set[str]) -> None:
        """Findings of whole sets: in full what is new, in short what stays or is gone."""
        known = {_gist(one) for one in self._in_sets}
        new = [one for one in in_sets if _gist(one) not in known]
        # What is told anew of other files or with other numbers is not gone.
        gone = known - {_gist(one) for one in in_sets}
        gone = {gist for gist in gone if gist[0] not in {one.rule for one in new}}
        stays = [one for one in in_sets if _gist(one) in known and touched & set(one.files)]
        self._in_sets = in_sets
        if new:
            say(sets_as_text(new, width(), in_colour(sys.stdout)))
        for rule, _, message in sorted(gone):
            self.say(f"no longer so in the whole set: {message} ({rule})")
        for one in stays:
            self.say(f"as before in the whole set: {one.message} ({one.rule})")

    def say(self, what: str) -> None:
        """One line with the time of day."""
        say(line_as_text(_now(), what, width()))


def _now() -> str:
    return time.strftime("%H:%M:%S")


def _report_of(outcome: Outcome | None) -> object:
    """What is told of a file, without what only rules over sets read."""
    return outcome.report if isinstance(outcome, Checked) else outcome


def _gist(finding: SetFindingRecord) -> tuple[str, tuple[str, ...], str]:
    """What makes it the same finding, though lines above it came or went."""
    return finding.rule, finding.files, finding.message


def _is_clean(noted: Sequence[Outcome], in_sets: Sequence[SetFindingRecord]) -> bool:
    totals = whole_run(noted, in_sets).totals
    return bool(totals.files) and not (totals.fault or totals.caution or totals.tidy)
