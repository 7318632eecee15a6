"""What stands on the page, as plain data for the templates: sets, files, findings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

from matready.lint.figures.marks import Mark, Placed, placed
from matready.lint.figures.paths import number_text as n
from matready.lint.figures.records import ALIKE, MOVED, Figure, Spot
from matready.lint.finding import Box, Grade, Severity
from matready.lint.reports.as_text import (
    STANDARD_INPUT,
    many,
    measured_as_text,
    name_as_text,
    not_checked_as_text,
    shown,
    worst_first,
)
from matready.lint.reports.html_closeups import CloseUp, close_ups
from matready.lint.reports.html_words import (
    UNREAD,
    badge,
    command_for,
    facts_of_file,
    folder_name,
    moved_as_text,
    paragraphs,
    place_of,
    sentence,
    state_of,
    verdict_between,
    verdict_of_file,
    verdict_of_set,
)
from matready.lint.results import Checked, FindingRecord, SetFindingRecord, UnreadableFile
from matready.lint.rule import Rule

_NUMBERED = 12  # so many places of one finding bear its number; the rest are dots
_WIDE = 1_000_000  # a width at which nothing is wrapped
_CORNER = ((0.0, 0.0),)  # where what concerns the page itself is marked

Paragraphs = list[list[tuple[bool, str]]]


@dataclass(frozen=True, slots=True)
class FindingView:
    """One finding: `headline` says the kind, `message` this very one; `close_ups` show it."""

    number: int
    severity: str
    rule: str
    headline: str
    message: str
    facts: tuple[tuple[str, str], ...]
    to_do: Paragraphs
    why: Paragraphs
    leave: Paragraphs
    as_for: int = 0  # the finding before this one with which the last three are told
    cure: str = ""
    command: str = ""
    close_ups: tuple[CloseUp, ...] = ()
    halo: str = ""
    files: tuple[tuple[str, str], ...] = ()  # of a finding between files: name and anchor


@dataclass(frozen=True, slots=True)
class MarkView:
    """A numbered mark; only the first of a finding leads anywhere (`label` not empty)."""

    placed: Placed
    number: int
    label: str


@dataclass(frozen=True, slots=True)
class FileView:
    """One file that was read, or was not: then there is `reason` and no figure."""

    number: int
    name: str
    folder: str
    state: str
    badge: str
    verdict: str = ""
    reason: str = ""
    facts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    findings: tuple[FindingView, ...] = ()
    command: str = ""
    moved: str = ""
    figure: Figure | None = None
    marks: tuple[MarkView, ...] = ()
    dots: tuple[tuple[float, float, str, int], ...] = ()  # x and y share, severity, number


@dataclass(frozen=True, slots=True)
class SetView:
    """All files of one folder, and what was found between them."""

    number: int
    name: str
    verdict: str
    between: str
    files: tuple[FileView, ...]
    findings: tuple[FindingView, ...]


def sets_of(
    outcomes: Sequence[Checked | UnreadableFile],
    in_sets: Sequence[SetFindingRecord],
    rules: Sequence[Rule],
) -> list[SetView]:
    """The sets in the order in which their files are met."""
    known = {rule.name: rule for rule in rules}
    folders: dict[str, list[tuple[int, Checked | UnreadableFile]]] = {}
    for number, outcome in enumerate(outcomes, 1):
        folders.setdefault(_folder(_path(outcome)), []).append((number, outcome))
    anchors = {_path(outcome): f"f{number}" for number, outcome in enumerate(outcomes, 1)}
    sets = []
    for number, (folder, numbered) in enumerate(folders.items(), 1):
        between = [one for one in in_sets if _folder(one.files[0]) == folder]
        reports = [each.report for _, each in numbered if isinstance(each, Checked)]
        grave = {path for one in between if one.severity != Severity.TIDY for path in one.files}
        views = tuple(_file(k, each, known, _path(each) in grave) for k, each in numbered)
        findings = [
            _between(k, one, known, anchors) for k, one in enumerate(worst_first(between), 1)
        ]
        verdict = verdict_of_set(reports, len(numbered) - len(reports))
        sets.append(
            SetView(
                number, folder_name(folder), verdict, verdict_between(len(between)), views,
                tuple(findings),
            )
        )  # fmt: skip
    return sets


def view_box(box: Box) -> str:
    """A box as the value of a viewBox."""
    x0, y0, x1, y1 = box
    return f"{n(x0)} {n(y0)} {n(x1 - x0)} {n(y1 - y0)}"


def _path(outcome: Checked | UnreadableFile) -> str:
    return outcome.report.path if isinstance(outcome, Checked) else outcome.path


def _folder(path: str) -> str:
    return path if path == STANDARD_INPUT else str(PurePath(path).parent)


def _file(
    number: int, outcome: Checked | UnreadableFile, rules: Mapping[str, Rule], between: bool
) -> FileView:
    path = _path(outcome)
    name = name_as_text(path if path == STANDARD_INPUT else PurePath(path).name)
    folder = "" if path == STANDARD_INPUT else folder_name(str(PurePath(path).parent))
    if isinstance(outcome, UnreadableFile):
        reason = sentence(shown(outcome.reason))
        return FileView(number, name, folder, UNREAD, "could not be read", reason=reason)
    report, sketch = outcome.report, outcome.sketch
    assert sketch is not None, "a page is made of sketches"
    pairs = list(zip(report.findings, sketch.spots, strict=True))
    order = {id(one): k for k, one in enumerate(worst_first(report.findings))}
    pairs.sort(key=lambda pair: order[id(pair[0])])
    marks, dots = _marks(pairs, sketch.figure)
    fixable = any(spot.cure and not _special(one) for one, spot in pairs)
    return FileView(
        number, name, folder, state_of(report),
        badge(report, between), verdict_of_file(report, between),
        facts=tuple(map(shown, facts_of_file(outcome))),
        notes=tuple(_notes(outcome)),
        findings=tuple(_findings(pairs, outcome, rules)),
        command=command_for(path) if fixable else "",
        moved=moved_as_text(sketch.moved_mm, outcome.in_inches),
        figure=sketch.figure,
        marks=tuple(marks),
        dots=tuple(dots),
    )  # fmt: skip


def _notes(file: Checked) -> Iterator[str]:
    """What was not read or not checked, and what the drawing allows."""
    for line in not_checked_as_text(file.report.not_checked, _WIDE):
        yield sentence(line.strip())
    if file.report.silenced:
        yield f"{many(file.report.silenced, 'finding')} silenced in the drawing itself."


def _findings(
    pairs: Sequence[tuple[FindingRecord, Spot]], file: Checked, rules: Mapping[str, Rule]
) -> Iterator[FindingView]:
    """The cards of a file; what to do about a kind is said with the first of it only."""
    first: dict[str, int] = {}
    for number, (record, spot) in enumerate(pairs, 1):
        told = first.setdefault(record.rule, number)
        view = _view(number, record, rules[record.rule], _facts(record, spot, file.in_inches))
        yield replace(
            view,
            as_for=told if told < number else 0,
            cure=_cure(record, spot),
            command=command_for(file.report.path, record) if spot.cure and _special(record) else "",
            close_ups=tuple(close_ups(record, spot, file.in_inches)),
            halo=spot.halo,
        )


def _facts(record: FindingRecord, spot: Spot, in_inches: bool) -> Iterator[tuple[str, str]]:
    """Where it is and what was measured."""
    if record.at_mm is not None:
        yield "Where", place_of(record, in_inches, max(record.count, len(spot.places)))
    if record.measured is not None:
        yield "Measured", measured_as_text(record.measured, in_inches).removeprefix("measured ")
    if record.piece:
        yield "Piece", shown(record.piece)
    yield "In the file", f"line {record.line}"


def _cure(record: FindingRecord, spot: Spot) -> str:
    """Whether and how the finding can be fixed; empty where it cannot."""
    if spot.refused:
        return sentence(f"it cannot be fixed for you: {shown(spot.refused)}")
    if not spot.cure:
        return ""
    # What a close-up of the copy does not show is said.
    seen = spot.after is not None or spot.sight == MOVED
    done = "" if seen else sentence(f"tried out on a copy: {shown(spot.cure)}")
    alike = "Nothing that you see changes." if spot.sight == ALIKE else ""
    if not _special(record):
        how = "The command at the top of this sheet does it for you, in a copy that is proven."
        return _spoken(how, done, alike)
    what = "takes something away" if record.asked else "changes size or shape"
    how = f"Since this {what}, it is done only where you ask for it:"
    return _spoken(done, alike, how)


def _spoken(*sentences: str) -> str:
    return " ".join(filter(None, sentences))


def _special(record: FindingRecord) -> bool:
    """Whether a fix has to be asked for by an option of its own."""
    return record.asked or record.fix == Grade.RESHAPING


def _between(
    number: int, record: SetFindingRecord, rules: Mapping[str, Rule], anchors: Mapping[str, str]
) -> FindingView:
    """A finding between files, with links to them."""
    facts = [("Piece", shown(record.piece))] if record.piece else []
    view = _view(number, record, rules[record.rule], facts)
    names = ((name_as_text(PurePath(path).name), anchors.get(path, "")) for path in record.files)
    return replace(view, files=tuple(names))


def _view(
    number: int, record: FindingRecord, rule: Rule, facts: Iterable[tuple[str, str]]
) -> FindingView:
    said = rule.explanation
    return FindingView(
        number=number,
        severity=record.severity,
        rule=record.rule,
        headline=rule.summary.rstrip("."),
        message=sentence(shown(record.message)),
        facts=tuple(facts),
        to_do=paragraphs(said["How to put it right"]),
        why=paragraphs(said["Why it matters at the machine"]),
        leave=paragraphs(said["When to leave it"]),
    )


def _places(record: FindingRecord, spot: Spot) -> Sequence[tuple[float, float]]:
    return record.places_mm or spot.places or ((record.at_mm,) if record.at_mm else ())


def _marks(
    pairs: Sequence[tuple[FindingRecord, Spot]], figure: Figure
) -> tuple[list[MarkView], list[tuple[float, float, str, int]]]:
    """The numbered marks of a file, and the dots of what has more places than numbers."""
    wanted: list[tuple[Mark, int, str]] = []
    dots: list[tuple[Mark, int]] = []
    for number, (record, spot) in enumerate(pairs, 1):
        places = _CORNER if record.of_whole_page else _places(record, spot)
        for k, place in enumerate(places):
            mark = Mark(place, str(number), record.severity)
            label = f"{number}, {record.severity}: {shown(record.message)}" if k == 0 else ""
            if k < _NUMBERED:
                wanted.append((mark, number, label))
            else:
                dots.append((mark, number))
    where = placed([mark for mark, _, _ in wanted], figure.window_mm)
    marks = [
        MarkView(each, number, label)
        for each, (_, number, label) in zip(where, wanted, strict=True)
    ]
    x0, y0, x1, y1 = figure.window_mm
    return marks, [
        ((mark.at_mm[0] - x0) / (x1 - x0), (mark.at_mm[1] - y0) / (y1 - y0), mark.severity, number)
        for mark, number in dots
    ]


__all__ = ["FileView", "FindingView", "SetView", "sets_of", "view_box"]
