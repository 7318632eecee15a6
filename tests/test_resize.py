"""A page that is given its size: a known page's own sides, and every line at the scale it was read.

References: ISO 216 and CSS Paged Media 3 for the sides of pages; svgelements 1.9.6 tells where the
lines of the copies lie in mm.
"""

from __future__ import annotations

import io

import pytest
import svgelements
from lxml import etree

from matready.lint.repair import repair
from matready.lint.settings import Settings
from matready.rules import RULES

POINT_MM, AT_90_MM = 25.4 / 72, 25.4 / 90


@pytest.mark.parametrize(
    ("head", "size", "unit_mm"),
    [
        # ISO 216: A4 is 210 x 297 mm, A5 148 x 210 mm; as programs round them.
        ('width="595.28" height="419.53"', ("210mm", "148mm"), POINT_MM),
        ('width="595" height="842"', ("210mm", "297mm"), POINT_MM),
        ('width="595" height="420" viewBox="0 0 595 420"', ("210mm", "148mm"), POINT_MM),
        ('width="595" height="420" viewBox="9 9 1190 840"', ("210mm", "148mm"), POINT_MM / 2),
        ('width="744" height="1052"', ("210mm", "297mm"), AT_90_MM),
        # CSS Paged Media 3: Letter is 8.5 x 11 in.
        ('width="612" height="792"', ("215.9mm", "279.4mm"), POINT_MM),
        # A page of sides of its own, near those of A4: 8.3 x 11.7 in, and that is what it stays.
        ('width="8.3" height="11.7" viewBox="0 0 830 1170"', ("210.82mm", "297.18mm"), 0.254),
        # What is drawn has room left beside it, which would grow: the size stays as it was read.
        ('width="595" height="842" viewBox="0 0 595 595"', ("209.9028mm", "297.0389mm"), POINT_MM),
    ],
)
def test_a_page_gets_its_own_sides_and_no_line_another_scale(
    head: str, size: tuple[str, str], unit_mm: float
) -> None:
    wall = '<path d="M80 60H480V360H80Z" fill="none" stroke="#33475b"/>'
    sheet = f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{wall}</svg>'
    copy = repair(sheet.encode(), "wall.svg", RULES, Settings(), reshape=True)
    root = etree.fromstring(copy.data)
    assert (root.get("width"), root.get("height")) == size
    (path,) = svgelements.SVG.parse(io.BytesIO(copy.data), ppi=25.4).select(
        lambda element: isinstance(element, svgelements.Path)
    )
    x0, y0, x1, y1 = path.bbox()
    assert (x1 - x0, y1 - y0) == pytest.approx((400 * unit_mm, 300 * unit_mm), rel=2e-5)


def test_a_length_that_is_a_share_of_the_page_stays_as_long_as_it_was() -> None:
    sheet = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="595" height="842">'
        '<rect width="50%" height="50%" fill="none" stroke="#33475b"/></svg>'
    )
    copy = repair(sheet.encode(), "wall.svg", RULES, Settings(), reshape=True)
    assert b'width="209.9028mm" height="297.0389mm" viewBox="0 0 595 842"' in copy.data
