"""What is cut twice is cut once: every place stays, and none is left on which two lines lie.

References: svgelements 1.9.6 reads source and copy; shapely (GEOS) tells how far they lie apart.
Length and place of what has to be left are those of a drawing made by hand.
"""

from __future__ import annotations

import re
from math import pi

import pytest
from lxml import etree

from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings

from tests.drawn import CUT, FOLD, STRUCTURE, page, path
from tests.spoiling.reading import length, lines_of, strays

THINNING = Settings(only=frozenset({"double-cut"}))
SAME_MM = 0.05
LENGTH_MM = 0.01

SQUARE = "M20 20H60V60H20Z"
BESIDE = "M60 20H100V60H60Z"
# What is drawn, path by path, and the same drawn without a line that lies on another.
DOUBLED: dict[str, tuple[list[str], list[str]]] = {
    "a copy": ([SQUARE, SQUARE], [SQUARE]),
    "three copies": ([SQUARE, SQUARE, SQUARE], [SQUARE]),
    "the other way round": ([SQUARE, "M20 20V60H60V20Z"], [SQUARE]),
    "from another corner": ([SQUARE, "M60 60H20V20H60Z"], [SQUARE]),
    "from the middle of a side": ([SQUARE, "M40 20H60V60H20V20Z"], [SQUARE]),
    "without Z": ([SQUARE, "M20 20H60V60H20V20"], [SQUARE]),
    "side by side": ([SQUARE, "M20 20H60", "M60 20V60", "M60 60H20", "M20 60V20"], [SQUARE]),
    "twice in one path": ([SQUARE + SQUARE], [SQUARE]),
    "twice round": (["M20 20H60V60H20V20H60V60H20Z"], [SQUARE]),
    "there and back": ([SQUARE, "M30 20V40V20"], [SQUARE, "M30 20V40"]),
    "one side more": ([SQUARE, "M20 20H60"], [SQUARE]),
    "part of a side": ([SQUARE, "M30 20H50"], [SQUARE]),
    "part of a side and on": ([SQUARE, "M40 20H90"], [SQUARE, "M60 20H90"]),
    "on at both ends": ([SQUARE, "M10 20H90"], [SQUARE, "M10 20H20M60 20H90"]),
    "round a corner": ([SQUARE, "M40 20H60V50"], [SQUARE]),
    "an edge of two panels": ([SQUARE, BESIDE], [SQUARE, "M60 20H100V60H60"]),
    "part of an edge": ([SQUARE, "M60 30H100V80H60Z"], [SQUARE, "M60 30H100V80H60V60"]),
    "an edge in one path": ([SQUARE + BESIDE], [SQUARE, "M60 20H100V60H60"]),
    "four panels": (
        [SQUARE, BESIDE, "M20 60H60V100H20Z", "M60 60H100V100H60Z"],
        ["M20 20H100V100H20Z", "M60 20V100M20 60H100"],
    ),
    "a curve": (["M20 40C20 10 60 10 60 40Z", "M60 40C60 10 20 10 20 40"],
                ["M20 40C20 10 60 10 60 40Z"]),
    # De Casteljau at one half.
    "half of a curve": (["M20 40C20 10 60 10 60 40Z", "M20 40C20 25 30 17.5 40 17.5"],
                        ["M20 40C20 10 60 10 60 40Z"]),
    "half of a curve and on": (["M20 40C20 10 60 10 60 40Z", "M20 40C20 25 30 17.5 40 17.5V5"],
                               ["M20 40C20 10 60 10 60 40Z", "M40 17.5V5"]),
    "a quadratic": (["M20 40Q40 0 60 40Z", "M20 40Q40 0 60 40"], ["M20 40Q40 0 60 40Z"]),
    "arcs": (["M20 40A20 20 0 0 1 60 40Z", "M60 40A20 20 0 0 0 20 40"],
             ["M20 40A20 20 0 0 1 60 40Z"]),
    "part of an arc": (["M20 40A20 20 0 0 1 60 40Z", "M40 20A20 20 0 0 1 60 40"],
                       ["M20 40A20 20 0 0 1 60 40Z"]),
    "an arc that goes on": (["M20 40A20 20 0 0 1 60 40Z", "M40 20A20 20 0 0 1 40 60"],
                            ["M20 40A20 20 0 0 1 60 40Z", "M60 40A20 20 0 0 1 40 60"]),
    "two runs on one line": ([SQUARE, "M10 20H25M30 20H40V30H45V20H55"],
                             [SQUARE, "M10 20H20M40 20V30H45V20"]),
    "relative letters": (["m20 20h40v40h-40z", "m20 20h40v40h-40zm5 5h10v10h-10z"],
                         [SQUARE, "M25 25H35V35H25Z"]),
}  # fmt: skip
FRAMES = {
    "plain": "",
    "turned": "rotate(20 40 40)",
    "mirrored": "translate(100 5) scale(-1 1)",
    "small units": "matrix(.5 0 0 .5 10 10)",
    "slanted": "translate(10 0) skewX(20) scale(1.1 .9)",
}


def _sheet(data: list[str], frame: str = "") -> bytes:
    body = "".join(path(d, "") for d in data)
    return page(f"<g {CUT}{f' transform={frame!r}' if frame else ''}>{body}</g>".replace("'", '"'))


def _thinned(data: bytes) -> Repaired:
    return repair(data, "stage.svg", STRUCTURE, THINNING)


def _check(data: bytes, copy: Repaired, once: bytes) -> None:
    """All places are still there, none of them twice."""
    before, after, expected = lines_of(data), lines_of(copy.data), lines_of(once)
    assert length(before) > length(expected) + 1
    assert length(after) == pytest.approx(length(expected), abs=LENGTH_MM)
    for one, other in ((before, after), (after, before), (expected, after), (after, expected)):
        assert len(strays(one, other, SAME_MM)) == 0
    assert copy.moved_mm <= SAME_MM


# The independent reader lays slanted arcs elsewhere: it takes their axes to stay at right angles.
CASES = [
    (name, frame)
    for name, (drawn, _) in DOUBLED.items()
    for frame in FRAMES
    if frame != "slanted" or "A" not in "".join(drawn)
]


@pytest.mark.parametrize(("name", "frame"), CASES)
def test_each_place_is_cut_once(name: str, frame: str) -> None:
    drawn, once = DOUBLED[name]
    data = _sheet(drawn, FRAMES[frame])
    copy = _thinned(data)
    assert copy.not_fixed == ()
    assert copy.fixed
    _check(data, copy, _sheet(once, FRAMES[frame]))
    found = lint_bytes(copy.data, "copy.svg", STRUCTURE)
    assert [f.rule for f in found.findings if f.rule in ("double-cut", "hairline-gap")] == []
    assert len(found.pieces) == len(lint_bytes(data, "stage.svg", STRUCTURE).pieces)
    assert _thinned(copy.data).data == copy.data


ROUND = "M25 20H55a5 5 0 0 1 5 5V55a5 5 0 0 1-5 5H25a5 5 0 0 1-5-5V25a5 5 0 0 1 5-5Z"
# Shapes of two kinds in the same place; circles by circumference, SVG 2, 10.3.
SHAPES = {
    "rect": ('<rect x="20" y="20" width="40" height="40"/>', SQUARE, 160),
    "circle": ('<circle cx="40" cy="40" r="20"/>',
               "M20 40A20 20 0 0 1 60 40A20 20 0 0 1 20 40Z", 40 * pi),
    "ellipse": ('<ellipse cx="40" cy="40" rx="20" ry="20"/>',
                '<circle cx="40" cy="40" r="20"/>', 40 * pi),
    "polygon": ('<polygon points="20,20 60,20 60,60 20,60"/>', SQUARE, 160),
    "polyline": ('<polyline points="20,20 60,20 60,60 20,60 20,20"/>', SQUARE, 160),
    "line": ('<line x1="20" y1="20" x2="60" y2="20"/>', "M20 20H60", 40),
    "round rect": ('<rect x="20" y="20" width="40" height="40" rx="5"/>',
                   ROUND, 120 + 10 * pi),
}  # fmt: skip


@pytest.mark.parametrize("swap", [False, True], ids=["shape first", "path first"])
@pytest.mark.parametrize("name", SHAPES)
def test_of_a_shape_and_a_path_one_stays(name: str, swap: bool) -> None:
    one, other, length_mm = SHAPES[name]
    parts = [one, other if other.startswith("<") else path(other, "")]
    data = page(f"<g {CUT}>{''.join(parts[::-1] if swap else parts)}</g>")
    copy = _thinned(data)
    assert len(copy.fixed) == 1
    root = etree.fromstring(copy.data)
    assert len(root[0]) == 1
    assert length(lines_of(copy.data)) == pytest.approx(length_mm, abs=LENGTH_MM)


@pytest.mark.parametrize(
    ("shape", "left"),
    [
        ('<rect x="60" y="20" width="40" height="40"/>', "M60 20H100V60H60"),
        ('<polygon points="60,20 100,20 100,60 60,60"/>', "M60 20H100V60H60"),
        ('<polyline points="60,60 60,20 100,20 100,60"/>', "M60 20H100V60"),
        ('<rect x="60" y="10" width="30" height="60"/>', "M60 20V10H90V70H60V60"),
        ('<line x1="10" y1="20" x2="90" y2="20"/>', "M10 20H20M60 20H90"),
    ],
    ids=["rect", "polygon", "polyline", "longer rect", "line"],
)
def test_a_shape_that_shares_an_edge_becomes_a_path_of_what_is_left(shape: str, left: str) -> None:
    data = page(f"<g {CUT}>{path(SQUARE, '')}{shape}</g>")
    copy = _thinned(data)
    _check(data, copy, _sheet([SQUARE, left]))


# Which of two stays


def _left(*body: str) -> list[str]:
    """The ids of what is left."""
    copy = _thinned(page(*body))
    assert copy.not_fixed == ()
    ids = (element.get("id") for element in etree.fromstring(copy.data).iter())
    return [name for name in ids if name]


def test_the_one_that_is_grouped_with_its_folds_stays() -> None:
    group = f'<g id="wing">{path(SQUARE, name="wall")}{path("M20 30H60", FOLD, "crease")}</g>'
    stray = path(SQUARE, name="stray")
    assert _left(stray, group) == _left(group, stray) == ["wing", "wall", "crease"]


def test_the_one_that_has_a_name_stays() -> None:
    named, plain = path(SQUARE, name="wing"), path(SQUARE)
    assert _left(named, plain) == _left(plain, named) == ["wing"]


def test_a_group_that_is_there_twice_goes_as_a_whole() -> None:
    first, second = (
        f'<g id="wing-{n}">{path(SQUARE, name=f"wall-{n}")}'
        f"{path('M20 30H60', FOLD, f'crease-{n}')}</g>"
        for n in (1, 2)
    )
    assert _left(first, second) == ["wing-1", "wall-1", "crease-1"]


def test_a_shape_that_is_shown_twice_in_one_place_is_shown_once() -> None:
    defs = f"<defs><g id='wing' {CUT}>{path(SQUARE, '')}</g></defs>"
    data = page(defs, '<use href="#wing"/>', '<use href="#wing"/>')
    copy = _thinned(data)
    assert length(lines_of(copy.data)) == pytest.approx(160, abs=LENGTH_MM)
    assert copy.data.count(b"<use ") == 1


def test_what_is_drawn_in_several_places_is_not_cut_up() -> None:
    defs = f"<defs>{path('M0 0H40V40H0Z', CUT, 'wall')}</defs>"
    uses = '<use href="#wall" x="20" y="20"/><use href="#wall" x="60" y="20"/>'
    data = page(defs, uses)
    copy = _thinned(data)
    assert copy.data is data
    assert len(copy.not_fixed) == 1
    assert "drawn in several places" in copy.not_fixed[0].reason


def test_lines_that_only_cross_or_touch_are_left() -> None:
    data = page(path(SQUARE), path("M40 10V70"), path("M60 30H90"), path("M20 60L10 70"))
    assert _thinned(data).data is data


def test_a_fold_on_a_cut_is_left() -> None:
    data = page(path(SQUARE), path("M20 20H60", FOLD))
    assert _thinned(data).data is data


def test_sub_paths_that_are_not_doubled_keep_every_character() -> None:
    other = "M 70.50,70.50 h  10 v10 h -10 z"
    data = page(path(SQUARE), path(f"{SQUARE} {other}"))
    copy = _thinned(data)
    _check(data, copy, _sheet([SQUARE, other]))
    assert re.findall(rb' d="([^"]*)"', copy.data) == [SQUARE.encode(), other.encode()]
