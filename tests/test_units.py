"""Lengths: CSS Values and Units 3, "Absolute lengths"; SVG 2, 8.9 and 8.3."""

from __future__ import annotations

import pytest
import svgelements
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.reading.units import (
    MM_PER_PX,
    Extent,
    Length,
    parse_length,
    parse_numbers,
    to_user,
)


def px(text: str, percent_of: float | None = None, font_px: float = 16.0) -> float:
    length = parse_length(text)
    assert length is not None
    size = to_user(length, percent_of, font_px)
    assert size is not None
    return size


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # CSS Values 3, table of absolute lengths: 1in = 2.54cm = 96px, 1Q = 1/40 cm, 1pc = 1/6 in.
        ("1in", 96),
        ("10mm", 37.795276),
        ("1cm", 37.795276),
        ("1pt", 1.333333),
        ("1pc", 16),
        ("1Q", 0.944882),
        ("12in", 1152),
        ("210mm", 793.7008),
        ("297mm", 1122.5197),
        # Unit names are ASCII case-insensitive (CSS Values 3).
        ("1IN", 96),
        ("10MM", 37.795276),
        ("1q", 0.944882),
        ("300", 300),
        ("-.5e1px", -5),
        (" 1e2 ", 100),
        ("5.", 5),
    ],
)
def test_absolute_lengths_have_the_sizes_of_css(text: str, expected: float) -> None:
    assert px(text) == pytest.approx(expected, rel=1e-6)


def test_one_px_is_254_over_960_mm() -> None:
    assert px("12in") * MM_PER_PX == pytest.approx(304.8, abs=1e-12)


def test_percentages_of_neither_side_are_of_the_diagonal_over_root_two() -> None:
    # SVG 2, 8.9: 1% in a viewport of 4000 by 2000 is 31.62 user units.
    extent = Extent(4000, 2000)
    assert px("1%", extent.diagonal) == pytest.approx(31.622777, abs=1e-6)
    assert px("25%", extent.width) == 1000
    assert Extent(None, 2000).diagonal is None
    assert to_user(Length(1.0, "%"), None) is None


def test_font_relative_lengths_follow_the_font_size() -> None:
    # CSS Values 3, 6.1.1: em is the font size; ex and ch count as half an em where unmeasured.
    assert (px("2em", font_px=10), px("2ex", font_px=10), px("2ch", font_px=10)) == (20, 10, 10)
    assert px("2rem", font_px=10) == 32


@pytest.mark.parametrize(
    "text",
    [
        "",
        "auto",
        "1 mm",
        "1_0",
        "inf",
        "NaN",
        "١",
        "1e999",
        "0x10",
        "1vw",
        "5furlongs",
        "--1",
        "1,",
    ],
)
def test_what_is_no_length_is_none(text: str) -> None:
    assert parse_length(text) is None


@given(st.floats(-1e6, 1e6), st.sampled_from(["", "px", "mm", "cm", "in", "pt", "pc"]))
def test_lengths_agree_with_an_independent_library(number: float, unit: str) -> None:
    # That library writes its millimetre as 0.0393701 in, which is 1 in 2 million off.
    text = f"{number:.6f}{unit}"
    assert px(text) == pytest.approx(float(svgelements.Length(text).value(ppi=96)), rel=1e-6)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Number lists split as path data do (SVG 2, 9.3.9; CSS Transforms 1, 7.1).
        ("1 2,3 , 4", (1, 2, 3, 4)),
        ("1-2+3", (1, -2, 3)),
        ("1.5.5", (1.5, 0.5)),
        ("1e2-3", (100, -3)),
        ("1,,2", None),
        ("1 2,", None),
        ("12px", None),
        ("", None),
        ("1e999", None),
        ("nan", None),
    ],
)
def test_number_lists(text: str, expected: tuple[float, ...] | None) -> None:
    assert parse_numbers(text) == expected


def test_a_long_broken_list_is_refused_at_once() -> None:
    assert parse_numbers("1.5 " * 50_000 + "x") is None
