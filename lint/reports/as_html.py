"""The report as one page for a browser: no script, no network, nothing of a file's own markup.

All texts are escaped by the template library; pictures are numbers of ours (html_page.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matready.lint.figures.as_svg import lead_of, mark_shape
from matready.lint.figures.paths import number_text
from matready.lint.reports.html_page import render
from matready.lint.reports.html_view import FileView, SetView, sets_of, view_box
from matready.lint.reports.html_words import totals_of, verdict_of_run
from matready.lint.results import Checked, SetFindingRecord, UnreadableFile
from matready.lint.rule import Rule


def as_html(
    outcomes: Sequence[Checked | UnreadableFile],
    in_sets: Sequence[SetFindingRecord],
    rules: Sequence[Rule],
) -> str:
    """The page; every outcome that was read has its sketch (`Checked.sketch`)."""
    sets = sets_of(outcomes, in_sets, rules)
    reports = [one.report for one in outcomes if isinstance(one, Checked)]
    of_page = {
        "sets": sets,
        "files": [file for each in sets for file in each.files],
        "verdict": verdict_of_run(reports, len(outcomes) - len(reports), len(sets)),
        "totals": totals_of(reports, in_sets, len(outcomes) - len(reports)),
        "view_box": view_box,
        "lead_of": lead_of,
        "mark_shape": mark_shape,
    }
    return render("page.html.jinja", "report.css", _of_sheet(sets), of_page)


def _of_sheet(sets: Sequence[SetView]) -> dict[str, Any]:
    """For the style sheet: the shape of each plate, and the numbers that findings have."""
    files = [file for each in sets for file in each.files]
    findings = [len(group) for each in sets for group in _findings(each)]
    return {
        "plates": [(file.number, *_shape(file)) for file in files if file.figure],
        "numbers": range(1, max(findings, default=0) + 1),
    }


def _findings(each: SetView) -> list[Sequence[object]]:
    return [each.findings, *(file.findings for file in each.files)]


def _shape(file: FileView) -> tuple[str, str]:
    assert file.figure is not None
    x0, y0, x1, y1 = file.figure.window_mm
    return number_text(x1 - x0), number_text(y1 - y0)
