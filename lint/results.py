"""What a run found, as plain data: the shape of `lint --format json`, and what text adds to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from msgspec import Meta, Struct, field

from matready.lint.finding import Grade, Severity

if TYPE_CHECKING:
    from matready.lint.figures.records import Sketch

SCHEMA = "matready/lint-1"
FIX_SCHEMA = "matready/fix-1"

# What lint/report_schema.py promises of values beside their type.
Count = Annotated[int, Meta(ge=0)]
Ordinal = Annotated[int, Meta(ge=1)]
Length = Annotated[float, Meta(ge=0)]
Position = Annotated[str, Meta(pattern=r"^(/[^/\[\]]+(\[[1-9][0-9]*\])?)+$")]
SeverityName = Annotated[str, Meta(extra_json_schema={"enum": [one.value for one in Severity]})]
GradeName = Annotated[str, Meta(extra_json_schema={"enum": [one.value for one in Grade]})]


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
    severity: SeverityName
    message: str
    at_mm: tuple[float, float] | None
    box_mm: tuple[float, float, float, float] | None
    line: Ordinal
    column: Ordinal
    elements: Annotated[tuple[Position, ...], Meta(min_length=1)]
    piece: str | None
    measured: MeasuredRecord | None
    fix: GradeName | None
    asked: bool = False
    count: Ordinal = 1
    places_mm: tuple[tuple[float, float], ...] = ()

    @property
    def of_whole_page(self) -> bool:
        """Whether it is about the page itself: it names the root and nothing that is drawn."""
        return self.at_mm is not None and self.elements == ("/svg",)


class SetFindingRecord(FindingRecord, frozen=True, omit_defaults=True):
    """One finding about several files; its place is in the first of `files`."""

    files: Annotated[tuple[str, ...], Meta(min_length=1)] = ()


class PieceRecord(Struct, frozen=True):
    """One piece that falls out of the card; `scores` counts logical fold lines."""

    name: str
    box_mm: tuple[float, float, float, float]
    area_mm2: Length
    holes: Count
    scores: Count


class LineCounts(Struct, frozen=True):
    """Lines by role: a dashed fold counts once."""

    cut: Count
    score: Count
    draw: Count


READING = "reading"  # in place of a rule: something in the file could not be read
LEFT_OUT = "left out"  # in place of a rule: something that puts no cut line down
ALLOWING = "data-matready-allow"  # in place of a rule: it names one that there is not


class NotChecked(Struct, frozen=True):
    """What a rule could not look at, and why.

    `rule` may also be "reading", "left out" or "data-matready-allow".
    """

    rule: str
    reason: str


class FileReport(Struct, frozen=True):
    """All that is said of one file; `silenced` counts findings that the drawing itself allows."""

    path: str
    size_mm: tuple[Length, Length] | None
    lines: LineCounts
    pieces: tuple[PieceRecord, ...]
    findings: tuple[FindingRecord, ...]
    not_checked: tuple[NotChecked, ...]
    silenced: Count = 0


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
    """A finding that was put right: what it said and where, and what was done about it.

    `at_mm` is None for what has no place on the page, or is about all of it.
    """

    rule: str
    message: str
    done: str
    at_mm: tuple[float, float] | None
    line: Ordinal
    piece: str | None
    grade: GradeName


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
    moved_mm: Length
    in_inches: bool
    not_checked: tuple[NotChecked, ...] = ()
    silenced: Count = 0


class UnreadableFile(Struct, frozen=True):
    """A file that could not be read, and the one sentence that says why."""

    path: str
    reason: str


class Totals(Struct, frozen=True):
    """Files read, findings by severity, and those that the drawings themselves allow."""

    files: Count
    fault: Count
    caution: Count
    tidy: Count
    silenced: Count = 0


class Report(Struct, frozen=True):
    """The whole run, in the shape of `lint --format json`."""

    schema: Annotated[str, Meta(extra_json_schema={"const": SCHEMA})]
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
    moved_mm: Length
    fixed: tuple[FixedRecord, ...]
    not_fixed: tuple[NotFixedRecord, ...]
    left: tuple[FindingRecord, ...]
    not_checked: tuple[NotChecked, ...] = ()
    silenced: Count = 0


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

    files: Count
    changed: Count
    fixed: Count
    not_fixed: Count
    left: Count
    silenced: Count = 0


class FixReport(Struct, frozen=True):
    """The whole run, in the shape of `fix --format json`."""

    schema: Annotated[str, Meta(extra_json_schema={"const": FIX_SCHEMA})]
    files: tuple[FixedFile, ...]
    unreadable: tuple[UnreadableFile, ...]
    unwritten: tuple[UnwrittenFile, ...]
    totals: FixTotals
