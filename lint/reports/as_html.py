"""The report as one page for a browser: no script, no network, nothing of a file's own markup.

All texts are escaped by the template library; pictures are numbers of ours. The page carries a
Content Security Policy that allows its one style sheet, by digest, and nothing else.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from matready.lint.figures.as_svg import lead_of, mark_shape
from matready.lint.figures.palette import PALETTE
from matready.lint.figures.paths import number_text
from matready.lint.reports.as_text import CARE, shown
from matready.lint.reports.generator import generator
from matready.lint.reports.html_view import FileView, SetView, sets_of, view_box
from matready.lint.reports.html_words import totals_of, verdict_of_run
from matready.lint.results import Checked, SetFindingRecord, UnreadableFile
from matready.lint.rule import Rule

_TEMPLATES = Path(__file__).parent / "templates"


def as_html(
    outcomes: Sequence[Checked | UnreadableFile],
    in_sets: Sequence[SetFindingRecord],
    rules: Sequence[Rule],
) -> str:
    """The page; every outcome that was read has its sketch (`Checked.sketch`)."""
    templates = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters["n"] = number_text
    templates.filters["shown"] = shown
    sets = sets_of(outcomes, in_sets, rules)
    files = [file for each in sets for file in each.files]
    style = _style(templates, sets)
    reports = [one.report for one in outcomes if isinstance(one, Checked)]
    return templates.get_template("page.html.jinja").render(
        sets=sets,
        files=files,
        verdict=verdict_of_run(reports, len(outcomes) - len(reports), len(sets)),
        totals=totals_of(reports, in_sets, len(outcomes) - len(reports)),
        care=CARE,
        generator=generator(),
        # Markup: the sheet is our own text with numbers in it, and would be broken by escapes.
        style=Markup(style),  # noqa: S704
        policy=_policy(style),
        view_box=view_box,
        lead_of=lead_of,
        mark_shape=mark_shape,
        n=number_text,
    )


def _style(templates: Environment, sets: Sequence[SetView]) -> str:
    """The style sheet: our colours, the shape of each plate, and what belongs to one number."""
    files = [file for each in sets for file in each.files]
    findings = [len(group) for each in sets for group in _findings(each)]
    return templates.get_template("report.css").render(
        palette=PALETTE,
        plates=[(file.number, *_shape(file)) for file in files if file.figure],
        numbers=range(1, max(findings, default=0) + 1),
    )


def _findings(each: SetView) -> list[Sequence[object]]:
    return [each.findings, *(file.findings for file in each.files)]


def _shape(file: FileView) -> tuple[str, str]:
    assert file.figure is not None
    x0, y0, x1, y1 = file.figure.window_mm
    return number_text(x1 - x0), number_text(y1 - y0)


def _policy(style: str) -> str:
    """Nothing is loaded, run or sent; the one style sheet is known by its digest (CSP level 3)."""
    digest = b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src 'none'; "
        "base-uri 'none'; form-action 'none'"
    )
