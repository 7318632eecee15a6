"""The limits of rules on shape against published numbers of the trade, on both sides of each."""

from __future__ import annotations

from math import radians, tan

import pytest

from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.lint.stocks import STOCKS, Stock
from matready.rules import RULES

from tests.drawn import CUT, page, path, rules_of


def _says(rule: str, *body: str) -> bool:
    only = Settings(only=frozenset([rule]))
    return rule in rules_of(lint_bytes(page(*body), "sheet.svg", RULES, only))


@pytest.mark.parametrize(("apart", "told"), [(1.9, True), (2.1, False), (5.0, False)])
def test_pieces_keep_the_room_that_cutting_services_ask_for(apart: float, told: bool) -> None:
    """2 mm between cuts on a sheet, 5 mm in board: published by knife-cutting services."""
    walls = path("M20 20h40v40h-40z", name="wall"), path(f"M{60 + apart} 20h40v40h-40z", name="lid")
    assert _says("crowded-cuts", *walls) == told


@pytest.mark.parametrize(
    ("wide", "told"),
    # Strokes of 0.46 mm (0.018 in) were dragged off even by new blades: a published test of how
    # small letters can be cut. A stencil bridge of 1.27 mm (0.05 in) is the smallest that is
    # offered, as an exception: the guide of a stencil maker.
    [(0.46, True), (1.27, False)],
)
def test_a_bridge_is_as_wide_as_others_found_that_it_has_to_be(wide: float, told: bool) -> None:
    frame = f"M20 20h100v60h-100z M30 30h38v40h-38z M{68 + wide} 30h40v40h-40z"
    assert _says("thin-bridge", path(frame, name="frame")) == told


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
def test_no_bridge_may_be_narrower_than_its_card_is_thick(stock: Stock) -> None:
    """Published for laser-cut paper, where nothing drags: standing parts as wide as thick."""
    assert stock.bridge_mm > stock.thickness_mm
    assert stock.hole_mm > stock.thickness_mm


@pytest.mark.parametrize(("degrees", "told"), [(15, True), (25, False), (36, False)])
def test_a_star_of_five_points_is_not_too_sharp(degrees: float, told: bool) -> None:
    """A regular pentagram has tips of 36 degrees."""
    half = 60 * tan(radians(degrees) / 2)
    pennant = path(f"M20 {100 - half}L80 100L20 {100 + half}Z", name="pennant")
    assert _says("sharp-tip", pennant) == told


@pytest.mark.parametrize(
    ("radius", "told"),
    # The tip of a drag blade trails its axis by 0.175 to 1 mm, most often 0.25: blade makers.
    [(0.15, True), (0.3, False)],
)
def test_a_hairpin_is_no_tighter_than_a_blade_can_swing(radius: float, told: bool) -> None:
    assert _says("sharp-tip", _hairpin(radius)) == told


def _hairpin(radius: float) -> str:
    slot = f"M20 20h100v60h-100v{radius - 30:.4f}h40a{radius} {radius} 0 0 0 0 {-2 * radius}h-40z"
    return path(slot, name="panel")


@pytest.mark.parametrize("limit", [0.15, 0.25, 0.4, 0.6, 1.0])
@pytest.mark.parametrize(("share", "told"), [(0.6, True), (0.92, True), (1.08, False)])
def test_the_radius_of_a_hairpin_is_what_it_is_held_to(
    limit: float, share: float, told: bool
) -> None:
    settings = Settings(only=frozenset(["sharp-tip"]), rules={"sharp-tip": {"radius_mm": limit}})
    found = lint_bytes(page(_hairpin(limit * share)), "sheet.svg", RULES, settings).findings
    assert bool(found) == told


@pytest.mark.parametrize(("width", "told"), [(0.2, False), (0.9, False), (1.1, True)])
def test_hairlines_are_never_thick(width: float, told: bool) -> None:
    """Published guides of cutting services ask for hairlines, up to 0.2 mm."""
    style = f'{CUT} stroke-width="{width}"'
    assert _says("thick-line", path("M20 20h100v60h-100z", style, "panel")) == told
