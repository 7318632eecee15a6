"""Transforms: CSS Transforms 1, sections 7 to 9, and a library written independently."""

from __future__ import annotations

from contextlib import suppress
from math import cos, radians, sin, tan

import pytest
import svgelements
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.reading.transforms import (
    IDENTITY,
    BadTransform,
    Matrix,
    is_flat,
    multiply,
    parse_css_transform,
    parse_origin,
    parse_transform,
)
from matready.lint.reading.units import Extent

PAGE = Extent(200, 100)
C30, S30 = cos(radians(30)), sin(radians(30))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # The matrices of the six functions (SVG 1.1, 7.6; CSS Transforms 1, 9).
        ("matrix(1 2 3 4 5 6)", (1, 2, 3, 4, 5, 6)),
        ("translate(3)", (1, 0, 0, 1, 3, 0)),
        ("translate(3,-4)", (1, 0, 0, 1, 3, -4)),
        ("scale(2)", (2, 0, 0, 2, 0, 0)),
        ("scale(2 -1)", (2, 0, 0, -1, 0, 0)),
        ("rotate(30)", (C30, S30, -S30, C30, 0, 0)),
        ("skewX(30)", (1, 0, tan(radians(30)), 1, 0, 0)),
        ("skewY(30)", (1, tan(radians(30)), 0, 1, 0, 0)),
        # Rotation about a point: translate(cx, cy) rotate(a) translate(-cx, -cy).
        ("rotate(90 10 20)", (0, 1, -1, 0, 30, 10)),
        # SVG 1.1, 7.5, the nested example, which prints .707 and 255.03, 111.21 made from it.
        ("translate(50,90) rotate(-45) translate(130,160)", (0.7071068, -0.7071068, 0.7071068,
                                                             0.7071068, 255.0609665, 111.2132034)),
        ("  translate(1 2)\n,scale(2)\t", (2, 0, 0, 2, 1, 2)),
        ("rotate(90)rotate(-450)", (1, 0, 0, 1, 0, 0)),
        ("translate(1-2)", (1, 0, 0, 1, 1, -2)),
        ("", IDENTITY),
        ("none", IDENTITY),
    ],
)  # fmt: skip
def test_the_attribute_reads_every_function(text: str, expected: Matrix) -> None:
    assert parse_transform(text) == pytest.approx(expected, abs=1e-6)


def test_quarter_turns_are_exact() -> None:
    for turns, expected in enumerate([(1, 0), (0, 1), (-1, 0), (0, -1)]):
        for whole in (-720, 0, 360):
            a, b, c, d, _, _ = parse_transform(f"rotate({90 * turns + whole})")
            assert (a, b, c, d) == (*expected, -expected[1], expected[0])


@pytest.mark.parametrize(
    "text",
    [
        "rotate(45deg)",
        "translate(1 2 3)",
        "scale()",
        "rotate(1 2)",
        "matrix(1 2 3 4 5)",
        "translate(NaN)",
        "translate(1e999)",
        "twist(3)",
        "translate(1",
        "translate 1",
        "translate((1))",
        "Rotate(3)",
        "skewx(3)",
    ],
)
def test_a_list_in_error_is_refused_whole(text: str) -> None:
    with pytest.raises(BadTransform):
        parse_transform("scale(2) " + text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("none", IDENTITY),
        ("translate(1in, 50%)", (1, 0, 0, 1, 96, 50)),
        ("translateX(10%) translateY(2em)", (1, 0, 0, 1, 20, 20)),
        ("rotate(.25turn)", (0, 1, -1, 0, 0, 0)),
        ("rotate(100grad)", (0, 1, -1, 0, 0, 0)),
        ("ROTATE(30deg)", (C30, S30, -S30, C30, 0, 0)),
        ("rotate(0)", IDENTITY),
        ("scale(2, 50%)", (2, 0, 0, 0.5, 0, 0)),
        ("scaleX(2) scaleY(3)", (2, 0, 0, 3, 0, 0)),
        ("skew(30deg)", (1, 0, tan(radians(30)), 1, 0, 0)),
        ("skew(0, 30deg)", (1, tan(radians(30)), 0, 1, 0, 0)),
        ("skewX(30deg)", (1, 0, tan(radians(30)), 1, 0, 0)),
        ("skewY(0.5235987755982988rad)", (1, tan(radians(30)), 0, 1, 0, 0)),
        ("matrix(1, 2, 3, 4, 5, 6)", (1, 2, 3, 4, 5, 6)),
        ("translate(10px, 5mm) rotate(0.25turn)", (0, 1, -1, 0, 10, 18.8976378)),
    ],
)
def test_the_property_reads_units_and_percentages(text: str, expected: Matrix) -> None:
    assert parse_css_transform(text, PAGE, font_px=10) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    "text",
    ["rotate(45)", "translate(10)", "translate(1px 2px)", "scale(1px)", "rotate(1e308turn)",
     "skewX(1deg, 2deg)", "translateX(1px, 2px)", "perspective(3px)", "matrix(1,2,3)", "scale()"],
)  # fmt: skip
def test_the_property_needs_units_and_commas(text: str) -> None:
    with pytest.raises(BadTransform):
        parse_css_transform(text, PAGE)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # CSS Transforms 1, 5: keywords are percentages; one value leaves the other at center.
        ("10px 20px", (10, 20)),
        ("50% 50%", (100, 50)),
        ("left top", (0, 0)),
        ("top left", (0, 0)),
        ("bottom", (100, 100)),
        ("right", (200, 50)),
        ("center 1mm", (100, 3.7795276)),
        ("5 6", (5, 6)),
        ("1px 2px 3px", (1, 2)),
    ],
)
def test_origins(text: str, expected: tuple[float, float]) -> None:
    assert parse_origin(text, PAGE) == pytest.approx(expected)


@pytest.mark.parametrize("text", ["", "left right", "top bottom", "a b", "1px 2px 3px 4px"])
def test_origins_in_error_are_refused(text: str) -> None:
    with pytest.raises(BadTransform):
        parse_origin(text, PAGE)


NUMBERS = st.floats(-1000, 1000).map(lambda number: f"{number:.4f}")
CALLS = st.one_of(
    st.builds("matrix({},{} {} {}, {} {})".format, *[NUMBERS] * 6),
    st.builds("translate({} {})".format, NUMBERS, NUMBERS),
    st.builds("scale({},{})".format, NUMBERS, NUMBERS),
    st.builds("scale({})".format, NUMBERS),
    st.builds("rotate({})".format, NUMBERS),
    st.builds("rotate({},{},{})".format, NUMBERS, NUMBERS, NUMBERS),
    st.builds("skewX({})".format, st.floats(-80, 80).map(lambda number: f"{number:.4f}")),
    st.builds("skewY({})".format, st.floats(-80, 80).map(lambda number: f"{number:.4f}")),
)


@given(st.lists(CALLS, max_size=4))
def test_lists_agree_with_an_independent_library(calls: list[str]) -> None:
    theirs = svgelements.Matrix(" ".join(calls))
    expected = (theirs.a, theirs.b, theirs.c, theirs.d, theirs.e, theirs.f)
    size = max(1.0, *map(abs, expected))
    assert parse_transform(" ".join(calls)) == pytest.approx(expected, abs=1e-9 * size)


@given(st.text(alphabet="translscomxyXY rote(),.-+0123456789einf%", max_size=40))
def test_any_text_is_a_matrix_or_refused(text: str) -> None:
    for read in (parse_transform, lambda t: parse_css_transform(t, PAGE)):
        with suppress(BadTransform):
            assert len(read(text)) == 6


def test_flat_matrices_are_known() -> None:
    assert is_flat(parse_transform("scale(0 1)"))
    assert is_flat((1.0, 2.0, 2.0, 4.0, 5.0, 6.0))
    assert not is_flat(parse_transform("skewX(45)"))
    assert multiply(IDENTITY, IDENTITY) == IDENTITY
