"""A fixed copy looks like its source: drawn by a renderer that is not ours, pixel by pixel.

Reference: resvg, through resvg_py 0.5. A fix that only groups lines changes no pixel; one that
joins ends or takes doubled lines out changes none but those along lines that an independent reader
sees changed. The drawings are real files, spoilt by `tests/spoiling`; `test_repaired_drawings.py`
holds our own fixtures to the same.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given

from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.settings import Settings

from tests.drawn import STRUCTURE, page, path
from tests.spoiling.choices import some, spoilt
from tests.spoiling.reading import (
    Pixels,
    apart,
    changed_segments,
    differing,
    lines_of,
    outside,
    picture,
    png,
)
from tests.spoiling.truth import DOUBLE, GAP, KINDS, LOOSE, Spoilt, Unseen

GROUPING = Settings(only=frozenset({LOOSE}))
LINES = Settings(only=frozenset({GAP, DOUBLE}))
# Half of the widest line and its longest mitre (SVG 2, 13.5.6: four times as long as wide), as
# planted and drawn in the fixtures, and as the real art is at the size that it gets here.
OWN_MM, ART_MM = 1.2, 6.0
HAIRLINE_MM = 0.5
# The thinnest planted line is a pixel wide: thinner ones the renderer paints up to three quarters
# of a pixel aside, by the last digit of their numbers.
PX_PER_MM = 2.6
# Mean shades of 255. Along lines a last digit makes a few shades, a line that comes or goes 40 and
# more; between lines nothing excuses a change.
ALONG_LINES, BETWEEN_LINES = 24, 6


def _fixed(spoilt: Spoilt, settings: Settings) -> Repaired:
    return repair(spoilt.data, spoilt.name, STRUCTURE, settings)


@some(110)
@given(spoilt((LOOSE,)))
def test_grouping_changes_no_pixel(drawing: Spoilt) -> None:
    copy = _fixed(drawing, GROUPING)
    assert _look_the_same(drawing.data, copy.data, drawing.unseen), drawing.traits


def _look_the_same(before: bytes, after: bytes, unseen: Sequence[Unseen] = ()) -> bool:
    """Whether all pixels are equal; where a path was parted, once both are taken apart by hand.

    What parting it does to the picture as it is may be no more than a last digit does.
    """
    if png(before, unseen) == png(after, unseen):
        return True
    old, new = apart(before, after, unseen), apart(after, before, unseen)
    shades = differing(picture(before, unseen), picture(after, unseen), BETWEEN_LINES)
    return png(old) == png(new) and not shades.any()


FOLDED = """<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="80mm" viewBox="0 0 80 80">
<g fill="none" stroke="#33475b" stroke-width=".36">{}</g></svg>"""


@pytest.mark.parametrize(
    ("parts", "same"),
    [
        (["m10.5 10 20 7-1 2m9 20h 20v9z", "M38.5 39l20 0 0 9z"], False),
        (["m10.5 10 20 7-1 2", "M38.5 39l20 0 0 9z"], True),
        (["M10.5 10 l20 7-1 2", "M38.5 39h20v9z"], True),
        (["m10.5 10 20 7-1 2", "M38.6 39l20 0 0 9z"], False),
        (["m10.5 10 20 7-1 2"], False),
    ],
    ids=["twice", "parted", "parted and written anew", "moved", "lost"],
)
def test_a_parted_path_is_compared_with_one_parted_by_hand(parts: list[str], same: bool) -> None:
    whole = FOLDED.format('<path d="m10.5 10 20 7-1 2m9 20h 20v9z"/>').encode()
    copy = FOLDED.format("".join(f'<path d="{d}"/>' for d in parts)).encode()
    assert _look_the_same(whole, copy) == same
    by_hand = apart(whole, copy)
    assert [line.round(6).tolist() for line in lines_of(by_hand)] == [
        line.round(6).tolist() for line in lines_of(whole)
    ]


@some(32)
@given(spoilt((GAP, DOUBLE)))
def test_joining_and_thinning_change_pixels_at_their_places_only(drawing: Spoilt) -> None:
    copy = _fixed(drawing, LINES)
    assert copy.moved_mm <= HAIRLINE_MM
    _compare(drawing, copy)


@some(20)
@given(spoilt(KINDS))
def test_all_fixes_together_change_pixels_at_their_places_only(drawing: Spoilt) -> None:
    copy = _fixed(drawing, Settings())
    _compare(drawing, copy)


def _compare(drawing: Spoilt, copy: Repaired) -> None:
    """Pixels differ only along lines that the independent reader sees changed."""
    width = round(PX_PER_MM * drawing.page_mm)
    before, after = (picture(data, drawing.unseen, width) for data in (drawing.data, copy.data))
    old, new = lines_of(drawing.data), lines_of(copy.data)
    strip = shapely.box(*drawing.strip).buffer(1)

    def around(lines: npt.NDArray[np.object_]) -> shapely.Geometry:
        own = shapely.contains(strip, lines)
        return shapely.union_all([*lines[own], *shapely.buffer(lines[~own], ART_MM - OWN_MM)])

    changed = around(changed_segments(old, new))
    every = around(np.array([shapely.LineString(line) for line in old + new], dtype=object))
    coarse = differing(before, after, ALONG_LINES)
    assert outside(coarse, drawing.page_mm, changed, OWN_MM) == 0, drawing.traits
    fine = differing(before, after, BETWEEN_LINES)
    assert outside(fine, drawing.page_mm, every, OWN_MM) == 0, drawing.traits


def test_the_comparison_sees_a_line_that_moves() -> None:
    """Half a pixel is seen, and so is what lies a millimetre outside the named places."""
    first, second, third = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm"'
        f' viewBox="0 0 100 100"><path d="M{x} 20V80" stroke="#33475b" stroke-width=".3"/></svg>'
        for x in ("50", "50.05", "50")
    )
    before, after, same = (picture(text.encode()) for text in (first, second, third))
    assert not differing(before, same).any()
    changed = differing(before, after)
    assert changed.any()
    assert outside(changed, 100, shapely.box(50, 20, 50, 80), 0.5) == 0
    assert outside(changed, 100, shapely.box(52, 20, 52, 80), 1) > 0
    assert outside(changed, 100, shapely.box(50, 40, 50, 80), 1) > 0


def _ink(pixels: Pixels) -> int:
    return int((pixels < 250).any(axis=2).sum())


@some(30)
@given(spoilt(KINDS))
def test_what_is_planted_shows(drawing: Spoilt) -> None:
    """The renderer draws the strip: without it, less of the page is inked."""
    scale = picture(drawing.data, drawing.unseen)
    left, top = (max(0, int((v - 2) * scale.shape[1] / drawing.page_mm)) for v in drawing.strip[:2])
    # A pixel a millimetre at the least; doubled lines and gaps between dashes take most of it away.
    assert _ink(scale[top:, left:]) > 0.3 * drawing.length_mm, drawing.traits


WALL = "M20 20H80V80H20Z"
FILL = 'fill="#c8b070" stroke="none"'
NO_WIDTH = 'fill="#ffffff" stroke="#33475b" stroke-width="0"'
NO_EDGE = 'fill="#c8b070" stroke="#c8b070" stroke-width="0.5"'
EDGE = 'fill="none" stroke="#33475b" stroke-width="1"'


@pytest.mark.parametrize("under", [FILL, NO_WIDTH, NO_EDGE])
@pytest.mark.parametrize("beside", ["M20 20L10 10", "M80 50H95"])
def test_an_edge_that_is_seen_stays_where_another_line_only_touches_it(
    under: str, beside: str
) -> None:
    """A filled area has its edge drawn on top; a line at its corner stands for none of it."""
    data = page(path(WALL, under), path(beside, EDGE), path(WALL, EDGE), size=100)
    copy = repair(data, "wall.svg", STRUCTURE, LINES)
    assert all(each.reason for each in copy.not_fixed)
    assert any(each.finding.rule == DOUBLE for each in copy.not_fixed)
    assert not differing(picture(data), picture(copy.data), BETWEEN_LINES).any()
