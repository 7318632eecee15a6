"""Every drawing of the fixtures, repaired: the copy is at rest, accounted for, and looks the same.

References: resvg, through resvg_py 0.5, paints source and copy; svgelements 1.9.6 says along which
lines they may differ. Many drawings are copies of others, and most copies are their own source: the
same bytes are repaired, linted and painted once.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
import shapely

from matready.lint.repair import repair
from matready.lint.results import FileReport, Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.lint.source import Unreadable

from tests.drawn import STRUCTURE
from tests.spoiling.reading import changed_segments, differing, lines_of, outside, picture, png
from tests.spoiling.truth import LOOSE

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
DRAWINGS = sorted(p for p in FIXTURES.rglob("*.svg*") if p.suffix in (".svg", ".svgz"))
# Half of the widest line that is drawn there, and its longest mitre (SVG 2, 13.5.6).
OWN_MM = 1.2
BETWEEN_LINES = 6  # mean shades of 255, of which a last digit makes fewer


class _Sheet(NamedTuple):
    """The bytes of a drawing; of its name only the ending."""

    data: bytes
    ending: str

    @property
    def name(self) -> str:
        return f"stage{self.ending}"


def _name(path: Path) -> str:
    return path.relative_to(FIXTURES).as_posix()


each_drawing = pytest.mark.parametrize("path", DRAWINGS, ids=_name)
safe_or_not = pytest.mark.parametrize("reshape", [False, True], ids=["safe", "reshape"])


@cache
def _copy(sheet: _Sheet, reshape: bool) -> Repaired | None:
    """The repaired copy; None for a drawing that is refused by the reader."""
    try:
        return repair(sheet.data, sheet.name, STRUCTURE, Settings(), reshape)
    except Unreadable:
        return None


@cache
def _report(sheet: _Sheet) -> FileReport:
    return lint_bytes(sheet.data, sheet.name, STRUCTURE)


@safe_or_not
@each_drawing
def test_a_second_repair_changes_nothing(path: Path, reshape: bool) -> None:
    sheet = _Sheet(path.read_bytes(), path.suffix)
    copy = _copy(sheet, reshape)
    if copy is None:
        return
    again = _copy(sheet._replace(data=copy.data), reshape)
    assert again is not None
    assert again.data == copy.data
    assert again.fixed == ()
    assert [(n.finding.rule, n.reason) for n in again.not_fixed] == [
        (n.finding.rule, n.reason) for n in copy.not_fixed
    ]
    assert again.left == copy.left


@safe_or_not
@each_drawing
def test_every_finding_is_accounted_for(path: Path, reshape: bool) -> None:
    sheet = _Sheet(path.read_bytes(), path.suffix)
    copy = _copy(sheet, reshape)
    if copy is None:
        return
    rest = [*(left.finding for left in copy.not_fixed), *copy.left]
    found = _report(sheet._replace(data=copy.data)).findings
    assert sorted(f.message for f in found) == sorted(f.message for f in rest)
    before = _report(sheet).findings
    accounted = [*(record.rule for record in copy.fixed), *(f.rule for f in rest)]
    if reshape:  # what becomes a piece, or of a known size, may show more
        assert not [f.rule for f in before if f.rule not in accounted]
        assert len(accounted) >= len(before)
    else:
        assert sorted(accounted) == sorted(f.rule for f in before)
    assert bool(copy.fixed) == (copy.data != sheet.data)


@each_drawing
def test_a_repair_changes_no_pixel_but_along_changed_lines(path: Path) -> None:
    sheet = _Sheet(path.read_bytes(), path.suffix)
    copy = _copy(sheet, False)
    if copy is None or copy.data == sheet.data:
        return
    size_mm = _report(sheet).size_mm
    assert size_mm is not None
    changed = differing(picture(sheet.data), picture(copy.data), BETWEEN_LINES)
    if changed.any():
        places = shapely.union_all(changed_segments(lines_of(sheet.data), lines_of(copy.data)))
        assert outside(changed, size_mm[0], places, OWN_MM) == 0
    if any(fixed.rule == LOOSE for fixed in copy.fixed):
        grouping = Settings(only=frozenset({LOOSE}))
        grouped = repair(sheet.data, sheet.name, STRUCTURE, grouping)
        assert png(grouped.data) == png(sheet.data)
