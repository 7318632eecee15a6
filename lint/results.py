"""What a run found, as plain data: the shape of `lint --format json`, and what text adds to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

if TYPE_CHECKING:
    from matready.lint.figures.records import Sketch

SCHEMA = "matready/lint-1"
FIX_SCHEMA = "matready/fix-1"


class MeasuredRecord(Struct, frozen=True):
    """A measured value and its limit, in `unit`."""

    value: float
    unit: str
    limit: float


class FindingRecord(Struct, frozen=True, omit_defaults=True):
    """One finding; `line` and `column` are where the first element's start tag begins.

    Both count from 1, columns in characters; where only the line can be told, the column is 1.
    `at_mm` and `box_mm` are None for what has no place on the page. `asked`: its fix is made only
    where the rule is named. One that stands for `count`
    alike has their places in `places_mm`; both are left out of the JSON of all others.
    """

    rule: str
    severity: str
    message: str
    at_mm: tuple[float, float] | None
    box_mm: tuple[float, float, float, float] | None
    line: int
    column: int
    elements: tuple[str, ...]
    piece: str | None
    measured: MeasuredRecord | None
    fix: str | None
    asked: bool = False
    count: int = 1
    places_mm: tuple[tuple[float, float], ...] = ()


class SetFindingRecord(FindingRecord, frozen=True, omit_defaults=True):
    """One finding about several files; its place is in the first of `files`."""

    files: tuple[str, ...] = ()


class PieceRecord(Struct, frozen=True):
    """One piece that falls out of the card; `scores` counts logical fold lines."""

    name: str
    box_mm: tuple[float, float, float, float]
    area_mm2: float
    holes: int
    scores: int


class LineCounts(Struct, frozen=True):
    """Lines by role: a dashed fold counts once."""

    cut: int
    score: int
    draw: int


READING = "reading"  # in place of a rule: something in the file could not be read
LEFT_OUT = "left out"  # in place of a rule: something that puts no cut line down
ALLOWING = "data-matready-allow"  # in place of a rule: it names one that there is not


class NotChecked(Struct, frozen=True):
    """What a rule could not look at, and why; `rule` may also be READING, LEFT_OUT or ALLOWING."""

    rule: str
    reason: str


class FileReport(Struct, frozen=True):
    """All that is said of one file; `silenced` counts findings that the drawing itself allows."""

    path: str
    size_mm: tuple[float, float] | None
    lines: LineCounts
    pieces: tuple[PieceRecord, ...]
    findings: tuple[FindingRecord, ...]
    not_checked: tuple[NotChecked, ...]
    silenced: int = 0


class Checked(Struct, frozen=True):
    """A file's report with what only people read: `clues` count lines by (role, clue).

    `collected` is what each rule over sets wants to know of the file, by the rule's name;
    `allowed` are the rules that the drawing allows as a whole. `sketch` is its picture, where one
    was asked for.
    """

    report: FileReport
    clues: dict[tuple[str, str], int]
    in_inches: bool
    collected: dict[str, Any] = {}
    allowed: tuple[str, ...] = ()
    sketch: Sketch | None = None


class FixedRecord(Struct, frozen=True):
    """A finding that was put right: what it said and where, and what was done about it."""

    rule: str
    message: str
    done: str
    at_mm: tuple[float, float] | None
    line: int
    piece: str | None
    grade: str


class NotFixedRecord(Struct, frozen=True):
    """A finding that could have been put right and was not, with one sentence that says why."""

    finding: FindingRecord
    reason: str


class Repaired(Struct, frozen=True):
    """What came of one file: `data` are the bytes of the copy, the source's own where none changed.

    `left` are the findings of the copy that no fix was asked or known for, `not_checked` what of it
    could not be read or looked at, and `silenced` is how many more it allows itself. `moved_mm` is
    the largest distance between any place cut or scored in the source and the copy, as measured.
    """

    path: str
    data: bytes
    fixed: tuple[FixedRecord, ...]
    not_fixed: tuple[NotFixedRecord, ...]
    left: tuple[FindingRecord, ...]
    moved_mm: float
    in_inches: bool
    not_checked: tuple[NotChecked, ...] = ()
    silenced: int = 0


class UnreadableFile(Struct, frozen=True):
    """A file that could not be read, and the one sentence that says why."""

    path: str
    reason: str


class Totals(Struct, frozen=True):
    """Files read, findings by severity, and those that the drawings themselves allow."""

    files: int
    fault: int
    caution: int
    tidy: int
    silenced: int = 0


class Report(Struct, frozen=True):
    """The whole run, in the shape of `lint --format json`."""

    schema: str
    files: tuple[FileReport, ...]
    set_findings: tuple[SetFindingRecord, ...] = field(name="set")
    unreadable: tuple[UnreadableFile, ...]
    totals: Totals


class FixedFile(Struct, frozen=True):
    """What `fix` did about one file.

    `written` is where its copy is, None where none was written: in a dry run, or in place where
    nothing changed. `changed` says whether the copy differs from the source.
    """

    path: str
    written: str | None
    changed: bool
    moved_mm: float
    fixed: tuple[FixedRecord, ...]
    not_fixed: tuple[NotFixedRecord, ...]
    left: tuple[FindingRecord, ...]
    not_checked: tuple[NotChecked, ...] = ()
    silenced: int = 0


class Done(Struct, frozen=True):
    """A file's part of the report with what only people read."""

    report: FixedFile
    in_inches: bool


class UnwrittenFile(Struct, frozen=True):
    """A file that was read and could not be written, and the one sentence that says why."""

    path: str
    reason: str


class FixTotals(Struct, frozen=True):
    """Files done, how many of them changed, and findings by what came of them.

    `silenced` are those that the drawings themselves allow: they are neither fixed nor left.
    """

    files: int
    changed: int
    fixed: int
    not_fixed: int
    left: int
    silenced: int = 0


class FixReport(Struct, frozen=True):
    """The whole run, in the shape of `fix --format json`."""

    schema: str
    files: tuple[FixedFile, ...]
    unreadable: tuple[UnreadableFile, ...]
    unwritten: tuple[UnwrittenFile, ...]
    totals: FixTotals
