"""All safe fixes of all rules together, on drawings of many kinds: the copy is at rest and whole.

References: lxml reads ids and what refers to them; resvg (resvg_py 0.5) paints source and copy, and
svgelements 1.9.6 says along which lines they may differ. The drawings are the demo set, the flagged
drawings of every rule, and sheets with planted faults.
"""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
import shapely
from lxml import etree

from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

from tests.drawn import CUT, page, path
from tests.planting.cases import RECIPES, make_case
from tests.planting.draft import Recipe
from tests.spoiling.reading import changed_segments, differing, lines_of, outside, picture

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
PLANTED = 40
SEED = 41
# Half of the widest stroke that is drawn here, and its longest mitre (SVG 2, 13.5.6).
OWN_MM = 1.2
FOLD_LINE = 'fill="none" stroke="#b5543a"'
SHADES = 24  # of 255: what a last digit makes of a pixel along a line; a lost line makes more


class _Drawing(NamedTuple):
    name: str
    data: bytes


PATHS = sorted(
    path
    for places in ("puppet-theatre/*.svg", "several/*.svg", "*/flagged/**/*.svg")
    for path in FIXTURES.glob(places)
)
PLANS = [RECIPES[k * len(RECIPES) // PLANTED] for k in range(PLANTED)]


def _name(of: Path | Recipe) -> str:
    return of.relative_to(FIXTURES).as_posix() if isinstance(of, Path) else f"{of.rule}: {of.name}"


@cache
def _drawing(of: Path | Recipe) -> _Drawing:
    data = of.read_bytes() if isinstance(of, Path) else make_case(of, SEED).text.encode()
    return _Drawing(_name(of), data)


# A planted sheet is drawn where it is asked for: each process collects all tests.
everywhere = pytest.mark.parametrize("of", [*PATHS, *PLANS], ids=_name)


@cache
def _copy(drawing: _Drawing) -> Repaired:
    return repair(drawing.data, drawing.name, RULES, Settings())


@everywhere
def test_a_second_run_changes_nothing_and_what_is_left_has_a_reason(of: Path | Recipe) -> None:
    drawing = _drawing(of)
    copy = _copy(drawing)
    again = _copy(drawing._replace(data=copy.data))
    assert (again.data, again.fixed) == (copy.data, ())
    assert all(each.reason for each in copy.not_fixed)
    # Lines that no one sees go only where that is asked for.
    assert {left.rule for left in copy.left if left.fix == "safe"} <= {"hidden-line"}
    assert not [one for one in copy.not_checked if "broke" in one.reason]
    assert bool(copy.fixed) == (copy.data != drawing.data)


@everywhere
def test_no_id_is_double_and_no_reference_dead_that_was_not(of: Path | Recipe) -> None:
    drawing = _drawing(of)
    if b"<!ENTITY" in drawing.data:
        return  # what these stand for is written out, and lxml would read them itself
    old_ids, old_named = _references(drawing.data)
    ids, named = _references(_copy(drawing).data)
    assert all(count <= max(old_ids[name], 1) for name, count in ids.items())
    dead = {name for name in old_named if not old_ids[name]}
    assert {name for name in named if not ids[name]} <= dead


def _references(data: bytes) -> tuple[Counter[str], set[str]]:
    """How often each id stands in a document, and the ids that are named by others."""
    root = etree.fromstring(data, etree.XMLParser(resolve_entities=False, no_network=True))
    values = [(str(key), str(value)) for one in root.iter("*") for key, value in one.items()]
    ids = Counter(value for key, value in values if key == "id")
    hrefs = (value for key, value in values if etree.QName(key).localname == "href")
    named = {href[1:] for href in hrefs if href.startswith("#")}
    for _, value in values:
        named.update(re.findall(r"url\(\s*[\"']?#([^)\"'\s]+)", value))
    return ids, named


@everywhere
def test_pixels_differ_along_changed_lines_only(of: Path | Recipe) -> None:
    drawing = _drawing(of)
    copy = _copy(drawing)
    if copy.data == drawing.data:
        return
    size_mm = lint_bytes(drawing.data, drawing.name, ()).size_mm
    assert size_mm is not None
    changed = differing(picture(drawing.data), picture(copy.data), SHADES)
    if changed.any():
        places = shapely.union_all(changed_segments(lines_of(drawing.data), lines_of(copy.data)))
        assert outside(changed, size_mm[0], places, OWN_MM) == 0
    if not {each.rule for each in copy.fixed} - {"cut-order", "loose-score", "nameless-piece"}:
        assert not changed.any()


def test_the_drawings_are_read_and_many_of_them_are_mended() -> None:
    fixed = Counter(each.rule for of in [*PATHS, *PLANS] for each in _copy(_drawing(of)).fixed)
    mended_safely = {rule.name for rule in RULES if rule.fixes == "safe"} - {"hidden-line"}
    assert set(fixed) == mended_safely


def test_a_sheet_is_given_its_size_and_then_closed_and_dashed() -> None:
    """What is drawn after the page has grown is measured at the size it has then.

    A4 is 210 by 297 mm (ISO 216); the wing is 80 by 210 mm by the numbers of its path.
    """
    data = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="210" height="297" viewBox="0 0 210 297">'
        b"<title>A wing on a sheet of A4, open at its foot, its folds only shown dashed</title>"
        b'<path id="wing" d="M40 250V40H120V250" fill="none" stroke="#33475b"/>'
        b'<path id="fold" d="M40 90H120M40 200H110" fill="none" stroke="#b5543a"'
        b' stroke-dasharray="2 1.5"/></svg>'
    )
    copy = repair(data, "wing.svg", RULES, Settings(), reshape=True)
    assert not copy.not_fixed
    fixed = {each.rule for each in copy.fixed}
    assert fixed >= {"wrong-scale", "open-outline", "dash-styled-line", "loose-score"}
    report = lint_bytes(copy.data, "wing.svg", RULES)
    assert report.size_mm == (210, 297)
    assert [piece.area_mm2 for piece in report.pieces] == [80 * 210]
    again = repair(copy.data, "wing.svg", RULES, Settings(), reshape=True)
    assert again.data == copy.data


def test_one_fold_that_cannot_be_dashed_keeps_none_of_the_others_from_it() -> None:
    """CSS Cascading 4, 6.1: what is marked !important wins over the style of an element."""
    pleats = "".join(
        f'<path id="pleat-{x}" d="M{x} 15V85"{held}/>'
        for x, held in ((30, ""), (45, ' class="held"'), (60, ""))
    )
    data = page(
        "<style>.held { stroke-dasharray: 3 1 !important }</style>",
        f'<g id="curtain" {CUT}><g stroke="#b5543a" stroke-dasharray="3 1">{pleats}</g>',
        '<rect id="edge" x="15" y="15" width="70" height="70"/></g>',
    )
    copy = repair(data, "curtain.svg", RULES, Settings())
    (fixed,) = copy.fixed
    assert fixed.done.endswith("in 2 of the 3 lines")
    (left,) = copy.not_fixed
    assert "!important" in left.reason
    assert len(left.finding.elements) == 1
    lines = [round(line[0, 0], 3) for line in lines_of(copy.data)]
    # A dash and a gap of 4 mm over 70 mm: eighteen dashes where there was one line.
    assert [lines.count(x) for x in (30, 45, 60)] == [18, 1, 18]
    assert repair(copy.data, "curtain.svg", RULES, Settings()).data == copy.data


def test_dashes_begin_where_the_fold_does_once_it_is_trimmed() -> None:
    """A fold that overruns along a slit is trimmed first: its dashes are laid out along the rest.

    The pattern of 2 and 1.5 mm begins at the end of the line (SVG 2, 13.5.6), by then the slit's.
    """
    data = page(
        path("M20 20H80V80H20Z", name="panel"),
        path("M50 20V22.5"),
        path("M50 20V80", f'{FOLD_LINE} stroke-dasharray="2 1.5" class="fold"'),
        size=100,
    )
    copy = repair(data, "panel.svg", RULES, Settings())
    assert not copy.not_fixed
    assert {each.rule for each in copy.fixed} >= {"score-on-cut", "dash-styled-line"}
    dashes = sorted((line[:, 1].min(), line[:, 1].max()) for line in lines_of(copy.data))[2:]
    assert dashes[1:3] == [pytest.approx((26, 28)), pytest.approx((29.5, 31.5))]
