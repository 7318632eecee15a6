"""The report as people read it, in a terminal or in a file.

All texts end without a line end. `colour` allows colours; `width` is how many characters fit on a
line: sentences are wrapped there, names are not, and a file that was not read takes one line.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import PurePath
from typing import TypeVar

import click

from matready.lint.finding import Grade, Severity
from matready.lint.reading.units import format_number
from matready.lint.results import (
    ALLOWING,
    LEFT_OUT,
    READING,
    Checked,
    FileReport,
    FindingRecord,
    FixedRecord,
    MeasuredRecord,
    NotChecked,
    Report,
    SetFindingRecord,
    UnreadableFile,
    UnwrittenFile,
)
from matready.lint.sizes import MM_PER_INCH

_AnyFinding = TypeVar("_AnyFinding", bound=FindingRecord)

STANDARD_INPUT = "-"
WHOLE_PAGE = "the whole page"  # where a finding is that has no place on it

COLOURS = {"fault": "red", "caution": "yellow", "tidy": "cyan"}
INDENT = " " * 2
GAPS = {READING: "not read: ", LEFT_OUT: "left out: ", ALLOWING: "not silenced: "}
CARE = (
    "Test-cut first, on a scrap of the same card. Mind the blade. "
    "Where your machine's manual says otherwise, the manual wins."
)


def files_as_text(files: Sequence[Checked], width: int, colour: bool) -> str:
    """Every file that was read, in order: one line where it is clean, else all findings."""
    blocks = []
    clean_before = True
    for file in files:
        clean = _is_clean(file.report)
        gap = "" if clean and clean_before else "\n"
        blocks.append(gap + _file(file, width, colour))
        clean_before = clean
    return "\n".join(blocks).strip("\n")


def sets_as_text(findings: Sequence[SetFindingRecord], width: int, colour: bool) -> str:
    """What is wrong between files: a block for each folder, with the files of each finding."""
    blocks = []
    for folder in dict.fromkeys(_folder(finding) for finding in findings):
        here = [finding for finding in findings if _folder(finding) == folder]
        lines = [paint(f"the whole set in {name_as_text(folder)}", colour, bold=True)]
        rule_width = max(len(finding.rule) for finding in here)
        for finding in worst_first(here):
            lines += ["", *_set_finding(finding, rule_width, width, colour)]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def _folder(finding: SetFindingRecord) -> str:
    return str(PurePath(finding.files[0]).parent)


def _set_finding(finding: SetFindingRecord, rule_width: int, width: int, colour: bool) -> list[str]:
    """As for one file, with the name of the file first; the other files are listed at the end."""
    word = paint(f"{finding.severity:7}", colour, fg=COLOURS.get(finding.severity), bold=True)
    names = [PurePath(name_as_text(path)).name for path in finding.files]
    place = f"line {finding.line} of {names[0]}{place_as_text(finding, in_inches=False)}"
    more = [f"with: {', '.join(names[1:])}"] if len(names) > 1 else []
    sentences = [finding.message, details(finding, in_inches=False), *more]
    return entry(word, f"{finding.rule:{rule_width}}", place, sentences, width)


def unreadable_as_text(files: Sequence[UnreadableFile], colour: bool) -> str:
    """One line for each file that could not be read, with the sentence that says why."""
    return refused_as_text("not read", files, colour)


def refused_as_text(
    what: str, files: Iterable[UnreadableFile | UnwrittenFile], colour: bool
) -> str:
    """One line for each file that something could not be done with, and why."""
    lines = (f"{name_as_text(file.path)}: {what}: {shown(file.reason)}" for file in files)
    return "\n".join(paint(line, colour, fg="red") for line in lines)


def shown(text: str) -> str:
    """Text from a file or a path, on one line and safe for a terminal."""
    return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)


def name_as_text(path: str) -> str:
    """A file's name as reports show it."""
    return "standard input" if path == STANDARD_INPUT else shown(path)


def _file(file: Checked, width: int, colour: bool) -> str:
    """The block of one file."""
    name = name_as_text(file.report.path)
    not_checked = not_checked_as_text(file.report.not_checked, width)
    if not file.report.findings:
        verdict = "clean" if _is_clean(file.report) else "nothing found in what could be checked"
        lines = wrapped(f"{name}: {verdict}, {_in_short(file)}", width, "", INDENT)
        return "\n".join([*lines, *not_checked])
    facts = ", ".join(_facts(file))
    lines = [paint(name, colour, bold=True), *wrapped(facts, width, INDENT, INDENT)]
    lines += wrapped("; ".join(_told(file)), width, INDENT, INDENT)
    rule_width = max(len(finding.rule) for finding in file.report.findings)
    for finding in worst_first(file.report.findings):
        lines += ["", *_finding(finding, file.in_inches, rule_width, width, colour)]
    return "\n".join([*lines, *([""] if not_checked else []), *not_checked])


def _is_clean(report: FileReport) -> bool:
    """Nothing was found, and nothing that could be cut was passed over."""
    return not report.findings and not _in_part(report)


def _in_part(report: FileReport) -> bool:
    """Something could not be read or checked; what cuts nothing anyway does not count."""
    return was_in_part(report.not_checked)


def was_in_part(gaps: Sequence[NotChecked]) -> bool:
    """Whether something could not be read or checked; what cuts nothing does not count."""
    return any(gap.rule not in (LEFT_OUT, ALLOWING) for gap in gaps)


def _finding(
    finding: FindingRecord, in_inches: bool, rule_width: int, width: int, colour: bool
) -> list[str]:
    """A line that says what and where, then the sentence, then the numbers."""
    word = paint(f"{finding.severity:7}", colour, fg=COLOURS.get(finding.severity), bold=True)
    place = f"line {finding.line} of the file{place_as_text(finding, in_inches)}"
    rule = f"{finding.rule:{rule_width}}"
    more = "; ".join(filter(None, [details(finding, in_inches), cure(finding)]))
    return entry(word, rule, place, [finding.message, more], width)


def cure(finding: FindingRecord) -> str:
    """Whether `fix` can put a finding right, and with which option; empty where it cannot."""
    if finding.fix is None:
        return ""
    if finding.asked:
        return f"can be fixed with --rule {finding.rule}"
    return "can be fixed with --reshape" if finding.fix == Grade.RESHAPING else "can be fixed"


def entry(word: str, rule: str, place: str, sentences: Sequence[str], width: int) -> list[str]:
    """What a report says of one finding: word, rule and place, then indented sentences.

    `word` and `rule` bring the blanks that make them as wide as their columns.
    """
    indent = INDENT + " " * len(click.unstyle(word)) + INDENT
    if len(indent) + len(rule) + 2 + len(place) <= width:
        lines = [f"{INDENT}{word}{INDENT}{rule}{INDENT}{place}"]
    else:
        lines = [f"{INDENT}{word}{INDENT}{rule.rstrip()}", *wrapped(place, width, indent, indent)]
    for sentence in sentences:
        lines += wrapped(shown(sentence), width, indent, indent)
    return lines


def details(finding: FindingRecord, in_inches: bool) -> str:
    """What a finding measured, and in which piece; empty where it says neither."""
    parts = [measured_as_text(finding.measured, in_inches)] if finding.measured else []
    parts += [f"piece: {finding.piece}"] if finding.piece else []
    return "; ".join(parts)


def worst_first(findings: Iterable[_AnyFinding]) -> list[_AnyFinding]:
    """Sort by harm, then from the top of the page to its bottom, then from left to right."""
    return sorted(findings, key=lambda f: (-Severity(f.severity).rank, (f.at_mm or (0, 0))[::-1]))


def _in_short(file: Checked) -> str:
    """A file without findings: its page, pieces and lines, and by what its scores were told."""
    text = ", ".join(_facts(file))
    clues = ", ".join(clue for clue, _ in _clues(file, "score"))
    return f"{text} (scores by {clues})" if clues else text


def _facts(file: Checked) -> list[str]:
    return [page_as_text(file.report, file.in_inches), *counts_as_text(file.report)]


def page_as_text(report: FileReport, in_inches: bool) -> str:
    """The size of the page, in inches beside where it is in inches."""
    size = report.size_mm
    if size is None:
        return "page size not known"
    return f"page {lengths(size, ' × ', in_inches)}"


def counts_as_text(report: FileReport) -> list[str]:
    """Pieces, cuts and scores; drawn lines only where there are any."""
    lines = report.lines
    parts = [many(len(report.pieces), "piece")]
    parts += [many(lines.cut, "cut"), many(lines.score, "score")]
    return parts + ([many(lines.draw, "drawn line")] if lines.draw else [])


def _clues(file: Checked, role: str) -> list[tuple[str, int]]:
    """The clues that told the lines of a role, the most frequent first.

    Lines that nothing told are cut: that is what a machine does with them, and needs no words.
    """
    clues = [(clue, count) for (of, clue), count in file.clues.items() if of == role and clue]
    return sorted(clues, key=lambda pair: (-pair[1], pair[0]))


def roles_told(file: Checked) -> Iterator[tuple[str, list[tuple[str, int]]]]:
    """What lines of each role are called, with the clues that told them and how many each did."""
    for role, noun in (("cut", "cuts"), ("score", "scores"), ("draw", "drawn lines")):
        clues = _clues(file, role)
        if clues:
            yield noun, clues


def _told(file: Checked) -> Iterator[str]:
    """For each role how its lines were told: "scores told by layer name (12), by dashes (3)"."""
    for noun, clues in roles_told(file):
        yield f"{noun} told {', '.join(f'by {clue} ({count})' for clue, count in clues)}"


def not_checked_as_text(gaps: Sequence[NotChecked], width: int) -> list[str]:
    """What could not be read in the file, and what rules could not look at."""
    by_reason: dict[str, list[str]] = {}
    for gap in gaps:
        by_reason.setdefault(gap.reason, []).append(gap.rule)
    lines: list[str] = []
    for reason, rules in by_reason.items():
        start = GAPS.get(rules[0], "not checked: ")
        said = shown(reason)
        if rules[0] not in GAPS:
            said = f"{said} ({', '.join(rules)})"
        lines += wrapped(said, width, INDENT + start, INDENT * 2)
    return lines


def measured_as_text(measured: MeasuredRecord, in_inches: bool) -> str:
    """Both numbers in their unit; lengths in inches beside, shares in percent."""
    value, limit, unit = measured.value, measured.limit, measured.unit
    if unit == "share":
        value, limit, unit = value * 100, limit * 100, "%"
    said = [f"{significant(number)} {unit}" for number in (value, limit)]
    if in_inches and unit == "mm":
        said = [
            f"{text} ({inches(number)} in)"
            for text, number in zip(said, (value, limit), strict=True)
        ]
    return f"measured {said[0]}, limit {said[1]}"


def totals_as_text(report: Report) -> str:
    """One sentence: how many files, and how many findings of each severity."""
    totals = report.totals
    found = found_as_text({one: getattr(totals, one) for one in Severity})
    clean = sum(map(_is_clean, report.files))
    in_part = sum(map(_in_part, report.files))
    text = f"{many(totals.files, 'file')} read: {found or 'nothing found'}"
    if clean and clean < totals.files:
        text += f"; {many(clean, 'file')} clean"
    if in_part:
        text += f"; {in_part} checked in part"
    if report.unreadable:
        text += f"; {len(report.unreadable)} not read"
    if totals.silenced:
        text += f"; {many(totals.silenced, 'finding')} silenced in the drawings"
    return text + "."


def found_as_text(counts: Mapping[str, int]) -> str:
    """How many findings of each severity, the worst first: "2 faults, 1 tidy"; empty for none."""
    words = sorted((word for word in counts if counts[word]), key=lambda w: -Severity(w).rank)
    return ", ".join(
        f"{counts[word]} tidy" if word == Severity.TIDY else many(counts[word], word)
        for word in words
    )


def place_as_text(finding: FindingRecord | FixedRecord, in_inches: bool) -> str:
    """Where a finding lies, in inches beside where the page is in inches, and how many like it."""
    if isinstance(finding, FindingRecord) and finding.of_whole_page:
        return f", {WHOLE_PAGE}"
    at = finding.at_mm
    text = "" if at is None else f", at {at[0]:.1f}, {at[1]:.1f} mm"
    if at is not None and in_inches:
        text += f" ({at[0] / MM_PER_INCH:.2f}, {at[1] / MM_PER_INCH:.2f} in)"
    more = finding.count - 1 if isinstance(finding, FindingRecord) else 0
    return f"{text}, and {more} like it" if more else text


def inches(millimetres: float) -> str:
    """A length in inches, without the unit."""
    return format_number(millimetres / MM_PER_INCH, 3)


def lengths(values_mm: Iterable[float], between: str, in_inches: bool, decimals: int = 1) -> str:
    """Lengths in mm, and in inches beside them where those are wanted."""
    values = list(values_mm)
    text = f"{between.join(format_number(value, decimals) for value in values)} mm"
    return f"{text} ({between.join(map(inches, values))} in)" if in_inches else text


def significant(value: float) -> str:
    """As many decimals as say something: 0.025, 2.23, 82.7."""
    return format_number(value, 3 if abs(value) < 1 else 2 if abs(value) < 10 else 1)


def many(count: int, noun: str) -> str:
    """A number and its noun: "1 file", "2 files"."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def wrapped(text: str, width: int, start: str = "", indent: str = "") -> list[str]:
    """Lines of at most `width` characters; names and paths are not broken. No text, no lines."""
    return textwrap.wrap(
        text,
        max(width, 40),
        initial_indent=start,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def paint(text: str, colour: bool, fg: str | None = None, bold: bool = False) -> str:
    """The text in a colour, where colours are allowed."""
    return click.style(text, fg=fg, bold=bold) if colour else text
