"""Path data changed sub-path by sub-path: what is asked changes, nothing else does.

Reference: svgpathtools 1.8.0, which shares no code with this project. It draws no line for a Z
that stands where its sub-path began, and one for a Z that a rounding error parts from there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import svgpathtools
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from matready.lint.reading.geometry import read_geometry
from matready.lint.reading.shapes import (
    EllipseShape,
    LineShape,
    PathShape,
    PolyShape,
    RectShape,
    Shape,
)
from matready.lint.reading.units import format_number
from matready.lint.repair.pathtext import (
    Close,
    Drop,
    Extend,
    MoveEnds,
    Operation,
    extract,
    read_subpaths,
    rewrite,
)
from matready.lint.repair.refusal import Refused
from matready.lint.repair.shapepath import data_of_shape

from tests.test_pathdata import spelled_paths
from tests.test_shapes import SHAPES

Complex = npt.NDArray[np.complex128]

STEPS = np.linspace(0, 1, 9)
DECIMALS = 6


def curves_of(data: str) -> list[Complex]:
    """Nine points on each curve, by svgpathtools."""
    segments: Any = svgpathtools.parse_path(data)
    inner = [[segment.point(t) for t in STEPS[1:-1]] for segment in segments]
    return [
        np.array([segment.start, *points, segment.end])
        for segment, points in zip(segments, inner, strict=True)
    ]


def drawn(curves: Sequence[Complex]) -> list[Complex]:
    """The curves without those of no length."""
    return [curve for curve in curves if np.abs(curve - curve[0]).max() > 1e-8]


def joined(curves: Iterable[list[Complex]]) -> list[Complex]:
    return list(chain.from_iterable(curves))


def subpaths_of(plain: str) -> list[str]:
    """Data that has absolute moves alone, as one text a sub-path."""
    return ["M" + part for part in plain.split("M")[1:]]


def assert_same(found: Sequence[Complex], expected: Sequence[Complex]) -> None:
    """The same curves, but for the last digits."""
    found, expected = drawn(found), drawn(expected)
    assert len(found) == len(expected)
    for one, other in zip(found, expected, strict=True):
        # An arc whose radii grow to reach its end may be far larger than its numbers.
        size = max(1000, np.abs(other).max())
        np.testing.assert_allclose(one, other, rtol=0, atol=1e-9 * size)
        np.testing.assert_allclose(one[[0, -1]], other[[0, -1]], rtol=1e-9, atol=1e-9)


def assert_kept(data: str, changed: str, touched: set[int]) -> None:
    """Every sub-path that is not touched has its characters still, its move perhaps excepted."""
    for subpath in read_subpaths(data):
        if subpath.number not in touched:
            head, *others = subpath.segments
            if data[head.start] == "M":
                assert data[head.start : subpath.stop] in changed
            elif others:
                assert data[others[0].start : subpath.stop] in changed


# Reading


@pytest.mark.parametrize(
    ("data", "letters", "texts"),
    [
        ("M 1 2 L 3 4 5 6", "MLL", ["M 1 2", "L 3 4", "5 6"]),
        ("m1-2.5.5-.5 3,4z", "mllz", ["m1-2.5", ".5-.5", "3,4", "z"]),
        ("M0 0H1V2h3v4", "MHVhv", ["M0 0", "H1", "V2", "h3", "v4"]),
        (
            "M0 0C1 1 2 2 3 3S4 4 5 5 6 6 7 7",
            "MCSS",
            ["M0 0", "C1 1 2 2 3 3", "S4 4 5 5", "6 6 7 7"],
        ),
        ("M0 0q1 1 2 2t3 3", "Mqt", ["M0 0", "q1 1 2 2", "t3 3"]),
        ("M0 0a5 5 0 0110 0 5 5 0 01.5.5", "Maa", ["M0 0", "a5 5 0 0110 0", "5 5 0 01.5.5"]),
        # SVG 2, 9.3.4: drawing after Z starts a sub-path; further Z draw nothing.
        ("M0 0h1zzZ v2", "MhzMv", ["M0 0", "h1", "z", "", "v2"]),
        ("M 1 1 M 2 2 m 3 3 l 1 1", "MMml", ["M 1 1", "M 2 2", "m 3 3", "l 1 1"]),
    ],
)
def test_every_segment_knows_its_characters(data: str, letters: str, texts: list[str]) -> None:
    segments = [segment for subpath in read_subpaths(data) for segment in subpath.segments]
    assert "".join(segment.letter for segment in segments) == letters
    assert [data[segment.start : segment.end] for segment in segments] == texts
    for segment in segments:
        assert tuple(float(data[a:b]) for a, b in segment.spans) == segment.numbers


@pytest.mark.parametrize("data", ["", "  ", "none", " none "])
def test_what_draws_nothing_has_no_subpaths(data: str) -> None:
    assert read_subpaths(data) == ()
    assert extract(data, [0]) in ("", data)


@pytest.mark.parametrize(
    "data", ["L1 1", "M1", "M0 0 L1 1 x", "M0 0a5 5 0 2 0 1 1", "M0 0 1e999 1"]
)
def test_faulty_data_is_refused(data: str) -> None:
    with pytest.raises(Refused):
        read_subpaths(data)


@settings(max_examples=100)
@given(spelled_paths())
def test_subpaths_are_read_as_by_an_independent_reader(spelling: tuple[str, str]) -> None:
    spelled, plain = spelling
    subpaths, texts = read_subpaths(spelled), subpaths_of(plain)
    assert len(subpaths) == len(texts)
    for subpath, text in zip(subpaths, texts, strict=True):
        ours = [np.array([curve.point(t) for t in STEPS]) for curve in subpath.curves]
        assert_same(ours, curves_of(text))
        assert subpath.closed == ("Z" in text)
        x, y = re.split("[ \nLCQAZ]", text[1:])[:2]
        assert subpath.start == complex(float(x), float(y))


@settings(max_examples=60)
@given(spelled_paths())
def test_subpaths_are_numbered_as_in_the_geometry(spelling: tuple[str, str]) -> None:
    spelled, _ = spelling
    geometry = read_geometry([PathShape(spelled)], np.array([[1.0, 0, 0, 1, 0, 0]]), 0.01)
    subpaths = read_subpaths(spelled)
    firsts = geometry.points[geometry.offsets[:-1]]
    for number, (x, y), closed in zip(
        geometry.subpath.tolist(), firsts.tolist(), geometry.closed.tolist(), strict=True
    ):
        assert subpaths[number].number == number
        assert abs(subpaths[number].start - complex(x, y)) < 1e-9
        assert subpaths[number].closed == closed


# Numbers


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (1.5, 3, "1.5"),
        (2.0, 3, "2"),
        (100.0, 0, "100"),
        (-0.0001, 3, "0"),
        (-0.0, 0, "0"),
        (0.1 + 0.2, 12, "0.3"),
        (1e-7, 7, "0.0000001"),
        (1e21, 2, "1000000000000000000000"),
        (-12.3456, 2, "-12.35"),
    ],
)
def test_numbers_are_written_plainly(value: float, decimals: int, text: str) -> None:
    assert format_number(value, decimals) == text


# By hand: what is written


@pytest.mark.parametrize(
    ("data", "changes", "expected"),
    [
        # What goes takes along what others were measured from.
        ("M1 1h2 M5 5h2", {0: Drop()}, "M5 5h2"),
        ("M1 1h2 M5 5h2", {1: Drop()}, "M1 1h2"),
        ("M1 1h2 M5 5h2", {0: Drop(), 1: Drop()}, ""),
        ("M1 1h2m5 5 1 1-3 .5", {0: Drop()}, "M 8 6 l1 1-3 .5"),
        ("m1-2.5.5.5l3 4zm5 5l1 1m2 2 1 1z l3 3", {0: Drop()}, "M 6 2.5 l1 1m2 2 1 1z l3 3"),
        ("M1 1h4v4zh9v9", {0: Drop()}, "M 1 1 h9v9"),
        ("M1 1h4v4z h9v9zzm1 1h1", {1: Drop()}, "M1 1h4v4zM 2 2 h1"),
        ("\n M1 1h2\n\tM5 5h2\n", {0: Drop()}, "\n M5 5h2\n"),
        ("M1 1h2M3 3M4 4", {0: Drop()}, ""),
        # Ends that move: only the numbers that change.
        ("M10 10h5 5v3l0-8.", {0: MoveEnds(end=10.02 + 11.1j)}, "M10 10h5 5v3l-9.98-1.9"),
        ("M 10 , 10 L20\t20.1", {0: MoveEnds(end=20 + 20j)}, "M 10 , 10 L20\t20"),
        ("M0 0H10V5", {0: MoveEnds(end=10 + 5.2j)}, "M0 0H10V5.2"),
        ("M0 0H10V5", {0: MoveEnds(end=9.9 + 5j)}, "M0 0H10 L 9.9 5"),
        ("M0 0h5 5v5", {0: MoveEnds(start=0.1 + 0j)}, "M0.1 0h4.9 5v5"),
        ("M0 0h5 5v5", {0: MoveEnds(start=0.1j)}, "M0 0.1 L 5 0 h5v5"),
        ("m1-2.5.5.5-.5 1", {0: MoveEnds(start=1.2 - 2j)}, "m1.2-2 0.3 0-.5 1"),
        ("m.5.5.5.5", {0: MoveEnds(start=0.25 + 0.5j)}, "m0.25 .5 0.75 .5"),
        ("M0 0C1 1 2 2 3 3", {0: MoveEnds(end=3.1 + 3j)}, "M0 0C1 1 2.1 2 3.1 3"),
        ("M0 0c1 1 2 2 3 3", {0: MoveEnds(start=0.1 + 0j)}, "M0.1 0c1 1 1.9 2 2.9 3"),
        ("M0 0h1s1 2 3 3", {0: MoveEnds(end=4 + 3.5j)}, "M0 0h1s1 2.5 3 3.5"),
        ("M0 0q3 3 6 0t6 0 6 0", {0: MoveEnds(start=0.3j)},
         "M0 0.3 C 2 2.3 4 2 6 0 Q 9 -3 12 0 t6 0"),
        ("M0 0q3 3 6 0", {0: MoveEnds(end=6 + 0.3j)}, "M0 0 C 2 2 4 2.3 6 0.3"),
        ("M0 0q3 3 6 0S1 2 3 4", {0: MoveEnds(start=0.3j)}, "M0 0.3 C 2 2.3 4 2 6 0 C 6 0 1 2 3 4"),
        ("M0 0h5v5h-5L0 .1", {0: MoveEnds(close=True)}, "M0 0h5v5h-5L0 0 Z"),
        ("M0 0h5v5l-5-4.9m1 1h2", {0: MoveEnds(close=True)}, "M0 0h5v5l-5-5 ZM 1 1.1 h2"),
        # Arcs stay: a line leads on.
        ("M0 0a5 5 0 0110 0", {0: MoveEnds(end=10 + 0.1j)}, "M0 0a5 5 0 0110 0 L 10 0.1"),
        ("M0 0a5 5 0 0110 0", {0: MoveEnds(start=0.1j)}, "M0 0.1 L 0 0 a5 5 0 0110 0"),
        ("M0 0a5 5 0 1 1 .1 0", {0: MoveEnds(close=True)}, "M0 0a5 5 0 1 1 .1 0 Z"),
        ("M1 1h4v4zh9v9", {1: MoveEnds(start=1 + 1.5j)}, "M1 1h4v4zM 1 1.5 L 10 1 v9"),
        # One line more.
        ("M0 0h5v5h-5m1 1h2", {0: Close()}, "M0 0h5v5h-5 ZM 1 6 h2"),
        ("M1 1h4m2 2h1", {0: Extend(False, 5 + 2j)}, "M1 1h4 L 5 2M 7 3 h1"),
        ("M1 1h4m2 2h1", {0: Extend(True, 1 + 2j)}, "M1 2 L 1 1 h4m2 2h1"),
        ("m1 1 4 0 m2 2h1", {1: Extend(True, 9 + 9j)}, "m1 1 4 0 m4 8 L 7 3 h1"),
    ],
)  # fmt: skip
def test_what_is_written(data: str, changes: dict[int, Operation], expected: str) -> None:
    assert rewrite(data, changes, 3) == expected


@pytest.mark.parametrize(
    ("data", "changes"),
    [
        ("M0 0h5v5z", {0: MoveEnds(end=1 + 1j)}),
        ("M0 0h5v5z", {0: Extend(True, 1 + 1j)}),
        ("M0 0M1 1h5", {0: MoveEnds(close=True)}),
        ("M0 0M1 1h5", {0: Extend(False, 1 + 1j)}),
        ("M0 0h5v5z", {0: Close()}),
        ("M0 0h5", {1: Drop()}),
        ("M0 0h5x", {0: Drop()}),
    ],
)
def test_what_cannot_be_done_is_refused(data: str, changes: dict[int, Operation]) -> None:
    with pytest.raises(Refused):
        rewrite(data, changes, 3)


def test_no_changes_leave_every_character() -> None:
    assert rewrite(" m1 1 h4zz\n", {}, 3) == " m1 1 h4zz\n"


# Any path, against the independent reader


@settings(max_examples=100)
@given(spelled_paths(), st.data())
def test_what_is_dropped_goes_and_the_rest_stays(
    spelling: tuple[str, str], data: st.DataObject
) -> None:
    spelled, plain = spelling
    texts = subpaths_of(plain)
    gone = data.draw(st.sets(st.sampled_from(range(len(texts)))))
    changed = rewrite(spelled, {number: Drop() for number in gone}, DECIMALS)
    expected = [curves_of(text) for number, text in enumerate(texts) if number not in gone]
    assert_same(curves_of(changed), joined(expected))
    others = extract(spelled, gone)
    assert_same(curves_of(others), joined(curves_of(texts[number]) for number in sorted(gone)))
    if changed:
        assert_kept(spelled, changed, gone)


SHIFT = st.complex_numbers(max_magnitude=0.5).map(
    lambda z: complex(round(z.real, 4), round(z.imag, 4))
)


def open_subpaths(texts: list[str]) -> list[int]:
    """The sub-paths with two ends, each segment of which has a length."""
    return [
        number
        for number, text in enumerate(texts)
        if "Z" not in text
        and curves_of(text)
        and len(drawn(curves_of(text))) == len(curves_of(text))
    ]


@settings(max_examples=200)
@given(spelled_paths(), st.none() | SHIFT, st.none() | SHIFT, st.booleans(), st.data())
def test_ends_go_where_asked_and_nothing_moves_further(
    spelling: tuple[str, str],
    first: complex | None,
    last: complex | None,
    close: bool,
    data: st.DataObject,
) -> None:
    spelled, plain = spelling
    texts = subpaths_of(plain)
    assume(open_subpaths(texts))
    number = data.draw(st.sampled_from(open_subpaths(texts)))
    old = curves_of(texts[number])
    begin = old[0][0] + (first or 0)
    end = begin if close else old[-1][-1] + (last or 0)
    # Ends that come to lie on the next corner leave nothing of a line.
    assume(abs(old[0][-1] - begin) > 1e-3 and abs(old[-1][0] - end) > 1e-3)
    assume(len(old) > 1 or abs(begin - end) > 1e-3)
    moved = max(abs(first or 0), abs(end - old[-1][-1])) + 2 * 10.0**-DECIMALS
    operation = MoveEnds(
        None if first is None else complex(begin),
        None if last is None else complex(end),
        close,
    )
    changed = rewrite(spelled, {number: operation}, DECIMALS)
    before = drawn(joined(map(curves_of, texts[:number])))
    after = drawn(joined(map(curves_of, texts[number + 1 :])))
    found = drawn(curves_of(changed))
    assert_same(found[: len(before)], before)
    assert_same(found[len(found) - len(after) :], after)
    new = found[len(before) : len(found) - len(after)]
    assert abs(new[0][0] - begin) < 1.5 * 10.0**-DECIMALS
    assert abs(new[-1][-1] - end) < 1.5 * 10.0**-DECIMALS
    arcs = [letter in "Aa" for letter in _letters(spelled, number)]
    if arcs[0] and abs(first or 0) > 1e-8:
        new = new[1:]
    if arcs[-1] and abs(end - old[-1][-1]) > 1e-8:
        new = new[:-1]
    assert len(new) == len(old)
    for one, other in zip(new, old, strict=True):
        assert np.abs(one - other).max() <= moved
    assert_same(new[1:-1], old[1:-1])
    assert_kept(spelled, changed, {number})


def _letters(spelled: str, number: int) -> list[str]:
    return [segment.letter for segment in read_subpaths(spelled)[number].segments[1:]]


@settings(max_examples=60)
@given(spelled_paths(), SHIFT, st.booleans(), st.data())
def test_a_line_more_is_all_that_is_added(
    spelling: tuple[str, str], shift: complex, at_start: bool, data: st.DataObject
) -> None:
    spelled, plain = spelling
    texts = subpaths_of(plain)
    assume(open_subpaths(texts) and abs(shift) > 1e-3)
    number = data.draw(st.sampled_from(open_subpaths(texts)))
    old = curves_of(texts[number])
    end = complex(old[0][0] if at_start else old[-1][-1])
    changed = rewrite(spelled, {number: Extend(at_start, end + shift)}, DECIMALS)
    line: Complex = np.asarray(end + shift * (1 - STEPS if at_start else STEPS), np.complex128)
    expected = [curves_of(text) for text in texts]
    expected[number] = [line, *old] if at_start else [*old, line]
    assert_same(curves_of(changed), joined(expected))
    assert_kept(spelled, changed, {number})


# Shapes as paths


def read(shape: Shape) -> npt.NDArray[np.float64]:
    geometry = read_geometry([shape], np.array([[1.0, 0, 0, 1, 0, 0]]), 0.01)
    return geometry.points


POLYS = st.builds(
    lambda points, closed: PolyShape(" ".join(f"{x},{y}" for x, y in points), closed),
    st.lists(st.tuples(st.integers(-99, 99), st.integers(-99, 99)), max_size=6),
    st.booleans(),
)


@settings(max_examples=80)
@given(SHAPES | POLYS)
def test_a_shape_as_a_path_is_the_same_line(shape: Shape) -> None:
    # Point by point, so that distances along it are the same. Against formulas: see below.
    np.testing.assert_allclose(read(PathShape(data_of_shape(shape, 3))), read(shape), atol=1e-8)


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        # SVG 2, 10.2 to 10.7: the equivalent paths of the basic shapes.
        (RectShape(1, 2, 30, 40), "M 1 2 L 31 2 L 31 42 L 1 42 L 1 2 z"),
        (
            RectShape(0, 0, 8, 4, 2, None),
            "M 2 0 L 6 0 A 2 2 0 0 1 8 2 A 2 2 0 0 1 6 4 L 2 4 A 2 2 0 0 1 0 2 A 2 2 0 0 1 2 0 z",
        ),
        (
            EllipseShape(5, 5, 2, 1),
            "M 7 5 A 2 1 0 0 1 5 6 A 2 1 0 0 1 3 5 A 2 1 0 0 1 5 4 A 2 1 0 0 1 7 5 z",
        ),
        (LineShape(1, 2, 3.5, 4), "M 1 2 L 3.5 4"),
        (PolyShape(" 1,2 3-4", closed=False), "M 1 2 L 3 -4"),
        (PolyShape("1,2 3-4 .5.5", closed=True), "M 1 2 L 3 -4 L 0.5 0.5 z"),
        (PolyShape(" ", closed=True), ""),
        (RectShape(1, 2, 0, 4), ""),
        (PathShape("M1 1h2"), "M1 1h2"),
    ],
)
def test_the_path_of_a_shape(shape: Shape, expected: str) -> None:
    assert data_of_shape(shape, 3) == expected


def test_the_path_of_a_circle_has_its_length() -> None:
    path: Any = svgpathtools.parse_path(data_of_shape(EllipseShape(1 / 3, 7, 20, 20), 3))
    assert path.length() == pytest.approx(2 * np.pi * 20, rel=1e-9)


@pytest.mark.parametrize(
    "shape", [PolyShape("1,2 3", closed=True), RectShape(0, 0, -1, 2), PathShape("M1 1h2x")]
)
def test_a_shape_with_a_fault_is_refused(shape: Shape) -> None:
    with pytest.raises(Refused):
        data_of_shape(shape, 3)
