"""A fixed copy is cut and scored where its source was: read by an independent program.

References: svgelements 1.9.6 reads the lines, shapely 2 (GEOS) tells what they enclose and how far
they lie from each other. The drawings are real files, spoilt by `tests/spoiling` with faults whose
places, lengths and widths are known from plain mathematics.
"""

from __future__ import annotations

import difflib
from pathlib import Path

import pytest
from hypothesis import given

from matready.lint.repair import repair
from matready.lint.results import FindingRecord, Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings

from tests.drawn import STRUCTURE, box_of
from tests.planting.pieces import Box
from tests.spoiling.choices import some, spoilt
from tests.spoiling.reading import faces, inside, length, lines_of, strays, unpacked, without
from tests.spoiling.truth import DOUBLE, GAP, KINDS, LOOSE, Planted, Spoilt

SEVERAL = Path(__file__).resolve().parent.parent / "fixtures" / "several"
HAIRLINE_MM = 0.5
LENGTH_MM = 0.1
NEAR_MM = 0.02  # two flattenings of a curve, and rounding


def _near(finding: FindingRecord, fault: Planted, spare: float = 0.6) -> bool:
    (a, b, c, d), (x0, y0, x1, y1) = box_of(finding), fault.box
    meets = a <= x1 + spare and c >= x0 - spare and b <= y1 + spare and d >= y0 - spare
    return finding.rule == fault.rule and meets


def _in_strip(box: Box, drawing: Spoilt) -> bool:
    return box[0] > drawing.strip[0] - 1 and box[1] > drawing.strip[1] - 1


def _text(data: bytes, drawing: Spoilt) -> str:
    encoding = "utf-16" if drawing.encoding.startswith("utf-16") else drawing.encoding
    return unpacked(data).decode(encoding)


# The judge itself


@some(25)
@given(spoilt(KINDS))
def test_what_is_planted_is_there(drawing: Spoilt) -> None:
    """The independent reader finds every line of the strip where it was planted."""
    lines = inside(lines_of(drawing.data), drawing.strip)
    # An arc of nearly half a turn swings when its ends are rounded: 0.1 mm on a length is little.
    assert length(lines) == pytest.approx(drawing.length_mm, abs=0.3)
    cuts, missing = without(lines, drawing.others)
    assert missing == 0
    assert len(cuts) == len(lines) - len(drawing.others)
    assert drawing.art in _text(drawing.data, drawing)


@some(25)
@given(spoilt(KINDS))
def test_what_is_planted_is_told(drawing: Spoilt) -> None:
    """The linter finds each planted fault, and no other of these kinds in the strip."""
    found = lint_bytes(drawing.data, drawing.name, STRUCTURE).findings
    mine = [f for f in found if f.rule in KINDS and _in_strip(box_of(f), drawing)]
    missed = [p for p in drawing.planted if not any(_near(f, p) for f in mine)]
    assert missed == [], drawing.traits
    assert [f for f in mine if not any(_near(f, p) for p in drawing.planted)] == []


# The copies


def _check_lines(drawing: Spoilt, copy: Repaired) -> None:
    """Nothing moved, no fold lost, the doubled length gone, the gaps closed."""
    old, new = lines_of(drawing.data), lines_of(copy.data)
    moved = copy.moved_mm + NEAR_MM
    assert copy.moved_mm <= HAIRLINE_MM
    assert len(strays(old, new, moved)) == 0
    assert len(strays(new, old, moved)) == 0
    old, new = inside(old, drawing.strip), inside(new, drawing.strip)
    cuts, missing = without(old, drawing.others)
    fewer, lost = without(new, drawing.others)
    assert missing == lost == 0
    removed = length(cuts) - length(fewer)
    # Each of the two ends at a gap may have been led on by as much as anything moved.
    led_on = 2 * copy.moved_mm * drawing.count(GAP)
    assert removed == pytest.approx(drawing.removed_mm, abs=LENGTH_MM + led_on)
    assert faces(fewer) - faces(cuts) == drawing.faces


def _check_findings(drawing: Spoilt, copy: Repaired) -> None:
    """What was planted is gone; what may stay is either gone or left with a reason."""
    left = lint_bytes(copy.data, drawing.name, STRUCTURE).findings
    mine = [f for f in left if f.rule in KINDS and _in_strip(box_of(f), drawing)]
    refused = [n.finding for n in copy.not_fixed if n.reason]
    for fault in drawing.planted:
        if any(_near(f, fault) for f in mine):
            assert fault.may_stay, (fault, [n.reason for n in copy.not_fixed])
            assert any(_near(f, fault) for f in refused), fault
    known = [fault for fault in drawing.planted if fault.may_stay]
    assert [f for f in mine if not any(_near(f, p) for p in known)] == []


def _check_text(drawing: Spoilt, copy: Repaired) -> None:
    """The real art keeps its text but for lines that have a fault of their own."""
    before, after = _text(drawing.data, drawing), _text(copy.data, drawing)
    assert unpacked(copy.data)[:2] == unpacked(drawing.data)[:2]
    assert (copy.data[:2] == b"\x1f\x8b") == (drawing.data[:2] == b"\x1f\x8b")
    for name in drawing.keep:
        assert name in after or "&#" in before, f"{name} is gone"
    found = lint_bytes(drawing.data, drawing.name, STRUCTURE).findings
    if any(f.rule in KINDS and not _in_strip(box_of(f), drawing) for f in found):
        return
    assert drawing.art in after
    rows = before.split("\n"), after.split("\n")
    matcher = difflib.SequenceMatcher(None, *rows, autojunk=False)
    art = drawing.art.split("\n")[1:-1]
    kept = [row for a, _, size in matcher.get_matching_blocks() for row in rows[0][a : a + size]]
    assert [row for row in art if row not in kept] == []


def _check_again(drawing: Spoilt, copy: Repaired, settings: Settings) -> None:
    """Another run has nothing to do."""
    again = repair(copy.data, drawing.name, STRUCTURE, settings)
    assert again.data == copy.data
    assert again.fixed == ()


def _check(drawing: Spoilt, settings: Settings) -> None:
    copy = repair(drawing.data, drawing.name, STRUCTURE, settings)
    _check_lines(drawing, copy)
    _check_findings(drawing, copy)
    _check_text(drawing, copy)
    _check_again(drawing, copy, settings)


@some(25)
@given(spoilt((LOOSE,)))
def test_grouped_copies(drawing: Spoilt) -> None:
    _check(drawing, Settings())


@some(25)
@given(spoilt((GAP,)))
def test_joined_copies(drawing: Spoilt) -> None:
    _check(drawing, Settings())


@some(25)
@given(spoilt((DOUBLE,)))
def test_thinned_copies(drawing: Spoilt) -> None:
    _check(drawing, Settings())


@some(25)
@given(spoilt(KINDS))
def test_copies_with_all_fixes(drawing: Spoilt) -> None:
    _check(drawing, Settings())


# Drawings in which rules meet


@pytest.mark.parametrize("path", sorted(SEVERAL.glob("*.svg")), ids=lambda path: path.stem)
def test_rules_that_meet_on_one_path_do_not_spoil_each_other(path: Path) -> None:
    data = path.read_bytes()
    promised = [f for f in lint_bytes(data, path.name, STRUCTURE).findings if f.fix == "safe"]
    assert promised
    copy = repair(data, path.name, STRUCTURE, Settings())
    assert [note.reason for note in copy.not_fixed] == []
    left = lint_bytes(copy.data, path.name, STRUCTURE).findings
    assert [f.rule for f in left if f.fix == "safe"] == []
    old, new = lines_of(data), lines_of(copy.data)
    moved = copy.moved_mm + NEAR_MM
    assert len(strays(old, new, moved)) == len(strays(new, old, moved)) == 0
    assert repair(copy.data, path.name, STRUCTURE, Settings()).data == copy.data
