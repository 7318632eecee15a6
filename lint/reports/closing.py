"""How the report of a lint ends: the totals, what to do next, and a word of care."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from matready.lint.finding import Grade
from matready.lint.reports.as_text import CARE, INDENT, totals_as_text, worst_first, wrapped
from matready.lint.reports.commands import UNTYPED, Typed
from matready.lint.results import FindingRecord, Report

_LOOK_IT_UP = (
    "Places are measured from the left and the top edge of the page. "
    "Each rule named above is explained by its name, for example:"
)


def closing_as_text(report: Report, width: int, typed: Typed = UNTYPED) -> str:
    """The totals, what to do next, and a word of care; `typed` is the command's own line."""
    lines = [*wrapped(totals_as_text(report), width), *_next_step(report, width, typed)]
    return "\n".join([*lines, *wrapped(CARE, width)])


def look_up(start: str, findings: Sequence[FindingRecord], width: int) -> list[str]:
    """A sentence, then how to read on about these findings, with the command to type."""
    rule = worst_first(findings)[0].rule
    return [*wrapped(f"{start} {_LOOK_IT_UP}", width), f"{INDENT}matready rules {rule}"]


def _next_step(report: Report, width: int, typed: Typed) -> list[str]:
    """What to do now; the command to type stands on a line of its own, never broken."""
    findings = [finding for file in report.files for finding in file.findings]
    findings += report.set_findings
    if findings:
        lines: list[str] = []
        fixable = _of_the_fixable(report, typed)
        for text, command in _fixes(findings, fixable):
            start = f"{'And' if lines else 'Next'}: {text}{fixable.about(command)}:"
            lines += [*wrapped(start, width), f"{INDENT}{command}"]
        what = "faults" if report.totals.fault else "findings"
        start = f"{'Or' if lines else 'Next:'} put the {what} right in the drawing, then lint it"
        return lines + look_up(f"{start} again.", findings, width)
    if report.unreadable:
        text = "Next: put the files right that were not read, then lint them again."
        return wrapped(text, width)
    return []


def _of_the_fixable(report: Report, typed: Typed) -> Typed:
    """What was typed, or the files that a fix is for where these are fewer."""
    fixable = [file.path for file in report.files if any(one.fix for one in file.findings)]
    if typed.paths and len(fixable) >= len(typed.paths):
        return typed
    return Typed(tuple(fixable), typed.options)


def _fixes(findings: Sequence[FindingRecord], typed: Typed) -> Iterator[tuple[str, str]]:
    """For each kind of fix how many findings it is for, and the command."""
    safe = sum(finding.fix == Grade.SAFE and not finding.asked for finding in findings)
    reshaping = sum(finding.fix == Grade.RESHAPING for finding in findings)
    if safe:
        text = f"{safe + reshaping} of these can be fixed, in a copy that is proven"
        text += f", {reshaping} of them only with --reshape" if reshaping else ""
        yield text, typed.fix()
    elif reshaping:
        text = f"{reshaping} of these can be fixed, in a copy that is proven, but only with "
        yield f"{text}--reshape, since size or shape changes", typed.fix("--reshape")
    for rule in sorted({finding.rule for finding in findings if finding.asked}):
        text = f"what {rule} tells is put right only where you ask for it, since it takes "
        yield f"{text}something away", typed.fix("--rule", rule, without="--rule")
