"""Gives a page the size that it was drawn for; no coordinate is touched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matready.lint.acts import Resize
from matready.lint.cutting import Cutout
from matready.lint.drawing import Page
from matready.lint.reading.units import MM_PER_PX, format_number
from matready.lint.repair.declared import Declared
from matready.lint.repair.edits import Edits
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused

if TYPE_CHECKING:
    from lxml.etree import _Element

_DECIMALS = 4  # a ten-thousandth of a millimetre, over a page of metres
_AS_IS_MM = 0.002  # so much of a page of points told to two decimals is rounding
_FILLED = 1e-6  # sides of one ratio, as far as numbers in a file tell it


def plan_resize(cutout: Cutout, declared: Declared, act: Resize) -> Plan:
    """How to write the page's true width and height in mm; raises Refused."""
    drawing, page = cutout.drawing, cutout.drawing.page
    root = drawing.source.root
    width, height = page.width_px, page.height_px
    if not width or not height:
        raise Refused("the page has no size to begin with")
    if {"width", "height"} & declared.of(root).keys():
        raise Refused("a style rule gives the page its size")
    true_mm = width * MM_PER_PX * act.ratio, height * MM_PER_PX * act.ratio
    page_mm = act.size_mm if act.size_mm and _fills(page, root) else true_mm
    sides = [format_number(side_mm, _DECIMALS) for side_mm in page_mm]
    x, y, *box = page.view_box or (0.0, 0.0, width, height)
    off_mm = max(abs(side_mm - other) for side_mm, other in zip(page_mm, true_mm, strict=True))
    if off_mm > _AS_IS_MM:
        # The sheet gets its margin back that was rounded away, and no line another scale.
        box = [n * page_mm[k] / true_mm[k] for k, n in enumerate(box)]
    shown = " ".join(format_number(n, 6) for n in (x, y, *box))

    def enter(edits: Edits) -> None:
        edits.set(root, "width", f"{sides[0]}mm")
        edits.set(root, "height", f"{sides[1]}mm")
        if page.view_box is None or off_mm > _AS_IS_MM:
            edits.set(root, "viewBox", shown)

    everything = frozenset(range(len(drawing.line_node)))
    return Plan(everything, f"the page was given its size, {sides[0]} × {sides[1]} mm", enter)


def _fills(page: Page, root: _Element) -> bool:
    """Whether the viewBox fills the page both ways and no length is a share of it.

    Only then can both get a margin and nothing that is drawn move or grow.
    """
    if any(
        "%" in value for element in root.iterdescendants("*") for value in element.attrib.values()
    ):
        return False
    if page.view_box is None:
        return True
    assert page.width_px and page.height_px
    across, down = page.width_px / page.view_box[2], page.height_px / page.view_box[3]
    return abs(across / down - 1) < _FILLED
