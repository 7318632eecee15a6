"""Gives a page the size that it was drawn for; no coordinate is touched."""

from __future__ import annotations

from matready.lint.cutting import Cutout
from matready.lint.reading.units import MM_PER_PX, format_number
from matready.lint.repair.declared import Declared
from matready.lint.repair.edits import Edits
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused

_DECIMALS = 4  # a ten-thousandth of a millimetre, over a page of metres


def plan_resize(cutout: Cutout, declared: Declared, ratio: float) -> Plan:
    """How to write the page's true width and height in mm; raises Refused.

    `ratio` is the true size over the size that is read now.
    """
    drawing, page = cutout.drawing, cutout.drawing.page
    root = drawing.source.root
    width, height = page.width_px, page.height_px
    if not width or not height:
        raise Refused("the page has no size to begin with")
    if {"width", "height"} & declared.of(root).keys():
        raise Refused("a style rule gives the page its size")
    sides = [format_number(px * MM_PER_PX * ratio, _DECIMALS) for px in (width, height)]
    box = [format_number(px, 6) for px in (width, height)]

    def enter(edits: Edits) -> None:
        edits.set(root, "width", f"{sides[0]}mm")
        edits.set(root, "height", f"{sides[1]}mm")
        if page.view_box is None:
            edits.set(root, "viewBox", f"0 0 {box[0]} {box[1]}")

    everything = frozenset(range(len(drawing.line_node)))
    return Plan(everything, f"the page was given its size, {sides[0]} × {sides[1]} mm", enter)
