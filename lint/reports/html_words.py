"""What the page says of files and findings, in a crafter's words; no markup."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path, PurePath

from matready.lint.finding import Grade, Severity
from matready.lint.reports.as_text import (
    WHOLE_PAGE,
    counts_as_text,
    inches,
    many,
    name_as_text,
    page_as_text,
    roles_told,
    significant,
    was_in_part,
)
from matready.lint.reports.commands import Typed
from matready.lint.reports.rule_pages import paragraphs_of
from matready.lint.results import Checked, FileReport, FindingRecord
from matready.lint.sizes import MM_PER_INCH

FAULT, CAUTION, TIDY, READY, PART, UNREAD = "fault", "caution", "tidy", "ready", "part", "unread"
"""States of a file: by its worst finding, or without one."""


def state_of(report: FileReport) -> str:
    """The state of a file that was read."""
    if report.findings:
        return max((one.severity for one in report.findings), key=lambda s: Severity(s).rank)
    return PART if was_in_part(report.not_checked) else READY


def badge(report: FileReport, between: bool = False) -> str:
    """The state in a few words, for beside a thumbnail.

    `between`: something that may spoil the set was found between it and other sheets.
    """
    counts = Counter(one.severity for one in report.findings)
    if counts[FAULT]:
        return f"{many(counts[FAULT], 'fault')} to fix"
    if counts[CAUTION]:
        return f"{counts[CAUTION]} to look at"
    if between and not was_in_part(report.not_checked):
        return "ready, but see Between the sheets"
    if counts[TIDY]:
        return f"ready, {counts[TIDY]} to tidy"
    return "checked in part" if was_in_part(report.not_checked) else "ready to cut"


def verdict_of_file(report: FileReport, between: bool = False) -> str:
    """One sentence: whether the sheet can be cut, and what has to be done before.

    `between` as of `badge`.
    """
    counts = Counter(one.severity for one in report.findings)
    rest = [f"look at {_more(counts[CAUTION])}"] if counts[CAUTION] else []
    rest += [f"tidy {_things(counts[TIDY])} when there is time"] if counts[TIDY] else []
    if counts[FAULT]:
        first = [f"fix {_things(counts[FAULT])} before you cut"]
        text = _and(first + rest)
    elif counts[CAUTION]:
        text = _and([f"look at {_things(counts[CAUTION])} before you cut", *rest[1:]])
    elif was_in_part(report.not_checked) and not counts[TIDY]:
        text = "nothing was found in what could be checked"
    else:
        first = ["ready to cut by itself, but see Between the sheets"] if between else []
        text = "; ".join([*(first or ["ready to cut"]), *rest])
    return sentence(text)


def verdict_of_set(reports: Sequence[FileReport], unread: int) -> str:
    """One sentence about all sheets of a folder, some of which may not have been read."""
    states = Counter(state_of(report) for report in reports)
    ready, total = states[READY] + states[TIDY], len(reports) + unread
    if total == 1:
        return verdict_of_file(reports[0]) if reports else "The sheet could not be read."
    rest = [f"{states[FAULT]} {_have(states[FAULT])} faults to fix first"] if states[FAULT] else []
    rest += [f"{states[CAUTION]} {_need(states[CAUTION])} a look"] if states[CAUTION] else []
    rest += [f"{states[PART]} could be checked in part only"] if states[PART] else []
    rest += [f"{unread} could not be read"] if unread else []
    if ready == total:
        first = f"all {total} sheets are ready to cut"
    elif not ready:
        first = f"none of {total} sheets is ready to cut"
    else:
        first = f"{ready} of {total} sheets {'is' if ready == 1 else 'are'} ready to cut"
    return sentence(", ".join(filter(None, [first, _and(rest)])))


def verdict_between(count: int) -> str:
    """One sentence about what was found between the sheets; empty for nothing."""
    does = "does" if count == 1 else "do"
    return sentence(f"between the sheets {_things(count)} {does} not fit together") if count else ""


def _things(count: int) -> str:
    return "one thing" if count == 1 else f"{count} things"


def _more(count: int) -> str:
    return f"{'one' if count == 1 else count} more"


def _have(count: int) -> str:
    return "has" if count == 1 else "have"


def _need(count: int) -> str:
    return "needs" if count == 1 else "need"


def _and(parts: Sequence[str]) -> str:
    """A list as it is spoken: "a", "a and b", "a, b and c"."""
    return " and ".join(filter(None, [", ".join(parts[:-1]), *parts[-1:]]))


def sentence(text: str) -> str:
    """The text with a capital letter and a full stop."""
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?")) else f"{text}."


def facts_of_file(file: Checked) -> list[str]:
    """Page, pieces and lines, and by what lines were told apart."""
    facts = [page_as_text(file.report, file.in_inches), *counts_as_text(file.report)]
    for noun, clues in roles_told(file):
        facts.append(f"{noun} told by {_and([clue for clue, _ in clues])}")
    return facts


def place_of(finding: FindingRecord, in_inches: bool, count: int) -> str:
    """Where on the page, as one measures it with a ruler; empty for what has no place.

    `count`: it is the first of so many places.
    """
    if finding.at_mm is None:
        return ""
    if finding.of_whole_page:
        return WHOLE_PAGE
    x, y = finding.at_mm
    text = f"{x:.1f} mm from the left, {y:.1f} mm from the top"
    if in_inches:
        text += f" ({x / MM_PER_INCH:.2f}, {y / MM_PER_INCH:.2f} in)"
    more = count - 1
    return f"{text}, and {more} more like it" if more else text


def folder_name(folder: str) -> str:
    """A folder as it was typed; by its own name where only dots were."""
    if PurePath(folder).name not in ("", ".."):
        return name_as_text(folder)
    return name_as_text(Path(folder).resolve().name or folder)


def length(value_mm: float, in_inches: bool) -> str:
    """A length in mm, and in inches beside where the page is in inches."""
    text = f"{significant(value_mm)} mm"
    return f"{text} ({inches(value_mm)} in)" if in_inches else text


def times_as_text(times: float) -> str:
    """How much larger or smaller than life a picture is."""
    if times == 1:
        return "life size"
    if times > 1:
        return f"{times:g} times life size"
    return f"{times * 100:g}\u00a0% of life size"


def moved_as_text(moved_mm: float | None, in_inches: bool) -> str:
    """How far fixes move anything, rounded up: a proof must not promise less than was measured."""
    if not moved_mm:
        return "nothing moves"
    limit_mm = math.ceil(moved_mm * 1000 - 1e-9) / 1000
    return f"nothing moves by more than {length(limit_mm, in_inches)}"


def command_for(path: str, finding: FindingRecord | None = None) -> str:
    """What to type to have a file, or one finding of it, fixed in a copy."""
    return Typed((path,)).fix(*_options(finding))


def _options(finding: FindingRecord | None) -> list[str]:
    if finding is None or not finding.fix:
        return []
    if finding.asked:
        return [f"--rule {finding.rule}"]
    return ["--reshape"] if finding.fix == Grade.RESHAPING else []


def paragraphs(text: str) -> list[list[tuple[bool, str]]]:
    """An explanation in paragraphs, each in parts: whether it is a term, and the words."""
    return [
        [(k % 2 == 1, part) for k, part in enumerate(paragraph.split("`")) if part]
        for paragraph in paragraphs_of(text)
    ]


def totals_of(files: Sequence[FileReport], between: Sequence[FindingRecord], unread: int) -> str:
    """How many sheets there are, and what was found in and between them."""
    found = [one for file in files for one in file.findings] + list(between)
    counts = Counter(one.severity for one in found)
    silenced = sum(file.silenced for file in files)
    parts = [f"{many(len(files), 'sheet')} read"]
    parts += [many(counts[FAULT], "fault"), many(counts[CAUTION], "caution")]
    parts += [f"{counts[TIDY]} to tidy"]
    parts += [f"{unread} not read"] if unread else []
    parts += [f"{many(silenced, 'finding')} silenced in the drawings"] if silenced else []
    return " · ".join(parts)


def verdict_of_run(reports: Sequence[FileReport], unread: int, sets: int) -> str:
    """The headline: the verdict on all sheets, of however many sets."""
    verdict = verdict_of_set(reports, unread)
    return verdict if sets == 1 else f"In {sets} sets {verdict[:1].lower()}{verdict[1:]}"
