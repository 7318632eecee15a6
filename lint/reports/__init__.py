"""Findings as people and scripts read them; and the whole run as one record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from matready.lint.results import (
    FIX_SCHEMA,
    SCHEMA,
    Checked,
    Done,
    FixReport,
    FixTotals,
    Report,
    SetFindingRecord,
    Totals,
    UnreadableFile,
    UnwrittenFile,
)


def whole_run(
    outcomes: Sequence[Checked | UnreadableFile], set_findings: Sequence[SetFindingRecord] = ()
) -> Report:
    """Put the outcomes of all files, in their order, into one report with its totals."""
    files = tuple(outcome.report for outcome in outcomes if isinstance(outcome, Checked))
    counts = Counter(finding.severity for file in files for finding in file.findings)
    counts.update(finding.severity for finding in set_findings)
    return Report(
        schema=SCHEMA,
        files=files,
        set_findings=tuple(set_findings),
        unreadable=tuple(outcome for outcome in outcomes if isinstance(outcome, UnreadableFile)),
        totals=Totals(
            len(files),
            counts["fault"],
            counts["caution"],
            counts["tidy"],
            sum(file.silenced for file in files),
        ),
    )


def whole_fix(outcomes: Sequence[Done | UnreadableFile | UnwrittenFile]) -> FixReport:
    """Put what `fix` did about all files, in their order, into one report with its totals."""
    files = tuple(outcome.report for outcome in outcomes if isinstance(outcome, Done))
    return FixReport(
        schema=FIX_SCHEMA,
        files=files,
        unreadable=tuple(outcome for outcome in outcomes if isinstance(outcome, UnreadableFile)),
        unwritten=tuple(outcome for outcome in outcomes if isinstance(outcome, UnwrittenFile)),
        totals=FixTotals(
            files=len(files),
            changed=sum(file.changed for file in files),
            fixed=sum(len(file.fixed) for file in files),
            not_fixed=sum(len(file.not_fixed) for file in files),
            left=sum(len(file.left) for file in files),
            silenced=sum(file.silenced for file in files),
        ),
    )
