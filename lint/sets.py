"""Rules over several drawings: what belongs to one set, and what the rules say of it.

All files of one folder are a set. What a rule wants to know of a file is collected where that file
is checked, perhaps in another process; what it makes of all files is asked here, once.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from matready.lint.allowances import Allowances
from matready.lint.finding import Box, Measured, Point, Severity, Unchecked
from matready.lint.folders import SUFFIXES
from matready.lint.inspection import broke
from matready.lint.results import (
    Checked,
    MeasuredRecord,
    NotChecked,
    SetFindingRecord,
    UnreadableFile,
)

if TYPE_CHECKING:
    from matready.lint.cutting import Cutout
    from matready.lint.rule import Rule
    from matready.lint.settings import Settings, SettingsFinder

_ROOT = re.compile(rb"(?:\xef\xbb\xbf)?(?:<\?xml[^>]*>)?[^<]*(?=<svg)")


@dataclass(frozen=True, slots=True)
class Place:
    """A place in one file that can be sent to another process: `at` and `box` in mm."""

    line: int
    column: int
    elements: tuple[str, ...]
    at: Point | None = None
    box: Box | None = None


@dataclass(frozen=True, slots=True)
class SetFinding:
    """One thing that is wrong between files: it lies at `place` in the first of `files`."""

    message: str
    files: tuple[str, ...]
    place: Place
    piece: str | None = None
    measured: Measured | None = None


def name_of(path: str) -> str:
    """The name of a file without its folder, as a sentence shows it."""
    return Path(path).name


def place_of(cutout: Cutout, nodes: Sequence[int] = (0,), box: Box | None = None) -> Place:
    """What draws these nodes, and where; the whole file where none are named."""
    source = cutout.drawing.source
    if tuple(nodes) == (0,) and (found := _ROOT.match(source.text)):
        # Nothing but an XML declaration comes before: the others need not be looked for.
        line, column = source.line_and_column(found.end())
        return Place(line, column, elements=(source.position(source.root),))
    elements = list(dict.fromkeys(cutout.drawing.shown(node) for node in nodes))
    middle = box and (_mm((box[0] + box[2]) / 2), _mm((box[1] + box[3]) / 2))
    span = source.span(elements[0])
    return Place(
        line=span.line,
        column=span.column,
        elements=tuple(source.position(element) for element in elements),
        at=middle,
        box=box and (_mm(box[0]), _mm(box[1]), _mm(box[2]), _mm(box[3])),
    )


def _mm(value: float) -> float:
    return round(float(value), 3) + 0.0


def with_collected(
    outcome: Checked, cutout: Cutout, rules: Sequence[Rule], settings: Settings
) -> Checked:
    """The outcome with what each rule over sets wants to know of the file."""
    records: dict[str, Any] = {}
    for rule in rules:
        if rule.collect is None or not settings.wants(rule):
            continue
        try:
            record = rule.collect(cutout, settings.limits(rule))
        except Exception as error:  # a rule's mistake must not cost the user the file's findings
            outcome = _with(outcome, [NotChecked(rule.name, broke(error))], 0)
            continue
        if record is not None:
            records[rule.name] = record
    allowed = Allowances(cutout.drawing).of_file()
    return replace(outcome, collected=records, allowed=tuple(sorted(allowed)))


def check_sets(
    outcomes: Sequence[Checked | UnreadableFile], rules: Sequence[Rule], finder: SettingsFinder
) -> tuple[list[Checked | UnreadableFile], tuple[SetFindingRecord, ...]]:
    """What the rules say of each folder's files, in the order in which the folders are met.

    The outcomes are given back too: what a rule could not look at is noted with the first file of
    its set, and a finding that its file allows is counted there. Raises BadSettings.
    """
    noted = list(outcomes)
    heard: list[SetFindingRecord] = []
    for folder, numbers in _folders(outcomes).items():
        files = {n: file for n in numbers if isinstance(file := outcomes[n], Checked)}
        if not any(file.collected for file in files.values()):
            continue
        unread = [one.path for n in numbers if isinstance(one := outcomes[n], UnreadableFile)]
        whole = _is_whole(folder, [*(file.report.path for file in files.values()), *unread])
        settings = finder.for_file(Path(next(iter(files.values())).report.path))
        of_set = _Set(tuple(files.values()), whole, tuple(unread), settings)
        said, notes = _ask(rules, of_set)
        for n, file in files.items():
            own = [one for one in said if one.files[0] == file.report.path]
            loud = [one for one in own if one.rule not in file.allowed]
            heard += loud
            noted[n] = _with(file, notes if file is of_set.files[0] else (), len(own) - len(loud))
    return noted, tuple(heard)


@dataclass(frozen=True, slots=True)
class _Set:
    """The files of one folder; `whole`: none of its drawings was left out of the run."""

    files: tuple[Checked, ...]
    whole: bool
    unread: tuple[str, ...]
    settings: Settings


def _with(file: Checked, notes: Sequence[NotChecked], silenced: int) -> Checked:
    """The file with more notes and more findings that it allows."""
    report = replace(
        file.report,
        not_checked=(*file.report.not_checked, *notes),
        silenced=file.report.silenced + silenced,
    )
    return replace(file, report=report)


def _ask(rules: Sequence[Rule], of_set: _Set) -> tuple[list[SetFindingRecord], list[NotChecked]]:
    """What all rules say of one set, and what they could not look at, or how they broke."""
    said: list[SetFindingRecord] = []
    notes: list[NotChecked] = []
    for rule in rules:
        try:
            for one in _said(rule, of_set, {one.rule for one in said}):
                if isinstance(one, Unchecked):
                    notes.append(NotChecked(rule.name, one.reason))
                else:
                    said.append(one)
        except Exception as error:  # likewise
            notes.append(NotChecked(rule.name, broke(error)))
    return said, notes


def _folders(outcomes: Sequence[Checked | UnreadableFile]) -> Mapping[str, list[int]]:
    """The numbers of the files in each folder; standard input is in none."""
    folders: dict[str, list[int]] = {}
    for n, outcome in enumerate(outcomes):
        path = outcome.report.path if isinstance(outcome, Checked) else outcome.path
        if path != "-":
            # abspath takes ".." out and leaves links alone: the folder as the user named it.
            folder = os.path.dirname(os.path.abspath(path))  # noqa: PTH100, PTH120
            folders.setdefault(folder, []).append(n)
    return folders


def _is_whole(folder: str, paths: Iterable[str]) -> bool:
    """Whether these are all the drawings of a folder, or some were not asked for."""
    try:
        names = {entry.name for entry in Path(folder).iterdir() if not entry.name.startswith(".")}
    except OSError:
        return False
    drawings = {name for name in names if Path(name).suffix.lower() in SUFFIXES}
    return drawings <= set(map(name_of, paths))


def _said(rule: Rule, of_set: _Set, told: Set[str]) -> Iterator[SetFindingRecord | Unchecked]:
    """What one rule says of one set, unless it only tells what comes of a cause told before."""
    settings = of_set.settings
    if rule.check_set is None or not settings.wants(rule):
        return
    if (rule.whole_set and not of_set.whole) or not told.isdisjoint(rule.yields_to):
        return
    records = [
        (file.report.path, file.collected[rule.name])
        for file in of_set.files
        if rule.name in file.collected
    ]
    severity = settings.severity(rule) or rule.severity
    for one in rule.check_set(records, settings.limits(rule)) if records else ():
        if rule.whole_set and of_set.unread:
            name = name_of(of_set.unread[0])
            could_not = f"{name} in this folder could not be read"
            yield Unchecked(f"{could_not}, so what seems to be missing may be drawn there")
            return
        yield one if isinstance(one, Unchecked) else _record(rule, severity, one)


def _record(rule: Rule, severity: Severity, found: SetFinding) -> SetFindingRecord:
    measured = found.measured
    return SetFindingRecord(
        rule=rule.name,
        severity=severity.value,
        message=found.message,
        at_mm=found.place.at,
        box_mm=found.place.box,
        line=found.place.line,
        column=found.place.column,
        elements=found.place.elements,
        piece=found.piece,
        measured=MeasuredRecord(round(measured.value, 3), measured.unit, measured.limit)
        if measured
        else None,
        fix=None,
        files=found.files,
    )
