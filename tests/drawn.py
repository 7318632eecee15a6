"""Small drawings for tests: SVG text on a page in mm, and what the linter says of it."""

from __future__ import annotations

from collections.abc import Sequence

from matready.lint.cutting import Cutout, cut
from matready.lint.finding import Box, Point
from matready.lint.reading import read_drawing
from matready.lint.results import Checked, FileReport, FindingRecord
from matready.lint.runner import inspect_bytes
from matready.lint.settings import Settings
from matready.lint.source import read_source
from matready.rules import RULES

CUT = 'fill="none" stroke="#33475b"'
FOLD = 'fill="none" stroke="#b5543a" stroke-dasharray="2 1"'


# What has to hold for pieces to fall out at all and to keep their folds.
STRUCTURE = tuple(
    rule
    for rule in RULES
    if rule.name
    in {
        *("wrong-scale", "double-cut", "hairline-gap", "open-outline", "loose-score"),
        "undersize-piece",
    }
)


def page(*body: str, size: float = 200) -> bytes:
    """An SVG page of `size` mm square whose user unit is 1 mm."""
    head = f'width="{size}mm" height="{size}mm" viewBox="0 0 {size} {size}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{"".join(body)}</svg>'.encode()


def path(d: str, style: str = CUT, name: str = "") -> str:
    """One path element."""
    return f'<path d="{d}" {style}{f" id={name!r}" if name else ""}/>'.replace("'", '"')


def lines(rows: Sequence[tuple[float, float, float, float]], style: str = CUT) -> str:
    """A line element for each row x1, y1, x2, y2."""
    return "".join(
        f'<line x1="{a:.9g}" y1="{b:.9g}" x2="{c:.9g}" y2="{d:.9g}" {style}/>'
        for a, b, c, d in rows
    )


def checked(*body: str, settings: Settings | None = None) -> Checked:
    """All that is said of a page with this body by the rules of the STRUCTURE."""
    return inspect_bytes(page(*body), "drawing.svg", STRUCTURE, settings)


def report(*body: str, settings: Settings | None = None) -> FileReport:
    """The report of a page with this body."""
    return checked(*body, settings=settings).report


def cut_out(*body: str) -> Cutout:
    """The virtual cut of a page with this body."""
    settings = Settings()
    source = read_source(page(*body), "drawing.svg")
    return cut(read_drawing(source, settings.distances.flatten_mm), settings)


def rules_of(found: FileReport) -> list[str]:
    """The names of the rules that found something, one for each finding."""
    return [finding.rule for finding in found.findings]


def place_of(found: FindingRecord) -> Point:
    """Where a finding lies, of one that has a place."""
    assert found.at_mm is not None
    return found.at_mm


def box_of(found: FindingRecord) -> Box:
    """The box of a finding that has a place."""
    assert found.box_mm is not None
    return found.box_mm
