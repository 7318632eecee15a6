"""Stocks: their numbers against published ones, how limits follow, and which of them wins."""

from __future__ import annotations

import dataclasses
import pickle
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.runner import lint_bytes
from matready.lint.settings import BadSettings, Settings, SettingsFinder
from matready.lint.stocks import CARD_200, DESCRIBED, LIMITS, NUMBERS, STOCKS, named_stock, stock_of
from matready.rules import RULES

from tests.drawn import page, path

# US Government Paper Specification Standards, JCP K10 (index card): g/m², mm, and what it may vary.
INDEX_CARD = [(165, 0.190, 0.013), (200, 0.230, 0.013), (255, 0.290, 0.013), (305, 0.350, 0.020)]

# Folding box board in a published study of crease grooves: g/m² and mm.
BOX_BOARD = {280: 0.35, 350: 0.44}

# What the rules are documented to ask of card stock where nothing is set.
USUAL = {
    "piece_mm": 3.0,
    "hole_mm": 1.0,
    "slot_mm": 0.5,
    "bridge_mm": 1.0,
    "least_cut_share": 0.5,
    "most_cut_share": 0.8,
    "tie_mm": 0.5,
}


@pytest.mark.parametrize(("grammage", "thickness", "tolerance"), INDEX_CARD)
def test_thickness_follows_from_grammage_as_published_for_index_card(
    grammage: float, thickness: float, tolerance: float
) -> None:
    made = stock_of("index", grammage, None).thickness_mm
    assert abs(made - thickness) <= tolerance
    # ISO 534: bulk in cm³/g is thickness in µm over grammage in g/m².
    assert made * 1000 / grammage == pytest.approx(1.15, abs=0.005)


def test_built_in_cards_are_as_thick_as_index_card_of_their_weight() -> None:
    for name in ("card-160", "card-200", "card-250", "card-300"):
        stock = STOCKS[name]
        near, thickness, tolerance = min(
            INDEX_CARD, key=lambda row: abs(row[0] - stock.grammage_g_m2)
        )
        assert abs(stock.thickness_mm - thickness * stock.grammage_g_m2 / near) <= tolerance


def test_boards_are_as_thick_as_published() -> None:
    for name in ("kraft-280", "board-350"):
        stock = STOCKS[name]
        assert stock.thickness_mm == BOX_BOARD[int(stock.grammage_g_m2)]


def test_110_lb_index_is_the_usual_card() -> None:
    # Basis weight: a ream of 500 sheets of 25.5 x 30.5 in weighs 110 lb of 453.59237 g.
    grammage = 110 * 453.59237 / (500 * 25.5 * 30.5 * 0.0254**2)
    assert grammage == pytest.approx(CARD_200.grammage_g_m2, rel=0.01)
    assert CARD_200.thickness_mm == 0.23


def test_the_usual_card_has_the_limits_that_rules_have_without_a_stock() -> None:
    assert {name: getattr(CARD_200, name) for name in LIMITS} == USUAL
    assert Settings().stock == CARD_200
    for rule in RULES:
        assert Settings().limits(rule) == rule.limits()
        for default, limit in rule.described_limits().values():
            if limit.stock:
                assert limit.stock in NUMBERS
                assert getattr(CARD_200, limit.stock) == default
                assert DESCRIBED[limit.stock].unit == limit.unit


def test_each_name_tells_the_grammage_and_each_number_its_source() -> None:
    for name, stock in STOCKS.items():
        assert (name, name.rpartition("-")[2]) == (stock.name, f"{stock.grammage_g_m2:g}")
        assert len(stock.source) > 10
    assert all(len(limit.source) > 10 for limit in DESCRIBED.values())
    assert [field.name for field in dataclasses.fields(CARD_200)] == ["name", "source", *NUMBERS]


def test_limits_follow_from_the_thickness_as_their_sources_say() -> None:
    twice = stock_of("thick", None, 2 * CARD_200.thickness_mm)
    assert (twice.piece_mm, twice.hole_mm, twice.bridge_mm) == (4.5, 1.5, 1.5)
    assert twice.slot_mm == 0.5
    assert stock_of("felt", None, 0.9).slot_mm == 0.9  # as wide as it is thick, and no narrower
    thin = STOCKS["paper-80"]
    assert (thin.bridge_mm, thin.least_cut_share) == (1.0, 0.25)
    assert thin.piece_mm >= 2.0  # what published knife-cutting services ask for in vinyl


@given(st.floats(0.02, 5), st.floats(0.02, 5))
def test_a_thicker_stock_never_asks_for_less(one: float, other: float) -> None:
    thin, thick = (stock_of("x", None, thickness) for thickness in sorted((one, other)))
    for name in ("piece_mm", "hole_mm", "slot_mm", "bridge_mm", "least_cut_share"):
        assert getattr(thin, name) <= getattr(thick, name)
    for stock in (thin, thick):
        assert 0.5 <= stock.slot_mm <= stock.hole_mm < stock.piece_mm
        assert stock.bridge_mm >= 1.0
        assert stock.least_cut_share < stock.most_cut_share


def test_every_stock_reaches_every_rule_that_asks() -> None:
    for stock in STOCKS.values():
        settings = pickle.loads(pickle.dumps(Settings(stock=stock)))  # noqa: S301
        for rule in RULES:
            limits = settings.limits(rule)
            for name, (_, limit) in rule.described_limits().items():
                if limit.stock:
                    assert getattr(limits, name) == getattr(stock, limit.stock)


# Stocks of one's own


def _finder(folder: Path, text: str) -> SettingsFinder:
    (folder / "matready.toml").write_text(text)
    return SettingsFinder(None, RULES)


def test_a_stock_of_ones_own_may_give_its_weight_its_thickness_or_both(tmp_path: Path) -> None:
    stocks = (
        _finder(
            tmp_path,
            """
            [stocks.by-weight]
            grammage_g_m2 = 300
            [stocks.by-thickness]
            thickness_mm = 0.46
            [stocks.both]
            grammage_g_m2 = 120
            thickness_mm = 0.1
            """,
        )
        .for_file(tmp_path / "x.svg")
        .stocks
    )
    assert stocks["by-weight"].thickness_mm == STOCKS["card-300"].thickness_mm
    assert stocks["by-thickness"].grammage_g_m2 == 400
    assert stocks["by-thickness"].piece_mm == 4.5
    assert (stocks["both"].grammage_g_m2, stocks["both"].thickness_mm) == (120, 0.1)
    assert stocks["both"].source == f"{tmp_path / 'matready.toml'}, [stocks.both]"


def test_a_stock_starts_from_the_one_it_is_like(tmp_path: Path) -> None:
    stocks = (
        _finder(
            tmp_path,
            """
            [stocks.sturdy]
            like = "mine"
            thickness_mm = 0.46
            [stocks.mine]
            like = "card-200"
            tie_mm = 0.7
            [stocks.board]
            like = "kraft-280"
            grammage_g_m2 = 400
            """,
        )
        .for_file(tmp_path / "x.svg")
        .stocks
    )
    mine, sturdy = stocks["mine"], stocks["sturdy"]
    assert mine == dataclasses.replace(CARD_200, name="mine", source=mine.source, tie_mm=0.7)
    # What was written is kept, what followed from the thickness follows from the new one.
    assert (sturdy.tie_mm, sturdy.piece_mm, sturdy.thickness_mm) == (0.7, 4.5, 0.46)
    assert stocks["board"].thickness_mm == 0.5  # 400 g/m² at the bulk of kraft-280, 1.25 cm³/g


# Which number wins


def _piece(settings: Settings) -> tuple[float, float]:
    (rule,) = (rule for rule in RULES if rule.name == "undersize-piece")
    limits = settings.limits(rule)
    return limits.piece_mm, limits.hole_mm


def test_stock_then_rule_then_rule_for_some_files(tmp_path: Path) -> None:
    text = """
    [[files]]
    match = "stocked/*"
    stock = "card-300"
    [[files]]
    match = "ruled/*"
    stock = "card-300"
    [files.rules.undersize-piece]
    piece_mm = 2.5
    """
    finder = _finder(tmp_path, text)
    assert _piece(finder.for_file(tmp_path / "x.svg")) == (3.0, 1.0)
    assert _piece(finder.for_file(tmp_path / "stocked" / "x.svg")) == (3.8, 1.2)
    assert _piece(finder.for_file(tmp_path / "ruled" / "x.svg")) == (2.5, 1.2)
    finder = _finder(tmp_path, f"[rules.undersize-piece]\npiece_mm = 4\n{text}")
    assert _piece(finder.for_file(tmp_path / "x.svg")) == (4.0, 1.0)
    # A rule's own number is the more particular word, wherever the stock is named.
    assert _piece(finder.for_file(tmp_path / "stocked" / "x.svg")) == (4.0, 1.2)
    assert _piece(finder.for_file(tmp_path / "ruled" / "x.svg")) == (2.5, 1.2)


def test_a_drawing_is_judged_by_its_stock() -> None:
    # A strip of 3.3 mm is wide enough in card-200 (3 mm) and not in card-300 (3.8 mm).
    drawing = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
        b'viewBox="0 0 100 100"><title>A rod</title><rect id="rod" x="10" y="10" width="80" '
        b'height="3.3" fill="none" stroke="#000"/></svg>'
    )
    found = {
        name: [
            one.rule
            for one in lint_bytes(drawing, "rod.svg", RULES, Settings(stock=STOCKS[name])).findings
            if one.rule == "undersize-piece"
        ]
        for name in ("card-200", "card-300")
    }
    assert found == {"card-200": [], "card-300": ["undersize-piece"]}


def test_a_slot_is_held_to_the_thickness_of_its_stock() -> None:
    # A slot of 0.7 x 8 mm is wide enough in board of 0.44 mm and not in board of 0.8 mm.
    drawing = page(path("M20 20h60v60h-60z M30 40h8v0.7h-8z", name="wall"))
    for stock, limit in ((STOCKS["board-350"], None), (stock_of("mill-board", None, 0.8), 0.8)):
        settings = Settings(stock=stock, only=frozenset(["undersize-piece"]))
        found = lint_bytes(drawing, "wall.svg", RULES, settings).findings
        assert [one.measured.limit for one in found if one.measured] == ([limit] if limit else [])


def test_a_name_that_no_stock_has_is_told_with_the_nearest() -> None:
    with pytest.raises(ValueError, match='"card-220"; the nearest is "card-200"'):
        named_stock("card-220", {})
    nearer = {"card-310": "card-300", "Card-10": "card-160", "kraft": "kraft-280"}
    for name, near in nearer.items():
        with pytest.raises(ValueError, match=f'the nearest is "{near}"'):
            named_stock(name, {})
    # Where none is like it, all are told.
    with pytest.raises(ValueError, match=r'"a-9"; there are paper-80, .*, board-350, felt$'):
        named_stock("a-9", {"felt": stock_of("felt", None, 0.9)})
    mine = stock_of("card-225", 225, None)
    assert named_stock("card-225", {"card-225": mine}) is mine


def test_a_stock_of_another_settings_file_is_not_known(tmp_path: Path) -> None:
    (tmp_path / "set").mkdir()
    (tmp_path / "set" / "matready.toml").write_text('stock = "felt"')
    finder = _finder(tmp_path, "[stocks.felt]\nthickness_mm = 1")
    with pytest.raises(BadSettings, match='stock: no stock is named "felt"'):
        finder.for_file(tmp_path / "set" / "x.svg")
