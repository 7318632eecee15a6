"""Basic shapes: SVG 2, chapter 10, and svgelements 1.9.6, an independent reader."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import shapely
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st

from matready.lint.reading.geometry import Geometry, read_geometry
from matready.lint.reading.shapes import (
    EllipseShape,
    LineShape,
    PathShape,
    PolyShape,
    RectShape,
    Shape,
)

Floats = npt.NDArray[np.float64]

IDENTITY = np.array([[1.0, 0, 0, 1, 0, 0]])
FLATTEN_MM = 0.01


def read(*shapes: Shape, flatten_mm: float = FLATTEN_MM) -> Geometry:
    """The geometry of shapes whose user unit is a millimetre."""
    return read_geometry(shapes, IDENTITY.repeat(len(shapes), axis=0), flatten_mm)


def area(points: Floats) -> float:
    """Of a closed line, positive when it turns from x to y (clockwise on a page)."""
    x, y = points.T
    return float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum() / 2)


def length(points: Floats) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


# Rectangles: SVG 2, 10.2


ROUNDED_5 = "M5 0H25A5 5 0 0 1 30 5V35A5 5 0 0 1 25 40H5A5 5 0 0 1 0 35V5A5 5 0 0 1 5 0z"
ROUNDED_5_8 = "M5 0H25A5 8 0 0 1 30 8V32A5 8 0 0 1 25 40H5A5 8 0 0 1 0 32V8A5 8 0 0 1 5 0z"
ROUNDED_15_5 = "M15 0A15 5 0 0 1 30 5V35A15 5 0 0 1 15 40A15 5 0 0 1 0 35V5A15 5 0 0 1 15 0z"


@pytest.mark.parametrize(
    ("rect", "path"),
    [
        (RectShape(10, 20, 30, 40), "M10 20H40V60H10z"),
        # rx auto is ry and the other way round; a negative radius is invalid, and so auto.
        (RectShape(0, 0, 30, 40, 5), ROUNDED_5),
        (RectShape(0, 0, 30, 40, None, 5), ROUNDED_5),
        (RectShape(0, 0, 30, 40, -1, 5), ROUNDED_5),
        (RectShape(0, 0, 30, 40, 5, 8), ROUNDED_5_8),
        # A radius of zero, by itself or from the other, makes square corners.
        (RectShape(0, 0, 30, 40, 0, 5), "M0 0H30V40H0z"),
        (RectShape(0, 0, 30, 40, 5, 0), "M0 0H30V40H0z"),
        (RectShape(0, 0, 30, 40, 0, 0), "M0 0H30V40H0z"),
        # Each radius is held to half its side, apart from the other.
        (RectShape(0, 0, 30, 40, 99, 5), ROUNDED_15_5),
    ],
)
def test_a_rect_is_drawn_as_the_path_that_equals_it(rect: RectShape, path: str) -> None:
    ours, expected = read(rect), read(PathShape(path))
    assert ours.breaks == ()
    np.testing.assert_allclose(ours.points, expected.points, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(ours.closed, [True])


def test_rounded_rects_have_the_area_and_length_of_four_quarter_turns() -> None:
    """Rounded corners take (4 - pi) rx ry off the area: plane geometry."""
    small = read(RectShape(0, 0, 100, 50, 10), flatten_mm=1e-5).points
    assert area(small) == pytest.approx(5000 - (4 - pi) * 100, abs=0.003)
    assert length(small) == pytest.approx(80 * 2 + 30 * 2 + 20 * pi, abs=1e-3)
    # rx 60 is held to 50 and ry, auto, to 25: the whole ellipse.
    whole = read(RectShape(0, 0, 100, 50, 60), flatten_mm=1e-5).points
    assert area(whole) == pytest.approx(pi * 50 * 25, abs=0.003)


@pytest.mark.parametrize("width", [0.1, 0.3, 7.1, 1e-3, 33.3])
def test_corners_that_take_up_a_side_leave_no_splinter_of_it(width: float) -> None:
    points = read(RectShape(0.7, 0.1, width, width, width)).points
    steps = np.hypot(*np.diff(points, axis=0).T)
    assert steps.min() > 0.4 * steps.max()


@pytest.mark.parametrize(
    ("shape", "reason"),
    [
        (RectShape(0, 0, -1, 5), "the width is negative"),
        (RectShape(0, 0, 5, -1), "the height is negative"),
        (EllipseShape(0, 0, -1, 5), "a radius is negative"),
        (EllipseShape(0, 0, 5, -1), "a radius is negative"),
    ],
)
def test_a_negative_size_is_told_and_draws_nothing(shape: Shape, reason: str) -> None:
    geometry = read(LineShape(0, 0, 1, 1), shape)
    assert [(b.owner, b.offset, b.reason) for b in geometry.breaks] == [(1, 0, reason)]
    np.testing.assert_array_equal(geometry.owner, [0])


@pytest.mark.parametrize(
    "shape",
    [
        RectShape(1, 1, 0, 5),
        RectShape(1, 1, 5, 0),
        EllipseShape(1, 1, 0, 5),
        EllipseShape(1, 1, 5, 0),
        PolyShape("", closed=True),
        PolyShape(" \n", closed=False),
        PolyShape("3 4", closed=False),
    ],
)
def test_a_size_of_zero_draws_nothing_and_is_no_fault(shape: Shape) -> None:
    """SVG 2, 10.2 to 10.4: it disables rendering of the element."""
    geometry = read(shape)
    assert (len(geometry.points), geometry.breaks, geometry.dots) == (0, (), 0)


# Circles and ellipses: SVG 2, 10.3 and 10.4


def test_an_ellipse_goes_round_from_its_right_by_way_of_its_foot() -> None:
    """SVG 2, 10.3: the equivalent path, four quarters that start at (cx + rx, cy)."""
    points = read(EllipseShape(10, 20, 3, 7)).points
    quarter = (len(points) - 1) // 4
    np.testing.assert_allclose(
        points[::quarter], [(13, 20), (10, 27), (7, 20), (10, 13), (13, 20)], rtol=0, atol=1e-12
    )
    np.testing.assert_allclose((((points - (10, 20)) / (3, 7)) ** 2).sum(axis=1), 1, atol=1e-12)


@pytest.mark.parametrize("radius", [1e-4, 0.01, 0.2, 0.5, 1, 10, 100])
def test_a_circle_keeps_its_width_however_small(radius: float) -> None:
    points = read(EllipseShape(0, 0, radius, radius)).points
    assert len(points) - 1 >= 16
    mids = (points[:-1] + points[1:]) / 2
    sagitta = radius - np.hypot(*mids.T).min()
    assert sagitta <= min(FLATTEN_MM, 0.02 * radius)
    # And not many more points than r (1 - cos(pi / n)) <= tolerance asks for: plane geometry.
    needed = pi / np.arccos(max(1 - FLATTEN_MM / radius, 0))
    assert len(points) - 1 <= max(16, needed + 4)


# Lines, polylines, polygons: SVG 2, 10.5 to 10.7


def test_lines_and_polylines_stay_open_and_polygons_close() -> None:
    geometry = read(
        LineShape(1, 2, 3, 4),
        PolyShape("0,0 5-5,5.5.5", closed=False),
        PolyShape("0,0 5-5,5.5.5", closed=True),
        PolyShape("0 0 4 0 4 4 0 0", closed=False),
    )
    np.testing.assert_array_equal(geometry.closed, [False, False, True, False])
    np.testing.assert_array_equal(geometry.offsets, [0, 2, 5, 9, 13])
    zigzag = [(0, 0), (5, -5), (5.5, 0.5)]
    np.testing.assert_array_equal(geometry.points[:2], [(1, 2), (3, 4)])
    np.testing.assert_array_equal(geometry.points[2:5], zigzag)
    np.testing.assert_array_equal(geometry.points[5:9], [*zigzag, (0, 0)])


@pytest.mark.parametrize(
    ("points", "kept", "offset", "reason"),
    [
        # SVG 2, 10.6 and 10.7: an odd count of numbers is an error, all but the last are drawn.
        ("0,0 5,5 9,0 7", "0,0 5,5 9,0", 13, "a number is missing"),
        ("0,0 5,5,", "0,0 5,5", 8, "a number is missing"),
        ("0,0 5,,5", "0,0", 6, "a number is missing"),
        (",0,0 5,5", "", 0, "a number is missing"),
        ("0,0 5,5 x 9,9", "0,0 5,5", 8, "'x' is not a number"),
        # No letter is a command here.
        ("0,0 5,5 L9,9", "0,0 5,5", 8, "'L' is not a number"),
        ("0,0 5,5z", "0,0 5,5", 7, "'z' is not a number"),
        ("M0,0 5,5", "", 0, "a number is missing"),
        ("0,0 5,1_0", "0,0 5,1", 7, "'_' is not a number"),
        ("0,0 5,5 1e999,0 7,7", "0,0 5,5", 8, "a number is too large"),
        ("none", "", 0, "'n' is not a number"),
        # SVG 2, 9.3.9: a no-break space is no white space.
        ("\u00a0", "", 0, r"'\xa0' is not a number"),
    ],
)
@pytest.mark.parametrize("closed", [False, True])
def test_faulty_points_are_drawn_up_to_the_fault(
    points: str, kept: str, offset: int, reason: str, closed: bool
) -> None:
    geometry = read(PolyShape(points, closed), LineShape(0, 0, 1, 1))
    expected = read(PolyShape(kept, closed), LineShape(0, 0, 1, 1))
    assert [(b.owner, b.offset, b.reason) for b in geometry.breaks] == [(0, offset, reason)]
    assert expected.breaks == ()
    np.testing.assert_array_equal(geometry.points, expected.points)


POINTS = st.lists(
    st.sampled_from([*"0123456789eE+-.,_!MzL", " ", "\n", "1e999", " 5 "]), max_size=20
)


@settings(max_examples=200)
@given(st.text(max_size=20) | POINTS.map("".join), st.booleans())
def test_any_points_are_drawn_up_to_a_place_that_is_told(text: str, closed: bool) -> None:
    geometry = read(PolyShape(text, closed), LineShape(0, 0, 1, 1))
    assert np.isfinite(geometry.points).all()
    np.testing.assert_array_equal(geometry.points[-2:], [(0, 0), (1, 1)])
    for each in geometry.breaks:
        assert (each.owner, 0 <= each.offset <= len(text)) == (0, True)
    if not geometry.breaks and not text.isspace():  # what is right is right as path data too
        path = read(PathShape(f"M{text}" if text else ""), LineShape(0, 0, 1, 1))
        assert path.breaks == ()
        if not closed:
            np.testing.assert_array_equal(geometry.points, path.points)


def test_exponents_in_points_are_numbers() -> None:
    np.testing.assert_array_equal(
        read(PolyShape("1e1,0 5E-1-2e+0", closed=False)).points, [(10, 0), (0.5, -2)]
    )


# Numbers out of range


@pytest.mark.parametrize("bad", [float("inf"), float("-inf"), float("nan"), 1e308, 1e13])
@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize("kind", [RectShape, EllipseShape, LineShape])
def test_a_size_out_of_range_is_told_and_the_shape_not_drawn(
    kind: type[Any], place: int, bad: float
) -> None:
    numbers = [1.0, 2.0, 3.0, 4.0]
    numbers[place] = bad
    geometry = read(LineShape(0, 0, 1, 1), kind(*numbers), LineShape(0, 0, 2, 2))
    [broken] = geometry.breaks
    assert (broken.owner, broken.offset) == (1, 0)
    assert "is too large" in broken.reason or "negative" in broken.reason
    np.testing.assert_array_equal(geometry.owner, [0, 2])


# An independent reader

SIZE = st.floats(0.01, 500)
# Rounded, as GEOS, which measures distances here, divides by zero over coordinates like 1e-309.
PLACE = st.floats(-500, 500).map(lambda x: round(x, 6))
RADIUS = st.none() | st.just(0.0) | st.floats(0.01, 300)
SHAPES = st.one_of(
    st.builds(RectShape, PLACE, PLACE, SIZE, SIZE, RADIUS, RADIUS),
    st.builds(EllipseShape, PLACE, PLACE, SIZE, SIZE),
    st.builds(LineShape, PLACE, PLACE, PLACE, PLACE),
)


def by_svgelements(shape: Shape) -> Any:
    """The same shape as a path; zeros stand for auto radii only where both are."""
    if isinstance(shape, RectShape):
        rx, ry = shape.rx, shape.ry
        if rx == 0 or ry == 0:
            rx = ry = None  # svgelements takes a radius of zero for auto; SVG 2 for no corner
        return svgelements.Rect(shape.x, shape.y, shape.width, shape.height, rx, ry)
    if isinstance(shape, EllipseShape):
        return svgelements.Ellipse(shape.cx, shape.cy, shape.rx, shape.ry)
    assert isinstance(shape, LineShape)
    return svgelements.SimpleLine(shape.x1, shape.y1, shape.x2, shape.y2)


@settings(max_examples=60)
@given(SHAPES)
def test_an_independent_reader_draws_the_same_shapes(shape: Shape) -> None:
    points = read(shape).points
    steps = np.linspace(0, 1, 100)
    path: Any = svgelements.Path(by_svgelements(shape))
    curves = [each.npoint(steps) for each in path if not isinstance(each, svgelements.Move)]
    theirs = np.concatenate(curves)
    if not len(points):
        assert np.ptp(theirs, axis=0).max() < 1e-9
        return
    assert shapely.distance(shapely.points(theirs), shapely.LineString(points)).max() < 0.0101
    # A quarter turn of 100 steps is within 500 (pi / 200)^2 / 8 = 0.016 of its chords.
    assert shapely.distance(shapely.points(points), shapely.LineString(theirs)).max() < 0.016
