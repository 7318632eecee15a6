"""Findings as people and scripts read them; and the whole run as one record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from matready.lint.results import SCHEMA, Checked, Report, Totals, UnreadableFile


def whole_run(outcomes: Sequence[Checked | UnreadableFile]) -> Report:
    """Put the outcomes of all files, in their order, into one report with its totals."""
    files = tuple(outcome.report for outcome in outcomes if isinstance(outcome, Checked))
    counts = Counter(finding.severity for file in files for finding in file.findings)
    return Report(
        schema=SCHEMA,
        files=files,
        set_findings=(),
        unreadable=tuple(outcome for outcome in outcomes if isinstance(outcome, UnreadableFile)),
        totals=Totals(len(files), counts["fault"], counts["caution"], counts["tidy"]),
    )
