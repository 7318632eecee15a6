"""Nets of solids whose surface is known in closed form come off the mat with that area.

A net of a solid with F faces, E edges and V corners is cut along a tree of V - 1 edges, so
F - 1 edges stay as folds and the outline has 2 (V - 1) sides; with a glue tab at each cut, every
edge of the solid is folded somewhere: E folds. (V - E + F = 2, Euler.)

Formulas and where they are published:
- the five regular solids, with V, E, F: table "Regular Polyhedron", geocities.ws/qxb4tech; the
  same values in MathWorld, "Platonic Solid" (the latter from memory);
- regular polygon n a^2 / (4 tan(pi / n)), apothem a / (2 tan(pi / n)): mathwords.com,
  "Area of a Regular Polygon";
- pyramid of height h on a regular polygon, slant sqrt(h^2 + apothem^2), side area half the
  perimeter times the slant: MathWorld, "Regular Pyramid";
- frustum, side area (p1 + p2) / 2 times the slant: MathWorld, "Pyramidal Frustum".
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from matready.lint.results import FileReport, SetFindingRecord
from matready.lint.runner import lint_bytes, lint_paths
from matready.lint.sets import check_sets
from matready.lint.settings import SettingsFinder
from matready.rules import RULES

from tests.drawn import STRUCTURE

Floats = npt.NDArray[np.float64]
Edge = tuple[int, int]

PAGE_MM = 300.0
TAB_MM = 5.0  # width of a glue tab; its ends run in by 1.75 widths, so that none meets a neighbour
TAB_RUN_MM = 1.75 * TAB_MM
AREA_SHARE = 0.001  # areas agree within 0.1 %
BOX_MM = 0.01  # nothing here is curved: only the four decimals of the coordinates are lost
MM_PER_PX = 25.4 / 96  # CSS Values and Units 3, absolute lengths


# The solids


@dataclass(frozen=True)
class Solid:
    """Corners (V, 3) in mm, faces as corner numbers, counter-clockwise from outside, and area."""

    name: str
    corners: Floats
    faces: tuple[tuple[int, ...], ...]
    area_mm2: float

    @property
    def edges(self) -> set[Edge]:
        """Each edge once, the lower corner number first."""
        return {_edge(a, b) for face in self.faces for a, b in _sides(face)}


def _sides(face: tuple[int, ...]) -> Iterator[Edge]:
    return ((face[i], face[(i + 1) % len(face)]) for i in range(len(face)))


def _edge(a: int, b: int) -> Edge:
    return (a, b) if a < b else (b, a)


def regular(name: str, corners: Sequence[tuple[float, ...]], edge_mm: float, area: float) -> Solid:
    """A regular solid about the origin, scaled to `edge_mm`; each outermost plane is a face."""
    points = np.array(corners, dtype=np.float64)
    gaps = np.linalg.norm(points[:, None] - points[None], axis=2)
    points *= edge_mm / gaps[gaps > 1e-9].min()
    faces = set()
    for trio in _triples(len(points)):
        normal = np.cross(points[trio[1]] - points[trio[0]], points[trio[2]] - points[trio[0]])
        if (length := float(np.linalg.norm(normal))) < 1e-9:
            continue
        height = points @ (normal / length)
        if height[trio[0]] > 0 and np.all(height <= height[trio[0]] + 1e-9):
            members = np.flatnonzero(height > height[trio[0]] - 1e-9)
            faces.add(_around(points, members, normal / length))
    return Solid(name, points, tuple(sorted(faces)), area)


def _triples(count: int) -> Iterator[tuple[int, int, int]]:
    return (
        (a, b, c)
        for a in range(count)
        for b in range(count)
        for c in range(count)
        if a != b and b != c and a != c
    )


def _around(points: Floats, members: npt.NDArray[np.intp], normal: Floats) -> tuple[int, ...]:
    """The corners of a face counter-clockwise about its normal, the lowest number first."""
    spokes = points[members] - points[members].mean(axis=0)
    across = np.cross(normal, spokes[0])
    angles = np.arctan2(spokes @ across / np.linalg.norm(across), spokes @ spokes[0])
    ring = [int(members[i]) for i in np.argsort(angles)]
    first = ring.index(min(ring))
    return tuple(ring[first:] + ring[:first])


def frustum(name: str, sides: int, base: float, top: float, height: float, area: float) -> Solid:
    """A frustum on a regular polygon; top == base is a prism, top == 0 a pyramid."""
    turns = np.arange(sides) * math.tau / sides
    circle = np.stack([np.cos(turns), np.sin(turns)], axis=1) / (2 * math.sin(math.pi / sides))
    low = np.column_stack([circle * base, np.zeros(sides)])
    bottom = tuple(reversed(range(sides)))
    following = [(i + 1) % sides for i in range(sides)]
    if top == 0:
        corners = np.vstack([low, [[0.0, 0.0, height]]])
        walls = tuple((i, following[i], sides) for i in range(sides))
        return Solid(name, corners, (bottom, *walls), area)
    corners = np.vstack([low, np.column_stack([circle * top, np.full(sides, height)])])
    walls4 = tuple((i, following[i], sides + following[i], sides + i) for i in range(sides))
    return Solid(name, corners, (bottom, *walls4, tuple(range(sides, 2 * sides))), area)


def polygon_area(sides: int, edge: float) -> float:
    """Area of a regular polygon: n a^2 / (4 tan(pi / n))."""
    return sides * edge**2 / (4 * math.tan(math.pi / sides))


def frustum_area(sides: int, base: float, top: float, height: float) -> float:
    """Both ends and half the sum of the perimeters times the slant."""
    step = (base - top) / (2 * math.tan(math.pi / sides))
    slant = math.hypot(height, step)
    ends = polygon_area(sides, base) + polygon_area(sides, top)
    return ends + sides * (base + top) / 2 * slant


def _signs(*values: float) -> list[tuple[float, ...]]:
    """Every combination of signs of the values that are not zero."""
    rows: list[tuple[float, ...]] = [()]
    for value in values:
        rows = [(*row, v) for row in rows for v in ((value, -value) if value else (0.0,))]
    return rows


GOLDEN = (1 + math.sqrt(5)) / 2
TETRAHEDRON = [(1.0, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)]
CUBE = _signs(1, 1, 1)
OCTAHEDRON = _signs(1, 0, 0) + _signs(0, 1, 0) + _signs(0, 0, 1)
ICOSAHEDRON = _signs(0, 1, GOLDEN) + _signs(1, GOLDEN, 0) + _signs(GOLDEN, 0, 1)
DODECAHEDRON = (
    CUBE
    + _signs(0, 1 / GOLDEN, GOLDEN)
    + _signs(1 / GOLDEN, GOLDEN, 0)
    + _signs(GOLDEN, 0, 1 / GOLDEN)
)

SOLIDS = (
    regular("tetrahedron", TETRAHEDRON, 70, math.sqrt(3) * 70**2),
    regular("cube", CUBE, 55, 6 * 55**2),
    regular("octahedron", OCTAHEDRON, 50, 2 * math.sqrt(3) * 50**2),
    regular("dodecahedron", DODECAHEDRON, 30, 3 * math.sqrt(25 + 10 * math.sqrt(5)) * 30**2),
    regular("icosahedron", ICOSAHEDRON, 36, 5 * math.sqrt(3) * 36**2),
    frustum("square-frustum", 4, 60, 20, 48, frustum_area(4, 60, 20, 48)),
    frustum("hexagon-frustum", 6, 36, 18, 48, frustum_area(6, 36, 18, 48)),
    frustum("hexagon-prism", 6, 30, 30, 75, frustum_area(6, 30, 30, 75)),
    frustum("octagon-prism", 8, 24, 24, 60, frustum_area(8, 24, 24, 60)),
    frustum("hexagon-pyramid", 6, 30, 0, 40, frustum_area(6, 30, 0, 40)),
)
solids = pytest.mark.parametrize("solid", SOLIDS, ids=lambda solid: solid.name)


# Their nets


@dataclass(frozen=True)
class Net:
    """A solid laid flat: each face's corners (k, 2) in mm, the folded and the cut edges."""

    solid: Solid
    faces: tuple[Floats, ...]
    folded: frozenset[Edge]

    def side(self, face: int, index: int) -> Floats:
        """The two ends (2, 2) of a side of a face, in the face's own direction."""
        return self.faces[face][[index, (index + 1) % len(self.faces[face])]]

    def folds(self) -> list[Floats]:
        """Both ends of each fold, once each."""
        ends = {}
        for number, face in enumerate(self.solid.faces):
            for index, (a, b) in enumerate(_sides(face)):
                if _edge(a, b) in self.folded:
                    ends[_edge(a, b)] = self.side(number, index)
        return list(ends.values())

    def rim(self) -> list[tuple[Edge, Floats]]:
        """The sides of the outline in order around it, each with the solid's edge it belongs to."""
        place = {
            side: (number, index)
            for number, face in enumerate(self.solid.faces)
            for index, side in enumerate(_sides(face))
        }
        first = next(side for side in place if _edge(*side) not in self.folded)
        walked: list[tuple[Edge, Floats]] = []
        side = first
        while not walked or side != first:
            walked.append((_edge(*side), self.side(*place[side])))
            side = self._next(place, side)
            while _edge(*side) in self.folded:  # over the fold into the neighbour's next side
                side = self._next(place, (side[1], side[0]))
        return walked

    def _next(self, place: dict[Edge, tuple[int, int]], side: Edge) -> Edge:
        number, index = place[side]
        face = self.solid.faces[number]
        index = (index + 1) % len(face)
        return face[index], face[(index + 1) % len(face)]


@cache
def unfolded(index: int) -> Net:
    """The net of SOLIDS[index], in the middle of the page; its faces do not overlap."""
    solid = SOLIDS[index]
    shared = {side: n for n, face in enumerate(solid.faces) for side in _sides(face)}
    flat = {0: _flat(solid, 0)}
    folded, queue = set(), [0]
    while queue:
        number = queue.pop(0)
        for a, b in _sides(solid.faces[number]):
            other = shared[(b, a)]
            if other not in flat:
                ends = [solid.faces[number].index(c) for c in (a, b)]
                flat[other] = _beside(solid, other, (a, b), flat[number][ends])
                folded.add(_edge(a, b))
                queue.append(other)
    laid = [flat[n] for n in range(len(solid.faces))]
    assert shapely.union_all([shapely.Polygon(f).buffer(-1e-6) for f in laid]).area > (
        sum(shapely.Polygon(f).area for f in laid) - 1e-2
    ), f"the faces of this {solid.name} net overlap: the test's own drawing is wrong"
    every = np.vstack(laid)
    shift = PAGE_MM / 2 - (every.min(axis=0) + every.max(axis=0)) / 2
    return Net(solid, tuple(face + shift for face in laid), frozenset(folded))


def _flat(solid: Solid, number: int) -> Floats:
    """A face in a plane of its own, counter-clockwise, its first side along x."""
    points = solid.corners[list(solid.faces[number])]
    along = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
    normal = np.cross(along, points[2] - points[1])
    up = np.cross(normal / np.linalg.norm(normal), along)
    return np.stack([(points - points[0]) @ along, (points - points[0]) @ up], axis=1)


def _beside(solid: Solid, number: int, side: Edge, ends: Floats) -> Floats:
    """A face moved so that its side lies on `ends`, the places of corners a and b."""
    flat = _flat(solid, number)
    own = flat[[solid.faces[number].index(corner) for corner in side]]
    z, w = ends @ [1, 1j], own @ [1, 1j]
    moved = z[0] + (flat @ np.array([1, 1j]) - w[0]) * ((z[1] - z[0]) / (w[1] - w[0]))
    return np.stack([moved.real, moved.imag], axis=1)


def outline_of(net: Net) -> Floats:
    """The corners of the outline in order, the first not repeated."""
    return np.array([ends[0] for _, ends in net.rim()])


def tabbed(net: Net) -> tuple[Floats, list[Floats], float]:
    """Outline with a glue tab at one of the two sides of each cut, the tabs' folds, their area.

    A tab is a trapezoid of width w on a side of length s, its ends running in by r: (s - r) w.
    """
    card = shapely.unary_union([shapely.Polygon(face) for face in net.faces])
    corners: list[Floats] = []
    folds: list[Floats] = []
    done: set[Edge] = set()
    area = 0.0
    for edge, ends in net.rim():
        corners.append(ends[0])
        tab = _tab(ends)
        clear = card.intersection(shapely.Polygon(tab)).area < 1e-3
        if edge not in done and clear:
            card = card.union(shapely.Polygon(tab).buffer(1e-6))
            corners.extend(tab[1:3])
            folds.append(ends)
            done.add(edge)
            area += (float(np.linalg.norm(ends[1] - ends[0])) - TAB_RUN_MM) * TAB_MM
    assert done == net.solid.edges - net.folded, "a tab found no room: the test's own drawing"
    assert shapely.Polygon(corners).is_valid
    return np.array(corners), folds, area


def _tab(ends: Floats) -> Floats:
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    out = np.array([along[1], -along[0]])  # faces run counter-clockwise: outside is on the right
    run, rise = along * TAB_RUN_MM, out * TAB_MM
    return np.array([ends[0], ends[0] + run + rise, ends[1] - run + rise, ends[1]])


# Ways to draw them


def page(content: str, per_mm: float = 1.0) -> bytes:
    """A square page with `per_mm` user units to the millimetre."""
    side = PAGE_MM * per_mm
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{PAGE_MM:g}mm" height="{PAGE_MM:g}mm"'
        f' viewBox="0 0 {side:g} {side:g}" fill="none" stroke="#222222">{content}</svg>'
    ).encode()


def listed(points: Floats) -> str:
    """Points as text, to a ten-thousandth of a unit."""
    return " ".join(f"{x:.4f},{y:.4f}" for x, y in points)


def as_one_outline(net: Net) -> bytes:
    """A closed path and one path per fold, told apart by class, in one group."""
    folds = "".join(f'<path class="score" d="M{listed(ends)}"/>' for ends in net.folds())
    outline = f'<path class="cut" d="M{listed(outline_of(net))}Z"/>'
    return page(f'<g id="{net.solid.name}">{outline}{folds}</g>')


def as_loose_lines(net: Net) -> bytes:
    """Every side a line of its own, folds with a dash pattern, all in a group scaled by ten."""

    def line(ends: Floats, more: str = "") -> str:
        (x1, y1), (x2, y2) = ends / 10
        return f'<line x1="{x1:.5f}" y1="{y1:.5f}" x2="{x2:.5f}" y2="{y2:.5f}"{more}/>'

    cuts = "".join(line(ends) for _, ends in net.rim())
    folds = "".join(line(ends, ' stroke-dasharray=".3 .2"') for ends in net.folds())
    return page(f'<g id="{net.solid.name}" transform="scale(10)">{cuts}{folds}</g>')


def as_dashes_drawn_one_by_one(net: Net) -> bytes:
    """In CSS px; a polygon the other way round, each fold a path of many short dashes."""
    dashes = []
    for ends in net.folds():
        start, length = ends[0], float(np.linalg.norm(ends[1] - ends[0]))
        along = (ends[1] - ends[0]) / length
        row = [
            np.array([start + at * along, start + min(at + 2.5, length) * along])
            for at in np.arange(0.75, length - 0.75, 4.0)
        ]
        dashes.append("".join(f"M{listed(dash / MM_PER_PX)}" for dash in row))
    folds = "".join(f'<path d="{row}"/>' for row in dashes)
    outline = f'<polygon points="{listed(outline_of(net)[::-1] / MM_PER_PX)}"/>'
    return page(f'<g id="{net.solid.name}">{folds}{outline}</g>', per_mm=1 / MM_PER_PX)


WAYS: tuple[tuple[Callable[[Net], bytes], Callable[[Net], int]], ...] = (
    (as_one_outline, lambda net: 1),
    (as_loose_lines, lambda net: len(net.rim())),
    (as_dashes_drawn_one_by_one, lambda net: 1),
)


def report_of(data: bytes) -> FileReport:
    """What the linter says of a file, all rules at their defaults."""
    return lint_bytes(data, "net.svg", STRUCTURE)


def spread(faces: tuple[Floats, ...]) -> list[Floats]:
    """The faces apart from each other in rows, all inside the page."""
    gap, x, y, row = 8.0, 8.0, 8.0, 0.0
    placed = []
    for face in faces:
        low, high = face.min(axis=0), face.max(axis=0)
        if x + high[0] - low[0] + gap > PAGE_MM:
            x, y, row = gap, y + row + gap, 0.0
        placed.append(face - low + [x, y])
        x += float(high[0] - low[0]) + gap
        row = max(row, float(high[1] - low[1]))
    assert max(face.max() for face in placed) < PAGE_MM, "the test's own page is too small"
    return placed


# The checks


@solids
def test_solid_is_built_as_published(solid: Solid) -> None:
    corners, edges, faces = len(solid.corners), len(solid.edges), len(solid.faces)
    assert corners - edges + faces == 2
    counts = {  # V, E, F: table "Regular Polyhedron", geocities.ws/qxb4tech
        "tetrahedron": (4, 6, 4),
        "cube": (8, 12, 6),
        "octahedron": (6, 12, 8),
        "dodecahedron": (20, 30, 12),
        "icosahedron": (12, 30, 20),
    }
    assert counts.get(solid.name, (corners, edges, faces)) == (corners, edges, faces)
    drawn = sum(shapely.Polygon(_flat(solid, n)).area for n in range(faces))
    assert drawn == pytest.approx(solid.area_mm2, rel=1e-9)


@solids
@pytest.mark.parametrize(("draw", "cut_lines"), WAYS, ids=[draw.__name__ for draw, _ in WAYS])
def test_net_is_one_piece_with_its_area_and_folds(
    solid: Solid, draw: Callable[[Net], bytes], cut_lines: Callable[[Net], int]
) -> None:
    net = unfolded(SOLIDS.index(solid))
    report = report_of(draw(net))
    (piece,) = report.pieces
    outline = outline_of(net)
    assert piece.area_mm2 == pytest.approx(solid.area_mm2, rel=AREA_SHARE)
    assert piece.box_mm == pytest.approx((*outline.min(axis=0), *outline.max(axis=0)), abs=BOX_MM)
    assert piece.name == solid.name
    assert piece.holes == 0
    assert piece.scores == report.lines.score == len(solid.faces) - 1
    assert len(net.rim()) == 2 * (len(solid.corners) - 1)
    assert report.lines.cut == cut_lines(net)
    assert report.findings == ()


@solids
def test_net_with_glue_tabs_has_a_fold_for_each_edge(solid: Solid) -> None:
    net = unfolded(SOLIDS.index(solid))
    outline, tab_folds, tab_area = tabbed(net)
    folds = "".join(f'<path d="M{listed(ends)}"/>' for ends in net.folds() + tab_folds)
    report = report_of(
        page(
            f'<g id="{solid.name}"><path id="cut-line" d="M{listed(outline)}Z"/>'
            f'<g class="fold-lines">{folds}</g></g>'
        )
    )
    (piece,) = report.pieces
    assert piece.area_mm2 == pytest.approx(solid.area_mm2 + tab_area, rel=AREA_SHARE)
    assert piece.scores == report.lines.score == len(solid.edges)
    assert report.lines.cut == 1
    assert report.findings == ()


@solids
def test_faces_apart_are_pieces_with_the_whole_area(solid: Solid) -> None:
    placed = spread(unfolded(SOLIDS.index(solid)).faces)
    report = report_of(
        page(
            "".join(
                f'<polygon id="face-{n}" points="{listed(face)}"/>' for n, face in enumerate(placed)
            )
        )
    )
    assert sum(piece.area_mm2 for piece in report.pieces) == pytest.approx(
        solid.area_mm2, rel=AREA_SHARE
    )
    named = {piece.name: piece for piece in report.pieces}
    assert len(named) == len(report.pieces) == len(solid.faces)
    for number, face in enumerate(placed):
        piece = named[f"face-{number}"]
        assert piece.area_mm2 == pytest.approx(shapely.Polygon(face).area, rel=AREA_SHARE)
        assert piece.box_mm == pytest.approx((*face.min(axis=0), *face.max(axis=0)), abs=BOX_MM)
        assert piece.scores == 0
    assert report.lines.cut == len(solid.faces)
    assert report.findings == ()


@pytest.mark.parametrize(
    ("name", "sides"), [("tetrahedron", 3), ("cube", 4), ("octahedron", 3), ("dodecahedron", 5)]
)
def test_one_face_used_again_and_again_gives_as_many_pieces(name: str, sides: int) -> None:
    solid = next(solid for solid in SOLIDS if solid.name == name)
    face = spread((unfolded(SOLIDS.index(solid)).faces[0],))[0]
    assert len(face) == sides
    width, height = face.max(axis=0) + 4
    rows = int(PAGE_MM // width)
    places = [(n % rows * width, n // rows * height) for n in range(len(solid.faces))]
    copies = "".join(
        f'<use href="#face" transform="translate({x:.4f} {y:.4f})"/>' for x, y in places
    )
    report = report_of(page(f'<defs><polygon id="face" points="{listed(face)}"/></defs>{copies}'))
    assert len(report.pieces) == len(solid.faces)
    for piece in report.pieces:
        assert piece.area_mm2 * len(solid.faces) == pytest.approx(solid.area_mm2, rel=AREA_SHARE)
    assert report.findings == ()


# Side area and whole area to the printed digits, from the closed forms above: square frustum 60/20
# of height 48 has slant 52, hexagon pyramid 30 of height 40 has lateral edges of 50.
@pytest.mark.parametrize(
    ("sides", "base", "top", "height", "whole"),
    [
        (4, 10, 4, 4, 256.0),
        (4, 60, 20, 48, 12320.0),
        (6, 60, 30, 80, 34401.858),
        (8, 50, 30, 120, 55586.0675),
        (6, 40, 40, 100, 32313.844),
        (8, 40, 40, 100, 47450.967),
        (6, 30, 0, 40, 6630.995),
    ],
)
def test_closed_form_gives_the_worked_values(
    sides: int, base: float, top: float, height: float, whole: float
) -> None:
    assert frustum_area(sides, base, top, height) == pytest.approx(whole, abs=5e-4)


# Panels in files of their own: a frustum of n walls with a tab below, above and at one side, each
# glued to an edge of the base, of the top, and of the next wall. Edges by the closed forms above:
# slant s, lateral edge e with e^2 = s^2 + ((a - b) / 2)^2.

SIZES = (st.integers(3, 8), st.floats(40, 60), st.floats(0.7, 0.95), st.floats(30, 70))
THE_RULES = [rule for rule in RULES if rule.name in {"uneven-scale", "unmatched-tab"}]


def lateral_edge(sides: int, base: float, top: float, height: float) -> float:
    """The edge between two walls of a frustum."""
    slant = math.hypot(height, (base - top) / (2 * math.tan(math.pi / sides)))
    return math.hypot(slant, (base - top) / 2)


def wall(
    base: float, top: float, lateral: float, scale: float = 1.0, look: str = "", wide: float = 0.2
) -> bytes:
    """One wall with its three tabs, `scale` times as large; `look` styles its folds."""
    step = (base - top) / 2
    slant = math.sqrt(lateral**2 - step**2)
    corners = np.array([[0, 0], [base, 0], [base - step, slant], [step, slant]]) * scale
    outline: list[Floats] = []
    folds = []
    for k in range(4):
        ends = corners[[k, (k + 1) % 4]]
        outline.append(ends[0])
        if k < 3:
            outline.extend(_tab(ends / scale)[1:3] * scale)
            folds.append(ends + 100)
    lines = "".join(f'<path class="score" d="M{listed(ends)}" {look}/>' for ends in folds)
    cut = f'<polygon points="{listed(np.array(outline) + 100)}"/>'
    return page(f'<g id="wall" stroke-width="{wide:g}">{cut}{lines}</g>')


def plate(sides: int, edge: float) -> bytes:
    """A regular polygon without tabs."""
    turns = np.arange(sides) * math.tau / sides
    ring = np.stack([np.cos(turns), np.sin(turns)], axis=1) * edge / (2 * math.sin(math.pi / sides))
    return page(f'<polygon stroke-width=".2" points="{listed(ring + PAGE_MM / 2)}"/>')


def set_findings(drawings: Sequence[bytes]) -> list[SetFindingRecord]:
    """What the rules over sets say of drawings in one folder, numbered from 0."""
    with TemporaryDirectory() as folder:
        paths = [Path(folder, f"{n}.svg") for n in range(len(drawings))]
        for path, data in zip(paths, drawings, strict=True):
            path.write_bytes(data)
        finder = SettingsFinder(None, RULES)
        outcomes = list(lint_paths(paths, THE_RULES, finder, jobs=1))
        _, found = check_sets(outcomes, THE_RULES, finder)
    return list(found)


@settings(max_examples=25, deadline=None)
@given(*SIZES)
def test_walls_whose_tabs_meet_their_edges_say_nothing(
    sides: int, base: float, share: float, height: float
) -> None:
    top = base * share
    lateral = lateral_edge(sides, base, top, height)
    walls = [wall(base, top, lateral)] * sides
    assert set_findings([*walls, plate(sides, base), plate(sides, top)]) == []


@settings(max_examples=25, deadline=None)
@given(*SIZES)
def test_a_wall_at_another_scale_misses_with_every_tab(
    sides: int, base: float, share: float, height: float
) -> None:
    top = base * share
    edges = (base, top, lateral_edge(sides, base, top, height))
    slip = 96 / 90
    assume(all(abs(a * slip - b) > 0.6 for a in edges for b in edges))
    assume(base + top < 2.8 * edges[2])  # a wall much wider than high could be rolled into a tube
    walls = [wall(*edges)] * (sides - 1)
    drawings = [*walls, plate(sides, base), plate(sides, top), wall(*edges, scale=slip)]
    found = set_findings(drawings)
    assert {one.rule for one in found} == {"unmatched-tab"}
    assert {Path(one.files[0]).stem for one in found} == {str(len(drawings) - 1)}
    told = sorted(float(re.findall(r"([\d.]+) mm long", one.message)[0]) for one in found)
    lengths = {round(edge * slip, 1) for edge in edges}
    assert told == pytest.approx(sorted(lengths), abs=0.11)


# CSS Values 3, absolute lengths: 96 px, 72 pt, 25.4 mm and 2.54 cm to the inch; 90 px was CSS 2's.
@pytest.mark.parametrize("slip", [96 / 72, 72 / 96, 96 / 90, 90 / 96, 90 / 72, 2.54])
@pytest.mark.parametrize("clue", ["dashes", "stroke"])
def test_a_wall_scaled_by_a_slip_of_units_is_told_once_for_the_whole_set(
    slip: float, clue: str
) -> None:
    usual, scaled = ('stroke-dasharray="3 1"', f'stroke-dasharray="{3 * slip} {slip}"')
    looks = (usual, scaled) if clue == "dashes" else ("", "")
    edges = (70.0, 56.0, lateral_edge(6, 70, 56, 60))
    drawings = [wall(*edges, look=looks[0])] * 4 + [plate(6, 70), plate(6, 56)]
    wide = 0.2 * slip if clue == "stroke" else 0.2
    found = set_findings([*drawings, wall(*edges, scale=slip, look=looks[1], wide=wide)])
    assert [(one.rule, Path(one.files[0]).stem) for one in found] == [("uneven-scale", "6")]
    assert f"{slip:.4g} times" in found[0].message


@pytest.mark.parametrize("slip", [1 / 2.54, 25.4 / 96])
def test_where_tabs_come_out_too_small_for_tabs_dashes_and_strokes_tell(slip: float) -> None:
    usual, scaled = ('stroke-dasharray="3 1"', f'stroke-dasharray="{3 * slip} {slip}"')
    edges = (70.0, 56.0, lateral_edge(6, 70, 56, 60))
    drawings = [wall(*edges, look=usual)] * 4
    found = set_findings([*drawings, wall(*edges, scale=slip, look=scaled, wide=0.2 * slip)])
    assert [(one.rule, Path(one.files[0]).stem) for one in found] == [("uneven-scale", "4")]


@pytest.mark.parametrize("scale", [1.02, 1.12, 1.2, 1.5, 0.85])
def test_another_size_that_no_slip_explains_is_no_matter_of_scale(scale: float) -> None:
    edges = (50.0, 40.0, lateral_edge(6, 50, 40, 60))
    look, other = 'stroke-dasharray="3 1"', f'stroke-dasharray="{3 * scale} {scale}"'
    drawings = [wall(*edges, look=look)] * 4
    found = set_findings([*drawings, wall(*edges, scale=scale, look=other, wide=0.2 * scale)])
    assert "uneven-scale" not in {one.rule for one in found}


# The worked lateral edges to their printed digits, from the same closed forms.
@pytest.mark.parametrize(
    ("sides", "base", "top", "height", "lateral"),
    [
        (4, 10, 4, 4, 5.830952),
        (4, 60, 20, 48, 55.713553),
        (6, 60, 30, 80, 85.440),
        (8, 50, 30, 120, 122.8122),
        (6, 30, 0, 40, 50.0),
    ],
)
def test_the_lateral_edge_has_the_worked_value(
    sides: int, base: float, top: float, height: float, lateral: float
) -> None:
    assert lateral_edge(sides, base, top, height) == pytest.approx(lateral, abs=5e-4)


def test_a_net_in_one_piece_fits_itself() -> None:
    for index in range(len(SOLIDS)):
        outline, folds, _ = tabbed(unfolded(index))
        lines = "".join(f'<path class="score" d="M{listed(ends)}"/>' for ends in folds)
        inner = "".join(f'<path class="score" d="M{listed(e)}"/>' for e in unfolded(index).folds())
        cut = f'<polygon points="{listed(outline)}"/>'
        assert set_findings([page(f"<g>{cut}{lines}{inner}</g>")]) == []
