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


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
@pytest.mark.parametrize(("share", "told"), [(0.85, True), (1.1, False)])
def test_a_slot_is_as_wide_as_its_stock_is_thick(stock: Stock, share: float, told: bool) -> None:
    """Published for laser-cut paper: slots as wide as the paper is thick, and 0.51 mm in 80 lb."""
    wide = share * max(0.508, stock.thickness_mm)
    assert stock.slot_mm >= stock.thickness_mm
    settings = Settings(stock=stock, only=frozenset(["undersize-piece"]))
    wall = path(f"M20 20h60v60h-60z M30 40h8v{wide}h-8z", name="wall")
    found = lint_bytes(page(wall), "wall.svg", RULES, settings).findings
    assert bool(found) == told


@pytest.mark.parametrize(
    ("d", "told"),
    # A tip that trails by d settles on no way shorter than 4 pi d, 3.1 mm for the usual 0.25 mm
    # (tractrix, computed): the circle of 1 mm is that long. A slot of 0.55 x 2.5 mm is 6.1 mm long,
    # and a hole of 0.55 x 0.8 mm, 2.7 mm around, is not.
    [
        ("M30 40h2.5v0.55h-2.5z", False),
        ("M30 40h0.8v0.55h-0.8z", True),
        ("M30 40a0.53 0.53 0 0 0 1.06 0a0.53 0.53 0 0 0 -1.06 0z", False),
        ("M30 40a0.45 0.45 0 0 0 0.9 0a0.45 0.45 0 0 0 -0.9 0z", True),
    ],
)
def test_the_blade_settles_on_its_way_round_a_hole(d: str, told: bool) -> None:
    assert _says("undersize-piece", path(f"M20 20h60v60h-60z {d}", name="wall")) == told


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
    """A panel with a tail that ends in a bend."""
    end = f"v{30 - radius:.4f}h40a{radius} {radius} 0 0 1 0 {2 * radius}h-40v{30 - radius:.4f}"
    return path(f"M20 20h50{end}h-50z", name="panel")


def test_a_notch_may_be_as_sharp_as_a_scallop_makes_it() -> None:
    """Half circles side by side meet in a cusp of no angle; common practice, no source."""
    scallops = "a5 5 0 0 1 -10 0" * 6
    assert not _says("sharp-tip", path(f"M20 20h60v30{scallops}z", name="curtain"))
    lace = "a5 5 0 0 0 -10 0" * 6  # the same half circles bite in: now the cusps are of card
    assert _says("sharp-tip", path(f"M20 20h60v30{lace}z", name="curtain"))


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
