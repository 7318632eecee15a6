"""What every page for a browser stands on: templates that escape all texts, and a strict policy.

A page carries a Content Security Policy that allows its one style sheet, by digest, and nothing
else.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from matready.lint.figures.palette import PALETTE
from matready.lint.figures.paths import number_text
from matready.lint.reports.as_text import CARE, shown
from matready.lint.reports.generator import generator

_TEMPLATES = Path(__file__).parent / "templates"


def render(page: str, sheet: str, of_sheet: dict[str, Any], of_page: dict[str, Any]) -> str:
    """A page by its template, with a style sheet by its own; each has data of its own."""
    templates = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters["n"] = number_text
    templates.filters["shown"] = shown
    style = templates.get_template(sheet).render(palette=PALETTE, **of_sheet)
    return templates.get_template(page).render(
        care=CARE,
        generator=generator(),
        # Markup: the sheet is our own text with numbers in it, and would be broken by escapes.
        style=Markup(style),  # noqa: S704
        policy=_policy(style),
        n=number_text,
        **of_page,
    )


def _policy(style: str) -> str:
    """Nothing is loaded, run or sent; the one style sheet is known by its digest (CSP level 3)."""
    digest = b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src 'none'; "
        "base-uri 'none'; form-action 'none'"
    )
