"""Path data: the grammar and error rules of SVG 2, chapter 9, and two independent readers.

References: svgpathtools 1.8.0 and svgelements 1.9.6, which share no code with this project nor with
each other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import shapely
import svgelements
import svgpathtools
from hypothesis import given, settings
from hypothesis import strategies as st

from matready.lint.reading.faults import path_up_to_fault
from matready.lint.reading.geometry import Geometry, read_geometry
from matready.lint.reading.pathdata import draw_path, read_commands
from matready.lint.reading.shapes import PathShape
from matready.lint.reading.strokes import Strokes

Floats = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

IDENTITY = np.array([[1.0, 0, 0, 1, 0, 0]])
# No round number, so that no curve stands just at the border between two counts of steps.
FLATTEN_MM = 0.0101234567


def read(*texts: str) -> Geometry:
    """The geometry of paths whose user unit is a millimetre."""
    shapes = [PathShape(text) for text in texts]
    return read_geometry(shapes, IDENTITY.repeat(len(shapes), axis=0), FLATTEN_MM)


def lines_of(geometry: Geometry) -> list[list[tuple[float, float]]]:
    """The lines as lists of points."""
    cuts = geometry.offsets[1:-1]
    return [[tuple(p) for p in line.tolist()] for line in np.split(geometry.points, cuts)]


# The grammar


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # SVG 2, 9.3.9: numbers end where the next one can begin.
        ("M 100-200 0 0", [[(100, -200), (0, 0)]]),
        ("M 0.6.5 L1.5.5", [[(0.6, 0.5), (1.5, 0.5)]]),
        ("M.1.2.3.4.5.6", [[(0.1, 0.2), (0.3, 0.4), (0.5, 0.6)]]),
        ("M1e1-2E+0 1e-1.5", [[(10, -2), (0.1, 0.5)]]),
        ("M1e1.5 2 3", [[(10, 0.5), (2, 3)]]),
        ("M+1+2-3-.4", [[(1, 2), (-3, -0.4)]]),
        ("M007 00.5 1 01", [[(7, 0.5), (1, 1)]]),
        # A dot with no digit after it is of SVG 1.1 only; viewers read it.
        ("M1. 2. 3.,4.", [[(1, 2), (3, 4)]]),
        ("M1..5 2 3", [[(1, 0.5), (2, 3)]]),
        # White space may be left out around letters, and form feed is white space since SVG 2.
        ("\f\n\r\t M\f1\n2\r3\t4 ", [[(1, 2), (3, 4)]]),
        ("M0,0L3 ,\n4", [[(0, 0), (3, 4)]]),
        # 9.3.3: further pairs are lines; a first m is absolute, its further pairs are not.
        ("m 10 10 20 0 0 20", [[(10, 10), (30, 10), (30, 30)]]),
        ("M 10 10 20 0 0 20", [[(10, 10), (20, 0), (0, 20)]]),
        ("M10 10 L20 20 m5 5 l2 2", [[(10, 10), (20, 20)], [(25, 25), (27, 27)]]),
        # 9.3.4: after z the current point is the start of the sub-path.
        ("M10 10 L20 20 z m5 5 l2 2", [[(10, 10), (20, 20), (10, 10)], [(15, 15), (17, 17)]]),
        ("M0,0 L10,10 Z L5,5", [[(0, 0), (10, 10), (0, 0)], [(0, 0), (5, 5)]]),
        ("M1 1h4v4zm0 9h1", [[(1, 1), (5, 1), (5, 5), (1, 1)], [(1, 10), (2, 10)]]),
        ("M1 1h4zzZh1", [[(1, 1), (5, 1), (1, 1)], [(1, 1), (2, 1)]]),
        # 9.3.5: runs of one command.
        ("M0 0h1 2 3v1-1", [[(0, 0), (1, 0), (3, 0), (6, 0), (6, 1), (6, 0)]]),
        ("M0 0H1 2 3V1-1", [[(0, 0), (1, 0), (2, 0), (3, 0), (3, 1), (3, -1)]]),
        # 9.5.1: an arc of no radius is a line, one that ends where it starts is left out.
        ("M0 0 A0 5 0 0 1 10 0", [[(0, 0), (10, 0)]]),
        ("M0 0 L5 0 A3 3 0 1 1 5 0 L5 5", [[(0, 0), (5, 0), (5, 5)]]),
    ],
)
def test_numbers_and_commands_are_read_by_the_grammar(
    text: str, expected: list[list[tuple[float, float]]]
) -> None:
    geometry = read(text)
    assert geometry.breaks == ()
    found = lines_of(geometry)
    assert [len(line) for line in found] == [len(line) for line in expected]
    for line, points in zip(found, expected, strict=True):
        np.testing.assert_allclose(line, points, rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("compact", "spaced"),
    [
        # SVG 2, 9.3.9: a flag is one character, and needs nothing between it and what follows.
        ("M0 0a1 1 0 0110 10", "M0 0 a 1 1 0 0 1 10 10"),
        ("M0 0a1 1 0 01.5.5", "M0 0 a 1 1 0 0 1 .5 .5"),
        ("M0 0a1 1 0 00-3-4", "M0 0 a 1 1 0 0 0 -3 -4"),
        ("M0 0a1 1 0 1 110 10", "M0 0 a 1 1 0 1 1 10 10"),
        ("M0 0a1,1,0,0,110,10", "M0 0 a 1 1 0 0 1 10 10"),
        ("M0 0a1 1 0 0 11e1 2", "M0 0 a 1 1 0 0 1 10 2"),
        ("M0 0A5 5 0 0110 10 3 3 0 1020 0", "M0 0 A5 5 0 0 1 10 10 A3 3 0 1 0 20 0"),
        # The path of paths-data-20-f in the SVG 1.1 test suite.
        ("M200,120 h-25 a25,25 0 1125,25 z", "M200,120 h-25 a25,25 0 1 1 25,25 z"),
        # 9.5.1 takes negative radii for positive ones; the figure of 9.3.8 turns by -30.
        ("M0 0a-5-3-30 01 9 2", "M0 0a5 3 -30 0 1 9 2"),
    ],
)
def test_arc_flags_need_no_separators(compact: str, spaced: str) -> None:
    a, b = read(compact), read(spaced)
    assert a.breaks == b.breaks == ()
    assert len(a.points) > 3  # it is a curve
    np.testing.assert_array_equal(a.points, b.points)


@pytest.mark.parametrize(
    ("smooth", "plain"),
    [
        # SVG 2, 9.3.6: the first control point of S is the second of the C or S before, mirrored.
        ("M0 0C1 2 3 5 4 4S7 1 8 0 9 9 9 1", "M0 0C1 2 3 5 4 4C5 3 7 1 8 0C9 -1 9 9 9 1"),
        ("M0 0c1 2 3 5 4 4s3-3 4-4", "M0 0C1 2 3 5 4 4C5 3 7 1 8 0"),
        # After any other command it is the current point.
        ("M1 1S2 3 4 4", "M1 1C1 1 2 3 4 4"),
        ("M0 0Q2 3 4 4S7 1 8 0", "M0 0Q2 3 4 4C4 4 7 1 8 0"),
        ("M0 0C1 2 3 5 4 4zS7 1 8 0", "M0 0C1 2 3 5 4 4zM0 0C0 0 7 1 8 0"),
        ("M0 0C1 2 3 5 4 4M4 4S7 1 8 0", "M0 0C1 2 3 5 4 4M4 4C4 4 7 1 8 0"),
        # 9.3.7: the same for T after Q or T.
        ("M0 0Q1 2 4 4T8 0 9 9", "M0 0Q1 2 4 4Q7 6 8 0Q9 -6 9 9"),
        ("M0 0q1 2 4 4t4-4", "M0 0Q1 2 4 4Q7 6 8 0"),
        ("M1 1T5 5", "M1 1Q1 1 5 5"),
        ("M0 0C1 2 3 5 4 4T8 0", "M0 0C1 2 3 5 4 4Q4 4 8 0"),
    ],
)
def test_smooth_curves_mirror_the_control_point_of_their_own_kind(smooth: str, plain: str) -> None:
    a, b = read(smooth), read(plain)
    assert a.breaks == b.breaks == ()
    np.testing.assert_array_equal(a.offsets, b.offsets)
    np.testing.assert_allclose(a.points, b.points, rtol=0, atol=1e-12)


# The error rule: SVG 2, 9.5.4, draws up to the segment in error


@pytest.mark.parametrize(
    ("text", "kept", "offset", "reason"),
    [
        ("M 10,10 L 20,20,30", "M10 10L20 20", 18, "a number is missing"),  # 9.5.4's own example
        ("M0 0L1 1L2", "M0 0L1 1", 10, "a number is missing"),
        ("M0 0L1 1 2 L3 3", "M0 0L1 1", 11, "a number is missing"),
        ("M0 0L1 1,z", "M0 0L1 1", 9, "a number is missing"),
        ("M0 0L1 1,", "M0 0L1 1", 9, "a number is missing"),
        ("M0 0L1,,1", "M0 0", 7, "a number is missing"),
        ("M0 0L,1 1", "M0 0", 5, "a number is missing"),
        ("M0 0L1 1,L2 2", "M0 0L1 1", 9, "a number is missing"),
        ("M0 0h5hv5", "M0 0h5", 7, "a number is missing"),
        ("M0 0C1 1 2 2 3 3 4 4", "M0 0C1 1 2 2 3 3", 20, "a number is missing"),
        ("M", "", 1, "a number is missing"),
        ("M0 0 h5 x 1 h5", "M0 0h5", 8, "'x' is not a path command"),
        ("M0 0h5 R3", "M0 0h5", 7, "'R' is not a path command"),
        ("M0 0h5z 3 3", "M0 0h5z", 8, "'3' is not a path command"),
        ("M0 0h5,", "M0 0h5", 7, "a number is missing"),
        ("M0 0h5z,h5", "M0 0h5z", 7, "',' is not a path command"),
        ("L5 5", "", 0, "path data must begin with M"),
        (" 5 5", "", 1, "path data must begin with M"),
        ("zM0 0h5", "", 0, "path data must begin with M"),
        (",M0 0h5", "", 0, "path data must begin with M"),
        # Words and signs that a programming language may take for a part of a number.
        ("M0 0h5 1_0", "M0 0h5 1", 8, "'_' is not a path command"),
        ("M0 0L1_0 2", "M0 0", 6, "'_' is not a number"),
        ("M0 0h5L inf 0", "M0 0h5", 8, "'i' is not a number"),
        ("M0 0h5L nan 0", "M0 0h5", 8, "'n' is not a number"),
        ("M0 0h5L １ 0", "M0 0h5", 8, "'１' is not a number"),
        ("M0 0h5\u00a0h5", "M0 0h5", 6, r"'\xa0' is not a path command"),
        ("M0 0h5\x0bh5", "M0 0h5", 6, r"'\x0b' is not a path command"),
        ("M0 0h5!h5", "M0 0h5", 6, "'!' is not a path command"),
        ("M0 0h--5", "M0 0", 5, "'-' is not a number"),
        ("M0 0h5e", "M0 0h5", 6, "'e' is not a path command"),
        ("M0 0h5e -1", "M0 0h5", 6, "'e' is not a path command"),
        ("M0 0h0x10", "M0 0h0", 6, "'x' is not a path command"),
        ("M0 0h.", "M0 0", 5, "'.' is not a number"),
        # 9.3.9: no other flag than 0 and 1.
        ("M0 0h1A5 5 0 2 1 9 0", "M0 0h1", 13, "an arc flag must be 0 or 1, not '2'"),
        ("M0 0h1A5 5 0 0 -1 9 0", "M0 0h1", 15, "an arc flag must be 0 or 1, not '-'"),
        ("M0 0A5 5 0 1 1.0 9 0", "M0 0A5 5 0 1 1 0 9", 20, "a number is missing"),
        ("M0 0h1A5 5 0 0 1 9", "M0 0h1", 18, "a number is missing"),
    ],
)
def test_a_fault_keeps_what_stands_before_it(
    text: str, kept: str, offset: int, reason: str
) -> None:
    # A neighbour before and after: one faulty text leaves the others of its file alone.
    geometry = read("M1 1h5", text, "M2 2v7")
    expected = read("M1 1h5", kept, "M2 2v7")
    assert expected.breaks == ()
    assert [(b.owner, b.offset, b.reason) for b in geometry.breaks] == [(1, offset, reason)]
    np.testing.assert_array_equal(geometry.points, expected.points)
    np.testing.assert_array_equal(geometry.owner, expected.owner)


@pytest.mark.parametrize("text", ["", " ", "\n\t", "none", " none "])
def test_no_data_draws_nothing_and_is_no_fault(text: str) -> None:
    """SVG 2, 9.3.9: an empty d, and the keyword none, switch the path off."""
    geometry = read(text)
    assert (len(geometry.points), geometry.breaks, geometry.dots) == (0, (), 0)


PIECES = [*"MmZzLlHhVvCcSsQqTtAa", *"0123456789", "-", "+", ".", ",", " ", "\n", "e", "E", "_", "!"]
WORDS = ["M1 1", "m2-3", "h5", "v-.5", "a1 1 0 01", "A5 4 3 1 0 9 9", "1e2", "1e-1", "5.", ".5.5",
         " 0 ", "00", "l1 1", "c1 2 3 4 5 6", "1e999", "1e300", "z", "t1 2", "inf"]  # fmt: skip
ANY_TEXT = st.one_of(
    st.text(max_size=30),
    st.lists(st.sampled_from(PIECES), max_size=20).map("".join),
    st.lists(st.sampled_from(WORDS + PIECES), max_size=12).map(lambda rest: "M0 0" + "".join(rest)),
)


@settings(max_examples=250)
@given(ANY_TEXT, ANY_TEXT)
def test_any_text_is_read_up_to_a_place_that_is_told(text: str, other: str) -> None:
    geometry = read(text, other)
    assert np.isfinite(geometry.points).all()
    assert (np.diff(geometry.offsets) >= 2).all()
    assert geometry.offsets[-1] == len(geometry.points)
    upto = [text, other]
    for each in geometry.breaks:
        assert 0 <= each.offset <= len(upto[each.owner])
        upto[each.owner] = upto[each.owner][: each.offset]
    # What stands before the break is drawn, and all of it.
    again = read(*upto)
    np.testing.assert_array_equal(again.points, geometry.points)
    np.testing.assert_array_equal(again.offsets, geometry.offsets)


@settings(max_examples=400)
@given(ANY_TEXT)
def test_the_quick_reader_reads_as_the_exact_one_does_or_declines(text: str) -> None:
    quick, exact = Strokes(), Strokes()
    [commands] = read_commands([text])
    found = path_up_to_fault(text)
    draw_path(found.commands, exact)
    assert len(found.offsets) == len(exact.kinds)
    if commands is None:
        return
    try:
        draw_path(commands, quick)
    except ValueError:
        assert found.fault is not None
        return
    assert found.fault is None
    assert (quick.kinds, quick.coords) == (exact.kinds, exact.coords)


def test_the_quick_reader_takes_what_real_files_are_written_in() -> None:
    """What exporters and minifiers write is not left to the slow reader."""
    texts = [
        "m1.5.5-.5 1e-3L-1.5,-2 3,4zM0 0H5v-.5",
        "M0 0a1 1 0 0110 10 1 1 0 01.5.5 1 1 0 1 0 5 5A5,5 -30 0,1 2,3z",
        "M1,2\n\tC 3,4 5,6 7,8 S 1 2 3 4 Q 1 2 3 4 T 5 6 Z",
    ]
    assert all(commands is not None for commands in read_commands(texts))


# Numbers out of range


@pytest.mark.parametrize(
    ("text", "kept", "offset"),
    [
        ("M0 0L5 5L1e999 0L6 6", "M0 0L5 5", 8),
        ("M0 0L5 5 1e999 0 6 6", "M0 0L5 5", 9),
        ("M0 0L5 5,1e300 0,6 6", "M0 0L5 5", 9),
        ("M0 0h5zl1e308 0zl1e308 0", "M0 0h5z", 7),
        ("M0 0h5l1e308 0l1e308 0l-1e308 0", "M0 0h5", 6),
        ("M1e999 0h5", "", 0),
        ("M0 0h5C1e200 0 0 0 6 6h1", "M0 0h5", 6),
        ("M0 0h5A1e999 1 0 0 1 6 6h1", "M0 0h5", 6),
        ("M0 0h5A5 5 1e999 0 1 6 6h1", "M0 0h5", 6),
        ("M0 0h5A1e200 1e200 0 1 1 6 6h1", "M0 0h5", 6),
        ("M0 0h5L1e300 0 h", "M0 0h5", 6),
    ],
)
def test_a_number_out_of_range_is_a_fault(text: str, kept: str, offset: int) -> None:
    geometry = read("M1 1h5", text, "M2 2v7")
    reason = "a number is too large"
    assert [(b.owner, b.offset, b.reason) for b in geometry.breaks] == [(1, offset, reason)]
    np.testing.assert_array_equal(geometry.points, read("M1 1h5", kept, "M2 2v7").points)


# Any spelling of the same path: absolute or relative, long or short, loose or tight


@dataclass
class Speller:
    """Writes random segments twice: by any rule of the grammar, and plainly.

    Places are whole eighths, so that sums of them are exact, and what is relative is as well.
    """

    draw: st.DrawFn
    text: str = ""
    plain: str = ""
    letter: str = ""
    x: int = 0
    y: int = 0
    start: tuple[int, int] = (0, 0)
    control: tuple[str, int, int] = ("", 0, 0)

    def number(self, value: int, flag: bool = False) -> None:
        """One number, with as much before it as it needs, or more."""
        forms = [str(value)] if flag else _spellings(value)
        word = self.draw(st.sampled_from(forms))
        gaps = [" ", ",", "\n", " , ", "\t\r "]
        last = self.text[-1:]
        number = self.text[max(self.text.rfind(c) for c in "- ,\n\t" + self.letter) + 1 :]
        if last.isalpha():
            gaps = ["", " ", "\f"]
        elif word[0] in "+-" or (word[0] == "." and "." in number and "e" not in number):
            gaps.append("")
        self.text += self.draw(st.sampled_from(gaps)) + word

    def command(self, letter: str, numbers: list[int], to: tuple[int, int]) -> None:
        """One segment that ends at `to`; numbers come in pairs of absolute x and y."""
        relative = self.draw(st.booleans())
        letter = letter.lower() if relative else letter
        follows = {"M": "L", "m": "l"}.get(self.letter, self.letter)
        if letter != follows or letter in "Zz" or self.draw(st.booleans()):
            self.text += self.draw(st.sampled_from(["", " "])) + letter
            self.letter = letter
        if letter in "HhVv":
            numbers = [to[0]] if letter in "Hh" else [to[1]]
            base = [self.x] if letter in "Hh" else [self.y]
        else:
            base = [self.x, self.y] * (len(numbers) // 2)
        for value, here in zip(numbers, base, strict=True):
            self.number(value - here if relative else value)
        self.x, self.y = to


def _spellings(value: int) -> list[str]:
    """An eighth, as a decimal number in several forms."""
    exact = f"{value / 8:.3f}"
    short = exact.rstrip("0").rstrip(".")
    bare = short.replace("0.", ".", 1) if abs(value) < 8 and value else short
    forms = [exact, short, bare, f"{value * 125}e-3", f"{value * 125}E-03", f"{value * 1250}.0e-4"]
    return forms if value < 0 else [*forms, "+" + exact]


COORDINATE = st.integers(-9999, 9999)


def _arc(speller: Speller, to: tuple[int, int]) -> None:
    """An arc that is no near half turn: there the last digit decides, and readers differ."""
    draw = speller.draw
    rx, ry = draw(st.integers(1, 9999)), draw(st.integers(1, 9999))
    turn = draw(st.integers(-200, 400))
    large, sweep = draw(st.integers(0, 1)), draw(st.integers(0, 1))
    half = complex(to[0] - speller.x, to[1] - speller.y) / 2
    half *= np.exp(-1j * np.radians(turn))
    if 0.9 < abs(complex(half.real / rx, half.imag / ry)) < 1.1:
        rx, ry = 2 * rx, 2 * ry
    relative = draw(st.booleans())
    speller.letter = "a" if relative else "A"
    speller.text += speller.letter
    for value in (rx, ry, turn * 8):
        speller.number(value)
    for value in (large, sweep):
        speller.number(value, flag=True)
    here = (speller.x, speller.y) if relative else (0, 0)
    for value, base in zip(to, here, strict=True):
        speller.number(value - base)
    plain = f"A{rx / 8} {ry / 8} {turn} {large} {sweep} "
    speller.plain += f"{plain}{to[0] / 8} {to[1] / 8}\n"
    speller.x, speller.y = to


def _segment(speller: Speller) -> None:
    draw = speller.draw
    letter = draw(st.sampled_from("MZLHVCSQTA"))
    to = (draw(COORDINATE), draw(COORDINATE))
    here, control = (speller.x, speller.y), speller.control
    speller.control = ("", 0, 0)
    if speller.letter in "Zz" and letter not in "MZ":
        speller.plain += f"M{here[0] / 8} {here[1] / 8}\n"
    if letter == "A":
        if to != here:
            _arc(speller, to)
        return
    if letter == "Z":
        to, numbers = speller.start, []
    elif letter == "M":
        numbers, speller.start = [*to], to
    elif letter in "HV":
        to = (to[0], here[1]) if letter == "H" else (here[0], to[1])
        numbers = [*to]
    else:
        inner = {"L": 0, "C": 2, "S": 1, "Q": 1, "T": 0}[letter]
        controls = [(draw(COORDINATE), draw(COORDINATE)) for _ in range(inner)]
        numbers = [value for point in (*controls, to) for value in point]
    speller.command(letter, list(numbers), to)
    if letter in "ST":  # SVG 2, 9.3.6 and 9.3.7: the control point before is mirrored
        same = control[0] == {"S": "C", "T": "Q"}[letter]
        mirrored = (2 * here[0] - control[1], 2 * here[1] - control[2]) if same else here
        numbers = [*mirrored, *numbers]
    letter = {"S": "C", "T": "Q", "H": "L", "V": "L"}.get(letter, letter)
    if letter in "CQ":
        speller.control = (letter, numbers[-4], numbers[-3])
    speller.plain += letter + " ".join(str(value / 8) for value in numbers) + "\n"


@st.composite
def spelled_paths(draw: st.DrawFn) -> tuple[str, str]:
    """The same path by any rule of the grammar, and with absolute M, L, C, Q, A and Z alone."""
    speller = Speller(draw)
    speller.start = (draw(COORDINATE), draw(COORDINATE))
    speller.command("M", [*speller.start], speller.start)
    speller.plain = f"M{speller.x / 8} {speller.y / 8}\n"
    for _ in range(draw(st.integers(1, 8))):
        _segment(speller)
    return speller.text, speller.plain


@settings(max_examples=120)
@given(spelled_paths())
def test_all_spellings_of_a_path_are_the_same_path(spelling: tuple[str, str]) -> None:
    spelled, plain = (read(text) for text in spelling)
    assert spelled.breaks == plain.breaks == ()
    np.testing.assert_array_equal(spelled.offsets, plain.offsets)
    np.testing.assert_array_equal(spelled.closed, plain.closed)
    np.testing.assert_array_equal(spelled.subpath, plain.subpath)
    assert spelled.dots == plain.dots
    np.testing.assert_allclose(spelled.points, plain.points, rtol=0, atol=1e-8)


# Two independent readers


def by_svgpathtools(spelled: str, plain: str) -> list[Complex]:
    """The curves of a path, each as many points on it, without the moves between them."""
    steps = np.linspace(0, 1, 200)
    segments: Any = svgpathtools.parse_path(spelled)
    return [np.array([segment.point(t) for t in steps]) for segment in segments]


def by_svgelements(spelled: str, plain: str) -> list[Complex]:
    """The same; T after C mirrors the cubic's control point here, so the plain text is read."""
    steps = np.linspace(0, 1, 200)
    segments: Any = svgelements.Path(plain)
    drawn = [each for each in segments if not isinstance(each, svgelements.Move)]
    return [segment.npoint(steps) @ np.array([1, 1j]) for segment in drawn]


@pytest.mark.parametrize("reference", [by_svgpathtools, by_svgelements])
@settings(max_examples=40)
@given(spelling=spelled_paths())
def test_independent_readers_find_the_same_outline(
    reference: Callable[[str, str], list[Complex]], spelling: tuple[str, str]
) -> None:
    geometry = read(spelling[0])
    curves = reference(*spelling)
    curves = [curve for curve in curves if np.ptp(curve.real) + np.ptp(curve.imag) > 1e-9]
    assert bool(curves) == bool(len(geometry.points))
    if not curves:
        return
    points = geometry.points.view(np.complex128)[:, 0]
    ours = lines_through(np.split(points, geometry.offsets[1:-1]))
    # Our points lie on the curve, and their chords are off it by about an eighth of the second
    # difference of their points, which are at equal steps.
    chords = max(np.abs(np.diff(curve, 2)).max() for curve in curves) / 8
    assert distances(points, lines_through(curves)).max() < 1.2 * chords + 1e-6
    # Where radii grow to a half turn, both find the centre only to the root of the last digit.
    assert distances(np.concatenate(curves), ours).max() < FLATTEN_MM + 5e-5


def lines_through(lines: list[Complex]) -> shapely.MultiLineString:
    pairs = [line.view(np.float64).reshape(-1, 2) for line in lines]
    return shapely.MultiLineString([shapely.LineString(points) for points in pairs])


def distances(points: Complex, to: shapely.MultiLineString) -> Floats:
    return np.asarray(shapely.distance(shapely.points(points.real, points.imag), to))
