"""What is just as large as its paper fits, and what is a little larger does not and says why.

svgpathtools tells how far curves reach; what fits into a rectangle is plane geometry.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from svgpathtools import parse_path

from matready.lint.inspection import Inspection, inspect_source
from matready.lint.settings import Settings
from matready.lint.sheets.papers import Paper, Sheet, Turn
from matready.lint.sheets.parts import Part
from matready.lint.sheets.planning import Layout, Plan, plan
from matready.lint.sheets.room import room_of
from matready.lint.sheets.taking import parts_of
from matready.lint.source import read_source

from tests.drawn import page, path

FLATTEN_MM = 0.01
ROUNDED_MM = 0.002  # more than all that is forgiven for the rounding of drawings


def one_part(d: str) -> Part:
    """The one part of a drawing with one path."""
    source = read_source(page(path(d, name="net"), size=900), "net.svg")
    cutout = inspect_source(source, (), Settings()).cutout
    (part,) = parts_of(Inspection(cutout, ()), Settings()).parts
    return part


def laid(d: str, sheet: tuple[float, float], margin_mm: float, turn: Turn = "quarter") -> Plan:
    """A part on one paper."""
    part = replace(one_part(d), paper="p")
    layout = Layout((900, 900), margin_mm, 1.0, FLATTEN_MM, turn, 0.0, 0)
    return plan([part], [Paper("p", (Sheet(*sheet),))], layout)


def panel(width: float, height: float, corner: float) -> str:
    """A panel with straight sides and round corners, none where their radius is 0."""
    across, down, arc = width - 2 * corner, height - 2 * corner, f"a{corner} {corner} 0 0 1"
    return (
        f"M{20 + corner} 30h{across}{arc} {corner} {corner}v{down}{arc} {-corner} {corner}"
        f"h{-across}{arc} {-corner} {-corner}v{-down}{arc} {corner} {-corner}Z"
    )


@settings(max_examples=12, deadline=None)
@given(
    st.floats(30, 400).map(lambda side: round(side, 3)),
    st.floats(30, 400).map(lambda side: round(side, 3)),
    st.floats(0, 12).map(lambda margin: round(margin, 2)),
    st.sampled_from([0, 5]),
    st.booleans(),
)
def test_a_panel_as_large_as_the_space_fits_and_a_larger_one_does_not(
    width: float, height: float, margin_mm: float, corner: int, turned: bool
) -> None:
    sheet = (width + 2 * margin_mm, height + 2 * margin_mm)
    if turned:
        sheet = sheet[::-1]
    assert laid(panel(width, height, corner), sheet, margin_mm).refusals == ()
    for larger in ((width + 0.02, height), (width, height + 0.02)):
        (refusal,) = laid(panel(*larger, corner), sheet, margin_mm).refusals
        told = [float(number) for number in re.findall(r"[0-9]+\.[0-9]+", refusal.reason)]
        sides, space = sorted(told[:2]), sorted(told[2:])
        assert any(side > room for side, room in zip(sides, space, strict=True)), refusal.reason


@pytest.mark.parametrize(
    "d",
    [
        "M100 100C150 20 250 180 300 100C280 220 180 90 100 100Z",
        "M100 100Q180 10 260 100Q180 300 100 100Z",
        "M100 100A80 30 25 0 1 230 160A80 60 25 0 1 100 100Z",
        "M100 100a50 50 0 1 1 0.001 0Z",
    ],
)
def test_what_has_curves_ends_where_its_curves_do(d: str) -> None:
    x0, x1, y0, y1 = parse_path(d).bbox()
    part = one_part(d)
    room = room_of(part, FLATTEN_MM)
    assert np.abs(np.subtract(room.bounds, (x0, y0, x1, y1))).max() < 1e-6
    assert room.buffer(1e-9).covers(part.shape), "and all of its card is in it"
    size = (x1 - x0 + 10, y1 - y0 + 10)
    assert laid(d, size, 5.0, "none").refusals == ()
    (refusal,) = laid(d, (size[0] - 2 * ROUNDED_MM, size[1]), 5.0, "none").refusals
    assert f"{x1 - x0:.3f}" in refusal.reason
