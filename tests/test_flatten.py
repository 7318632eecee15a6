"""Curves and arcs to lines in millimetres: worked numbers of SVG 2, and svgpathtools 1.8.0.

svgpathtools shares no code with this project. Lengths and areas of circles, ellipses and parabolas
are plane geometry.
"""

from __future__ import annotations

import time
from dataclasses import astuple, dataclass
from math import pi
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import shapely
import svgpathtools
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from matready.lint.reading.flatten import MOST_POINTS, MOST_STEPS
from matready.lint.reading.geometry import Geometry, read_geometry
from matready.lint.reading.shapes import EllipseShape, LineShape, PathShape, RectShape, Shape

Floats = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

IDENTITY = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
FINE_MM = 2e-4  # finer than this the largest arcs here would take more than MOST_STEPS


def read(
    *shapes: Shape | str, matrix: tuple[float, ...] = IDENTITY, flatten_mm: float = 0.01
) -> Geometry:
    """The geometry of shapes, or of paths given as text, all through one matrix."""
    drawn = [PathShape(shape) if isinstance(shape, str) else shape for shape in shapes]
    return read_geometry(drawn, np.array([matrix] * len(drawn)), flatten_mm)


def area(points: Floats) -> float:
    """Of a closed line, either way round."""
    x, y = points.T
    return abs(float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum() / 2))


def length(points: Floats) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


# Worked numbers


@pytest.mark.parametrize(
    ("text", "expected", "box"),
    [
        # SVG 2, 9.3.8, figure arcs01: three quarters of a circle, and the quarter beside it.
        ("M300,200 h-150 a150,150 0 1,0 150,-150 z", 0.75 * pi * 150**2, (150, 50, 450, 350)),
        ("M275,175 v-150 a150,150 0 0,0 -150,150 z", 0.25 * pi * 150**2, (125, 25, 275, 175)),
        # The same arc in the SVG 1.1 test suite, paths-data-20-f: three quarters of radius 25.
        ("M200,120 h-25 a25,25 0 1125,25 z", 0.75 * pi * 25**2, (175, 95, 225, 145)),
        # 9.3.8, the ellipse of the figure on flags: centre (225, 75), one quarter, the other way.
        ("M125,75 a100,50 0 0,0 100,50 L225 75z", 0.25 * pi * 100 * 50, (125, 75, 225, 125)),
        ("M125,75 a100,50 0 1,1 100,50 L225 75z", 0.75 * pi * 100 * 50, (125, 25, 325, 125)),
        # B.2.5: radii too small for the chord grow until they just reach, half a turn.
        ("M0 0A1 1 0 0 1 10 0z", 0.5 * pi * 5**2, (0, -5, 10, 0)),
        ("M0 0a1 2 0 0110 0z", 0.5 * pi * 5 * 10, (0, -10, 10, 0)),
        # Cubic and quadratic with known areas: 3/5 and 2/3 of their hulls (integrals by hand).
        ("M0 0 C0 100 100 100 100 0z", 6000, (0, 0, 100, 75)),
        ("M0 0 Q50 100 100 0z", 10000 / 3, (0, 0, 100, 50)),
        ("M0 0 Q50 100 100 0 T200 0 V-50 H0z", 10000, (0, -50, 200, 50)),
    ],
)
def test_areas_and_boxes_are_those_worked_out_by_hand(
    text: str, expected: float, box: tuple[float, float, float, float]
) -> None:
    points = read(text, flatten_mm=FINE_MM).points
    assert area(points) == pytest.approx(expected, abs=length(points) * FINE_MM)
    found = (*points.min(axis=0), *points.max(axis=0))
    np.testing.assert_allclose(found, box, rtol=0, atol=FINE_MM)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # SVG 2, 9.3.8, figure arcs01: the bumps of the staircase. Radii 25 and 25 to 100, turned by
        # -30, over a chord of (50, -25); B.2.5 scales them by the root of 1.25 and of 1.246635.
        ("M650,325 a25,25 -30 0,1 50,-25", pi * 25 * 1.25**0.5),
        ("M750,275 a25,50 -30 0,1 50,-25", 135.2178),  # half an ellipse, by its integral
        ("M125,75 a100,50 0 0,0 100,50", 121.1056),  # a quarter of one
        ("M0 0A1 1 0 0 1 10 0", 5 * pi),
        ("M0 0a1 1 0 0110 10", 50**0.5 * pi),
        ("M0 0 C0 100 100 100 100 0", 200),  # x' and y' make 3 * 100 * (t^2 + (1 - t)^2): 200
        ("M0 0 Q50 100 100 0", 147.894286),  # arc length of a parabola
    ],
)
def test_lengths_are_those_worked_out_by_hand(text: str, expected: float) -> None:
    assert length(read(text, flatten_mm=1e-5).points) == pytest.approx(expected, rel=2e-6)


@pytest.mark.parametrize(
    ("text", "centre", "radii", "rotation", "turn", "expected"),
    [
        # SVG 2, 9.3.8 (figures), and B.2.5, where the chord is longer than the ellipse is wide:
        # centre, radii, rotation, angles at the ends and length, by the formulas of B.2.4.
        ("M150,200 a150,150 0 1,0 150,-150", (300, 200), (150, 150), 0, (180, -270), 706.8583),
        ("M275,25 a150,150 0 0,0 -150,150", (275, 175), (150, 150), 0, (-90, -90), 235.6194),
        ("M650,325 a25,25 -30 0,1 50,-25", (675, 312.5), (27.95085,) * 2, -30, (None, 180),
         87.8102),
        ("M750,275 a25,50 -30 0,1 50,-25", (775, 262.5), (27.913197, 55.826394), -30, (None, 180),
         135.2178),
        ("M125,75 a100,50 0 0,0 100,50", (225, 75), (100, 50), 0, (180, -90), 121.1056),
        ("M125,75 a100,50 0 1,1 100,50", (225, 75), (100, 50), 0, (180, 270), 363.3168),
        ("M0 0A1 1 0 0 1 10 0", (5, 0), (5, 5), 0, (180, 180), 15.70796),
        ("M0 0a1 1 0 0110 10", (5, 5), (7.071068,) * 2, 0, (-135, 180), 22.21441),
        # SVG 1.1 test suite, paths-data-20-f.
        ("M175,120 a25,25 0 1125,25", (200, 120), (25, 25), 0, (180, 270), 117.8097),
    ],
)  # fmt: skip
def test_arcs_have_the_centre_radii_and_angles_of_the_formulas(
    text: str,
    centre: tuple[float, float],
    radii: tuple[float, float],
    rotation: float,
    turn: tuple[float | None, float],
    expected: float,
) -> None:
    points = read(text, flatten_mm=1e-4).points
    assert length(points) == pytest.approx(expected, abs=2e-3)
    around = (points - centre) @ (1, 1j) * np.exp(-1j * np.radians(rotation))
    unit = around.real / radii[0] + 1j * (around.imag / radii[1])
    np.testing.assert_allclose(np.abs(unit), 1, rtol=0, atol=1e-6)
    angles = np.degrees(np.unwrap(np.angle(unit)))
    if turn[0] is not None:
        assert abs(np.exp(1j * np.radians(angles[0])) - np.exp(1j * np.radians(turn[0]))) < 1e-6
    assert angles[-1] - angles[0] == pytest.approx(turn[1], abs=1e-4)


# Within the tolerance of the true curve, after any affine map

UNIT = st.floats(-100, 100).map(lambda x: round(x, 3))
POINT = st.builds(complex, UNIT, UNIT)
RADIUS = st.floats(0.1, 150)
# Rounded, as GEOS, which measures distances here, divides by zero over coordinates like 1e-309.
FACTOR = st.floats(-3, 3).map(lambda x: round(x, 6))
MATRICES = st.tuples(*[FACTOR] * 4, UNIT, UNIT)
TOLERANCES = st.sampled_from([0.2, 0.01, 0.0007])


@dataclass(frozen=True)
class Drawn:
    """A curve as path data, and as svgpathtools has it."""

    text: str
    curve: Any


def words(*numbers: complex) -> str:
    return " ".join(f"{number.real!r} {number.imag!r}" for number in numbers)


def cubic(*places: complex) -> Drawn:
    return Drawn(f"M{words(places[0])}C{words(*places[1:])}", svgpathtools.CubicBezier(*places))


def quad(*places: complex) -> Drawn:
    return Drawn(f"M{words(places[0])}Q{words(*places[1:])}", svgpathtools.QuadraticBezier(*places))


CUBICS = st.builds(cubic, POINT, POINT, POINT, POINT)
QUADS = st.builds(quad, POINT, POINT, POINT)


@st.composite
def arcs(draw: st.DrawFn) -> Drawn:
    """An arc that is no near half turn: svgpathtools moves the centre of those."""
    start, end, rx, ry = draw(POINT), draw(POINT), draw(RADIUS), draw(RADIUS)
    turn, large, sweep = draw(st.integers(-360, 360)), draw(st.booleans()), draw(st.booleans())
    half = (end - start) / 2 * np.exp(-1j * np.radians(turn))
    reach = abs(complex(half.real / rx, half.imag / ry))
    assume(reach > 0.001 and not 0.99 < reach < 1.01)
    text = f"M{words(start)}A{rx!r} {ry!r} {turn} {large:d} {sweep:d} {words(end)}"
    return Drawn(text, svgpathtools.Arc(start, complex(rx, ry), turn, large, sweep, end))


def mapped(matrix: tuple[float, ...], points: Complex) -> Floats:
    a, b, c, d, e, f = matrix
    x, y = points.real, points.imag
    return np.column_stack((a * x + c * y + e, b * x + d * y + f))


@pytest.mark.parametrize("curves", [CUBICS, QUADS, arcs()], ids=["cubic", "quadratic", "arc"])
@settings(max_examples=60)
@given(st.data())
def test_chords_stay_within_the_tolerance_of_the_true_curve(
    curves: st.SearchStrategy[Drawn], data: st.DataObject
) -> None:
    drawn, matrix, tolerance = data.draw(curves), data.draw(MATRICES), data.draw(TOLERANCES)
    curve: Any = drawn.curve
    points = read(drawn.text, matrix=matrix, flatten_mm=tolerance).points
    true = mapped(matrix, np.array([curve.point(t) for t in np.linspace(0, 1, 500)]))
    if not len(points):
        assert np.ptp(true, axis=0).max() < 2 * tolerance  # so small a loop is a dot
        return
    # Its own ends, exactly as the matrix takes them.
    ends = mapped(matrix, np.array([curve.start, curve.end]))
    np.testing.assert_allclose(points[[0, -1]], ends, rtol=0, atol=1e-12)
    off = shapely.distance(shapely.points(true), shapely.LineString(points))
    assert off.max() <= tolerance + 1e-7
    # Our points lie on the curve; the chords of `true` are off it by an eighth of the second
    # difference, as its points are at equal steps.
    chords = np.hypot(*np.diff(true, 2, axis=0).T).max() / 8
    back = shapely.distance(shapely.points(points), shapely.LineString(true))
    assert back.max() <= 1.2 * chords + 1e-7


@settings(max_examples=40)
@given(arcs(), MATRICES)
def test_no_more_steps_are_taken_than_the_curve_asks_for(drawn: Drawn, matrix: Any) -> None:
    """At most as many as a circle of the longest half axis: r (1 - cos(t / 2)) is its sagitta."""
    curve, points = drawn.curve, read(drawn.text, matrix=matrix).points
    stretch = np.linalg.norm(np.array(matrix[:4]).reshape(2, 2), 2)
    radius = max(curve.radius.real, curve.radius.imag) * stretch
    turn = np.radians(abs(curve.delta))
    most = turn / (2 * np.arccos(max(1 - 0.01 / radius, 0.0))) if radius else 0
    assert len(points) - 1 <= max(1.02 * most, turn / (2 * pi) * 16) + 1


@pytest.mark.parametrize("chord", [10.0, 9.999999, 9.9999999999, 10.000001, 5e-9])
@pytest.mark.parametrize("flags", ["0 0", "0 1", "1 0", "1 1"])
def test_arcs_near_a_half_and_a_whole_turn_are_drawn_as_they_stand(
    chord: float, flags: str
) -> None:
    """Where the last digit of the data decides, the arc still meets its ends and its circle."""
    points = read(f"M0 0A5 5 0 {flags} {chord!r} 0", flatten_mm=1e-4).points
    large, forward = flags.split()
    above = np.sign(points[len(points) // 2, 1])
    np.testing.assert_array_equal(points[[0, -1]], [(0, 0), (chord, 0)])
    if chord < 1 and large == "0":
        np.testing.assert_allclose(points[:, 1], 0, atol=1e-12)
        return
    assert above == (-1 if forward == "1" else 1)  # sweep 1 turns from x to y: over the top
    radius = max(5, chord / 2)
    rise = (radius**2 - min(chord / 2, radius) ** 2) ** 0.5 * (-1 if large == "0" else 1)
    centre = np.array([chord / 2, rise * above])
    np.testing.assert_allclose(np.hypot(*(points - centre).T), radius, rtol=0, atol=1e-7)


@pytest.mark.parametrize("radius", ["1e5", "1e9", "1e15", "1e40", "1e300"])
def test_an_arc_of_enormous_radius_is_as_good_as_straight(radius: str) -> None:
    points = read(f"M3 4A{radius} {radius} 0 0 1 103 4").points
    np.testing.assert_array_equal(points[[0, -1]], [(3, 4), (103, 4)])
    sagitta = 100**2 / 8 / float(radius)
    assert np.abs(points[:, 1] - 4).max() <= 1.001 * sagitta + 1e-6


# What the rows are


def test_lines_stand_in_order_with_their_shape_and_sub_path() -> None:
    geometry = read(
        "M0 0h1M5 5M7 7h1zm1 1zM8 8v2",  # sub-paths 1 and 3 put no line down
        EllipseShape(0, 0, 0, 5),  # nothing
        LineShape(0, 0, 0, 0),  # a dot
        RectShape(0, 0, 4, 3),
        "M0 0h2zh3",
    )
    np.testing.assert_array_equal(geometry.owner, [0, 0, 0, 3, 4, 4])
    np.testing.assert_array_equal(geometry.subpath, [0, 2, 4, 0, 0, 1])
    np.testing.assert_array_equal(geometry.closed, [False, True, False, True, True, False])
    np.testing.assert_array_equal(np.diff(geometry.offsets), [2, 3, 2, 5, 3, 2])
    assert (geometry.dots, geometry.breaks) == (2, ())
    starts = geometry.points[geometry.offsets[:-1]]
    np.testing.assert_array_equal(starts, [(0, 0), (7, 7), (8, 8), (0, 0), (0, 0), (0, 0)])


@pytest.mark.parametrize(
    ("text", "dots"),
    [
        ("M0 0z", 1),
        ("M0 0zM1 1h0M2 2", 2),
        ("M1 1L1 1", 1),
        ("M1 1C1 1 1 1 1 1", 1),
        ("M1 1A5 5 0 0 1 1 1", 1),
        ("M1 1", 0),
        ("M1 1 M2 2 m3 3", 0),
    ],
)
def test_what_has_no_length_is_a_dot_if_it_draws_and_nothing_if_it_moves(
    text: str, dots: int
) -> None:
    geometry = read(text)
    assert (len(geometry.points), len(geometry.closed), geometry.dots) == (0, 0, dots)
    np.testing.assert_array_equal(geometry.offsets, [0])


def test_segments_of_no_length_leave_no_point() -> None:
    geometry = read("M0 0h0h5v0v5L5 5C5 5 5 5 5 5A3 3 0 0 0 5 5l0 0L0 0z")
    np.testing.assert_array_equal(geometry.points, [(0, 0), (5, 0), (5, 5), (0, 0)])
    np.testing.assert_array_equal(geometry.closed, [True])


def test_coincident_ends_without_z_are_open() -> None:
    """SVG 2, 9.3.4: only Z closes a sub-path."""
    np.testing.assert_array_equal(read("M0 0h5v5L0 0").closed, [False])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("m.1 0l.2 0 .1.3-.3.3 0-.6z", [(0.1, 0), (0.3, 0), (0.4, 0.3), (0.1, 0.6), (0.1, 0)]),
        ("m.1 0h.2V5H.3V6", [(0.1, 0), (0.3, 0), (0.3, 5), (0.3, 6)]),
    ],
)
def test_steps_that_end_beside_their_place_by_rounding_leave_no_splinter(
    text: str, expected: list[tuple[float, float]]
) -> None:
    """In binary, 0.1 + 0.2 is not 0.3, and 0.1 + 0.2 + 0.1 - 0.3 not 0.1."""
    points = read(text).points
    np.testing.assert_allclose(points, expected, rtol=0, atol=1e-12)
    assert (points[0] == points[-1]).all() == text.endswith("z")


ROUND_TRIPS: list[Shape] = [
    PathShape("M10 5A5 5 0 0 1 0 5A5 5 0 0 1 10 5z"),
    PathShape("m1.1 .7a.1.1 0 01.1-.1.1.1 0 01.1.1.1.1 0 01-.1.1.1.1 0 01-.1-.1z"),
    EllipseShape(0.1, 0.7, 0.3, 0.3),
    RectShape(0.1, 0.2, 0.3, 0.7, 0.1),
]


@pytest.mark.parametrize("shape", ROUND_TRIPS)
@pytest.mark.parametrize("matrix", [IDENTITY, (0.1, 0.3, -0.7, 0.9, 77.7, 0.123)])
def test_what_comes_back_to_its_start_closes_there_to_the_last_bit(
    shape: Shape, matrix: tuple[float, ...]
) -> None:
    points = read(shape, matrix=matrix).points
    np.testing.assert_array_equal(points[0], points[-1])
    steps = np.hypot(*np.diff(points, axis=0).T)
    assert steps.min() > 0.3 * np.median(steps)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # An open line ends where its data ends, however short its last step.
        ("M0 0h5h.5e-9", [0, 5 + 0.5e-9]),
        ("M0 0h5h.5e-9h.5e-9", [0, 5 + 1e-9]),
        ("M0 0h.5e-9h5", [0, 5 + 0.5e-9]),
        # Steps just longer than a rounding error that together go nowhere.
        ("M0 0h.9e-9h.9e-9h-1.8e-9h5", [0, 5]),
        ("M0 0h5h1.5e-9h-.75e-9h-.75e-9", [0, 5]),
        ("M0 0h5h1.5e-9h-.75e-9H0z", [0, 5, 5 + 1.5e-9, 0]),
        ("M0 0h1.5e-9h-.75e-9z", []),
        ("M0 0h.5e-9", []),
    ],
)
def test_no_step_is_as_short_as_a_rounding_error(text: str, expected: list[float]) -> None:
    geometry = read("M1 1h1", text, "M2 2h1")
    inner = geometry.points[2:-2, 0]
    np.testing.assert_allclose(inner, expected, rtol=0, atol=1e-14)
    assert (geometry.dots, len(geometry.closed)) == ((0, 3) if expected else (1, 2))


TINY = st.integers(-9, 9).map(lambda n: f"{n * 0.4}e-9")
STEPS = st.lists(st.tuples(TINY, TINY) | st.tuples(st.just("3"), TINY), min_size=1, max_size=12)


@settings(max_examples=150)
@given(st.lists(st.tuples(STEPS, st.sampled_from(["", "z"])), min_size=1, max_size=3))
def test_lines_keep_their_ends_and_no_splinter_whatever_their_steps(
    lines: list[tuple[list[tuple[str, str]], str]],
) -> None:
    geometry = read(*("M1 1l" + " ".join(x + " " + y for x, y in steps) + z for steps, z in lines))
    assert len(geometry.closed) + geometry.dots == len(lines)
    for nth, line in enumerate(np.split(geometry.points, geometry.offsets[1:-1])):
        if not len(line):
            continue  # all were dots
        steps, z = lines[geometry.owner[nth]]
        assert np.hypot(*np.diff(line, axis=0).T).min() > 1e-9
        np.testing.assert_array_equal(line[0], (1, 1))
        end = np.array([(1, 1), *((float(x), float(y)) for x, y in steps)]).cumsum(axis=0)[-1]
        np.testing.assert_allclose(line[-1], (1, 1) if z else end, rtol=0, atol=1e-12)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf"), 1e308])
@pytest.mark.parametrize("place", range(6))
def test_a_matrix_out_of_range_is_told_of_each_of_its_shapes(place: int, bad: float) -> None:
    shapes: list[Shape] = [
        PathShape("M1 1h5a1 1 0 0 1 3 3"),
        RectShape(1, 1, 2, 2),
        EllipseShape(1, 1, 2, 2),
    ]
    matrices = np.array([IDENTITY] * 4)
    matrices[:3, place] = bad
    geometry = read_geometry([*shapes, LineShape(0, 0, 1, 1)], matrices, 0.01)
    found = [(each.owner, each.offset, each.reason) for each in geometry.breaks]
    assert found == [(owner, 0, "a number is too large") for owner in range(3)]
    np.testing.assert_array_equal(geometry.owner, [3])


def test_a_factor_next_to_nothing_draws_as_zero_does() -> None:
    """Numbers below the normal range of a double are no reason to stumble."""
    text = "M0 0A1 1 0 0 0 0 1"
    points = read(text, matrix=(0, 1, 2.225e-309, 0, 0, 0)).points
    np.testing.assert_array_equal(points[:, 1], read(text, matrix=(0, 1, 0, 0, 0, 0)).points[:, 1])
    np.testing.assert_allclose(points[:, 0], 0, rtol=0, atol=1e-300)
    # A chord of 1 in a circle of radius 1 rises by 1 - cos(30 degrees): plane geometry.
    np.testing.assert_allclose(np.abs(points[:, 1]).max(), 1 - 0.75**0.5, rtol=0, atol=0.01)
    np.testing.assert_allclose(points[[0, -1], 1], 0, rtol=0, atol=1e-15)


def test_a_matrix_that_flattens_everything_leaves_dots() -> None:
    geometry = read("M0 0h5", EllipseShape(1, 1, 2, 2), "M1 1Q2 2 3 3", matrix=(0,) * 4 + (7, 7))
    assert (len(geometry.points), geometry.dots) == (0, 3)


def test_nothing_is_read_from_nothing() -> None:
    for geometry in (read_geometry([], np.empty((0, 6)), 0.01), read(""), read("", "none")):
        assert geometry.points.shape == (0, 2)
        assert [each.dtype for each in astuple(geometry)[:5]] == [
            np.float64, np.int64, np.bool_, np.int64, np.int64
        ]  # fmt: skip
        np.testing.assert_array_equal(geometry.offsets, [0])


def test_each_shape_goes_through_its_own_matrix() -> None:
    matrices = np.array([(2, 0, 0, 2, 0, 0), (0, 1, -1, 0, 10, 20), (1, 0, 1, 1, 0, 0)], float)
    shapes = [PathShape("M1 1h2"), PathShape("M1 1h2"), PathShape("M1 1v2")]
    points = read_geometry(shapes, matrices, 0.01).points
    np.testing.assert_array_equal(points, [(2, 2), (6, 2), (9, 21), (9, 23), (2, 1), (4, 3)])


@settings(max_examples=60)
@given(st.lists(st.one_of(CUBICS, QUADS, arcs()), min_size=1, max_size=4), MATRICES)
def test_the_same_place_is_the_same_number_wherever_it_stands(
    curves: list[Drawn], matrix: tuple[float, ...]
) -> None:
    """To the last bit: ends that meet in the data meet, and what is drawn twice is drawn twice."""
    texts = [drawn.text for drawn in curves]
    geometry = read(*texts, *texts, matrix=matrix)
    lines = np.split(geometry.points, geometry.offsets[1:-1])
    for one, other in zip(lines, lines[len(lines) // 2 :], strict=False):
        np.testing.assert_array_equal(one, other)
    for drawn in curves:
        end = words(drawn.curve.end)
        meeting = read("M999 999h1", drawn.text, f"M{end}l1 1", matrix=matrix)
        if len(meeting.closed) == 3:
            _, _, start, _ = meeting.offsets
            np.testing.assert_array_equal(meeting.points[start - 1], meeting.points[start])


# Size


def test_absurdly_large_curves_do_not_take_the_memory() -> None:
    big = read("M0 0C9e8 0 0 9e8 9e8 9e8", EllipseShape(0, 0, 1e9, 1e9))
    assert len(big.points) <= 5 * MOST_STEPS + 5
    many = read("M0 0" + "C9e8 0 0 9e8 9e8 9e8" * 5000)
    assert 5000 < len(many.points) <= MOST_POINTS + 5001


def test_a_hundred_thousand_segments_are_read_in_far_less_than_a_second() -> None:
    """A bound for a slow and busy machine, in CPU time; usual is a fifth of it."""
    rng = np.random.default_rng(7)
    places = rng.uniform(0, 300, (100_000, 2))
    text = "M0 0L" + " ".join(f"{x:.3f} {y:.3f}" for x, y in places)
    start = time.process_time()
    geometry = read(text)
    assert time.process_time() - start < 0.5
    np.testing.assert_allclose(geometry.points[1:], places, rtol=0, atol=0.0005001)
