"""What `matready fix` did, as people read it; the layout and the words are those of a lint."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from matready.lint.reports.as_text import (
    CARE,
    COLOURS,
    INDENT,
    details,
    entry,
    inches,
    many,
    name_as_text,
    not_checked_as_text,
    paint,
    place_as_text,
    refused_as_text,
    significant,
    was_in_part,
    worst_first,
    wrapped,
)
from matready.lint.reports.closing import look_up
from matready.lint.reports.commands import Typed
from matready.lint.results import (
    Done,
    FindingRecord,
    FixedFile,
    FixedRecord,
    FixReport,
    NotFixedRecord,
    UnwrittenFile,
)

_RESHAPING = "reshaping"
_WORD_WIDTH = len("not fixed")


def fixes_as_text(files: Sequence[Done], width: int, colour: bool) -> str:
    """Every file that was done, in order: one line where there was nothing to do."""
    blocks = []
    short_before = True
    for file in files:
        short = _nothing_said(file.report)
        gap = "" if short and short_before else "\n"
        blocks.append(gap + _file(file, width, colour))
        short_before = short
    return "\n".join(blocks).strip("\n")


def unwritten_as_text(files: Sequence[UnwrittenFile], colour: bool) -> str:
    """One line for each file that could not be written, with the sentence that says why."""
    return refused_as_text("not written", files, colour)


class Made(NamedTuple):
    """How and where copies were made: `to` is the option, `at` the place, both as one types them.

    `to` is empty where that was not said, `at` where nothing was written or in more than one place.
    """

    to: str
    at: str
    reshaped: bool


def fix_closing_as_text(report: FixReport, width: int, typed: Typed, made: Made) -> str:
    """The totals, what to do next, and a word of care; `typed` is the command's own line."""
    lines = [*wrapped(_totals(report), width), *_next_step(report, width, typed, made)]
    return "\n".join([*lines, *wrapped(CARE, width)])


def _nothing_said(file: FixedFile) -> bool:
    return not (file.fixed or file.not_fixed or file.left)


def _is_dry(file: FixedFile) -> bool:
    """Something was changed and is nowhere written: it was only to be shown."""
    return file.changed and file.written is None


def _file(file: Done, width: int, colour: bool) -> str:
    """The block of one file."""
    report = file.report
    name = name_as_text(report.path)
    outcome = _outcome(file)
    gaps = not_checked_as_text(report.not_checked, width)
    if _nothing_said(report):
        part = " in what could be read" if was_in_part(report.not_checked) else ""
        short = wrapped(f"{name}: nothing to fix{part}, {outcome}", width, "", INDENT)
        return "\n".join([*short, *(gaps if part else [])])
    lines = [paint(name, colour, bold=True), *wrapped(outcome, width, INDENT, INDENT)]
    for said in _findings(file, width, colour):
        lines += ["", *said]
    lines += ["", *gaps] if was_in_part(report.not_checked) else []
    return "\n".join(lines)


def _outcome(file: Done) -> str:
    """Where the copy is, and what was proven of it."""
    report = file.report
    if not report.changed:
        copy = report.written and f"copied as it is to {name_as_text(report.written)}"
        return copy or "left as it is"
    if report.written is None:
        where = "can be fixed, nothing was written"
    elif report.written == report.path:
        where = "changed in place"
    else:
        where = f"fixed copy: {name_as_text(report.written)}"
    proof = "same pieces and folds,"
    if any(fixed.grade == _RESHAPING for fixed in report.fixed):
        # It has other pieces than its source, or other sizes: that was the point.
        proof = "nothing new was found, and apart from the new size or shape"
    return f"{where}; proven: {proof} {_moved(report.moved_mm, file.in_inches)}"


def _moved(moved_mm: float, in_inches: bool) -> str:
    """What was measured, rounded up: a proof must not promise less than it found."""
    if moved_mm == 0:
        return "nothing moved"
    step = 1000 if moved_mm < 1 else 100 if moved_mm < 10 else 10  # as `significant` writes it
    limit_mm = math.ceil(moved_mm * step - 1e-9) / step
    beside = f" ({inches(limit_mm)} in)" if in_inches else ""
    return f"nothing moved more than {significant(limit_mm)} mm{beside}"


def _findings(file: Done, width: int, colour: bool) -> Iterator[list[str]]:
    """First what was fixed, then what could not be, then what no fix was asked or known for."""
    report = file.report
    findings = [*(each.finding for each in report.not_fixed), *report.left]
    rules = [each.rule for each in report.fixed] + [each.rule for each in findings]
    rule_width = max(map(len, rules))

    dry = _is_dry(report)
    in_place = report.written == report.path
    changed = "copy as it would be" if dry else "changed file" if in_place else "fixed copy"

    def said(word: str, hue: str, finding: FixedRecord | FindingRecord, *more: str) -> list[str]:
        head = paint(f"{word:{_WORD_WIDTH}}", colour, fg=hue, bold=True)
        # What is still there was found in the copy, whose lines may stand elsewhere.
        still_there = isinstance(finding, FindingRecord)
        where = changed if report.changed and still_there else "file"
        place = f"line {finding.line} of the {where}{place_as_text(finding, file.in_inches)}"
        return entry(head, f"{finding.rule:{rule_width}}", place, [finding.message, *more], width)

    for fixed in report.fixed:
        yield said("to fix" if dry else "fixed", "green", fixed, _done(fixed, dry))
    for each in report.not_fixed:
        yield said("not fixed", "red", each.finding, *_why_not(each, file.in_inches))
    for left in worst_first(report.left):
        more = "; ".join(filter(None, [left.severity, details(left, file.in_inches)]))
        yield said("left", COLOURS.get(left.severity, "yellow"), left, more)


def _done(fixed: FixedRecord, dry: bool) -> str:
    parts = [f"{'in a copy' if dry else 'done'}: {fixed.done}"]
    parts += ["reshaped: look at the copy before you cut"] if fixed.grade == _RESHAPING else []
    parts += [f"piece: {fixed.piece}"] if fixed.piece else []
    return "; ".join(parts)


def _why_not(each: NotFixedRecord, in_inches: bool) -> tuple[str, str]:
    more = "; ".join(filter(None, [each.finding.severity, details(each.finding, in_inches)]))
    return f"why: {each.reason}", more


def _totals(report: FixReport) -> str:
    """One sentence: how many files, and what came of the findings."""
    totals = report.totals
    dry = any(map(_is_dry, report.files))
    parts = []
    if totals.fixed:
        verb = "can be fixed" if dry else "fixed"
        found = f"{many(totals.fixed, 'finding')} {verb}"
        parts.append(f"{found} in {many(totals.changed, 'file')}")
    parts += [f"{totals.not_fixed} not fixed"] if totals.not_fixed else []
    parts += [f"{totals.left} left for you"] if totals.left else []
    text = f"{many(totals.files, 'file')} done: {', '.join(parts) or 'nothing to fix'}"
    text += "; nothing was written" if dry else ""
    text += f"; {len(report.unreadable)} not read" if report.unreadable else ""
    text += f"; {len(report.unwritten)} not written" if report.unwritten else ""
    silenced = many(totals.silenced, "finding")
    text += f"; {silenced} silenced in the drawings" if totals.silenced else ""
    text += "; the set as a whole was not checked" if _is_set(report) else ""
    return text + "."


def _next_step(report: FixReport, width: int, typed: Typed, made: Made) -> list[str]:
    """What to do now; each command to type stands on a line of its own, never broken."""
    lines: list[str] = []
    for text, command in _commands(report, typed, made):
        start = f"{'And' if lines else 'Next'}: {text}{typed.about(command)}:"
        lines += [*wrapped(start, width), f"{INDENT}{command}"]
    left = [finding for file in report.files for finding in file.left]
    findings = left + [each.finding for file in report.files for each in file.not_fixed]
    if findings:
        start = "Put" if lines else "Next: put"
        lines += look_up(f"{start} right in the drawing what is not fixed.", findings, width)
    return lines


def _commands(report: FixReport, typed: Typed, made: Made) -> Iterator[tuple[str, str]]:
    """What else can be asked for, each with the command."""
    more = ["--reshape"] if made.reshaped else []
    if any(map(_is_dry, report.files)):
        yield (
            "give --out DIR or --in-place instead of --dry-run, and this is written",
            typed.fix(*more, to=made.to),
        )
    reshapable = sum(one.fix == _RESHAPING for file in report.files for one in file.left)
    if reshapable:
        text = f"--reshape also tries the {reshapable} whose fix changes size or shape"
        yield text, typed.fix("--reshape", to=made.to)
    if made.at and _is_set(report):
        yield "what concerns the whole set is told by", typed.lint(made.at)


def _is_set(report: FixReport) -> bool:
    """Whether rules about whole sets, which fix does not ask, may have something to say."""
    return len(report.files) > 1
