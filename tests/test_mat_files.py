"""Mats as files: congruent with their sources, in a good order to cut, proven before they are kept.

References: svgelements 1.9.6 reads source and mat, sharing no code with the program; shapely (GEOS)
measures how far their lines are apart; lxml reads the markup. The order is held against trying all.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import permutations
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from matready.lint.cutting import cut
from matready.lint.inspection import Inspection, inspect_source
from matready.lint.reading import read_drawing
from matready.lint.settings import Reading, Settings
from matready.lint.sheets.laid import LaidPaper, Mat, Placement
from matready.lint.sheets.mat_svg import mat_svg
from matready.lint.sheets.naming import name_all
from matready.lint.sheets.order import in_walking_order, walk
from matready.lint.sheets.parts import Part
from matready.lint.sheets.prove import Unproven, prove_mat
from matready.lint.sheets.taking import parts_of
from matready.lint.sheets.turning import Motion
from matready.lint.source import read_file, read_source
from matready.rules import RULES

from tests.drawn import page, path
from tests.spoiling.reading import lines_of

Floats = npt.NDArray[np.float64]
Matrix = tuple[float, ...]

DEMO = Path(__file__).resolve().parent.parent / "fixtures" / "puppet-theatre"
CLOSE_MM = 0.01
SCORE = 'class="score" fill="none" stroke="#b5543a"'
SIZE = 900.0
SVG = "{http://www.w3.org/2000/svg}"


def parts_in(data: bytes, name: str = "stage.svg") -> list[Part]:
    """The parts of a drawing, none refused."""
    inspection = inspect_source(read_source(data, name), RULES, Settings())
    return name_all([parts_of(inspection, Settings())])


def laid(parts: Sequence[Part], turns: Sequence[float] = (0.0,)) -> Mat:
    """Parts in rows on one large mat, turned in turn by the angles."""
    x = y = row = 6.0
    placements = []
    for k, part in enumerate(parts):
        place = Placement(part, turns[k % len(turns)], 0.0, 0.0)
        x0, y0, x1, y1 = Motion.of(place).area(part.shape).bounds
        if x + x1 - x0 > SIZE - 6:
            x, y, row = 6.0, y + row + 3, 0.0
        placements.append(replace(place, x_mm=x - x0, y_mm=y - y0))
        x, row = x + x1 - x0 + 3, max(row, y1 - y0)
    paper = LaidPaper("cream-card", "card-200", 1, 0.0, 0.0, SIZE, SIZE)
    return Mat(1, SIZE, SIZE, (paper,), tuple(placements))


def moved(line: Floats, place: Placement) -> Floats:
    """A line turned about 0, 0 and then shifted, by plane geometry."""
    c, s = cos(radians(place.turn_deg)), sin(radians(place.turn_deg))
    return np.asarray(line @ np.array([[c, s], [-s, c]]) + [place.x_mm, place.y_mm])


def far_apart(one: Floats, other: Floats) -> float:
    """How far any corner of either line is from the other line."""
    first, second = shapely.LineString(one), shapely.LineString(other)
    there = shapely.distance(shapely.points(one), second).max()
    back = shapely.distance(shapely.points(other), first).max()
    return max(float(there), float(back))


def assert_congruent(mat: Mat, sources: dict[str, bytes]) -> None:
    """Each line of the mat is one of its source, moved; and as many as the source has there."""
    written = lines_of(mat_svg(mat, "mat").encode())
    read = {name: lines_of(data) for name, data in sources.items()}
    at = 0
    for place in mat.placements:
        its = written[at : at + len(place.part.lines)]
        at += len(its)
        where = [moved(line, place) for line in read[place.part.file]]
        boxes = np.array([[*line.min(axis=0), *line.max(axis=0)] for line in where])
        used = set()
        for line in its:
            box = np.array([*line.min(axis=0), *line.max(axis=0)])
            near = np.flatnonzero(np.abs(boxes - box).max(axis=1) < 2 * CLOSE_MM).tolist()
            same = [k for k in near if k not in used and far_apart(where[k], line) <= CLOSE_MM]
            assert same, f"a line of {place.part.name} is none of its source"
            used.add(same[0])
    assert at == len(written)


# Congruent with the source


def test_the_demo_on_a_mat_is_congruent_with_its_sources() -> None:
    names = ("proscenium-arch", "side-wings", "stage-box", "footlights", "backdrop-hills")
    sources = {f"{name}.svg": (DEMO / f"{name}.svg").read_bytes() for name in names}
    parts = [
        part
        for name, data in sources.items()
        for part in parts_of(
            # Without rules nothing is refused: here it is the geometry that counts.
            Inspection(cut(read_drawing(read_source(data, name)), Settings()), ()),
            Settings(),
        ).parts
    ]
    assert len(parts) == 44
    mat = laid(parts, (0.0, 90.0, 180.0, 270.0, 37.3))
    assert_congruent(mat, sources)


_tens = st.integers(-20, 20).map(lambda n: n / 10)
_matrices = st.tuples(_tens, _tens, _tens, _tens).filter(
    lambda m: abs(m[0] * m[3] - m[1] * m[2]) > 0.3 and max(map(abs, m)) < 1.8
)
_SHAPES = (
    '<ellipse cx="{x}" cy="{y}" rx="{a}" ry="{b}"/>',
    '<circle cx="{x}" cy="{y}" r="{a}"/>',
    '<rect x="{x}" y="{y}" width="{a}" height="{b}" rx="{r}"/>',
    '<path d="M{x},{y} a{a},{b} {r} 1 0 {r},{a} z"/>',
    '<path d="M{x},{y} q{a},{b} {a},0 t{b},{r} v{b} z"/>',
    '<path d="M{x},{y} c{a},0 {r},{b} {a},{b} s{r},{a} {b},{r} h-{r} A{a} {b} {r} 0 1 {x} {y}"/>',
    '<polygon points="{x},{y} {a},{b} {r},{a}"/>',
)


@st.composite
def nests(draw: st.DrawFn) -> tuple[str, str, list[Matrix]]:
    """A shape, the same in groups in groups with any transforms or shown by a use, and these."""
    numbers = st.integers(3, 30)
    shape = draw(st.sampled_from(_SHAPES)).format(
        x=draw(numbers), y=draw(numbers), a=draw(numbers), b=draw(numbers), r=draw(numbers)
    )
    nest = shape
    matrices: list[Matrix] = []
    for depth in range(draw(st.integers(1, 3))):
        matrices.append((*draw(_matrices), draw(numbers), draw(numbers)))
        matrix = f'transform="matrix({" ".join(map(str, matrices[-1]))})"'
        if depth == 0 and draw(st.booleans()):
            nest = f'<defs><g id="s">{nest}</g></defs><use href="#s" {matrix}/>'
        else:
            nest = f"<g {matrix}>{nest}</g>"
    return shape, nest, matrices


def _framed(body: str, size: str) -> bytes:
    head = f'width="{size}" height="{size}" viewBox="0 0 100 100" fill="none" stroke="#333"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode()


@settings(max_examples=60, deadline=None)
@given(nests(), st.floats(-180, 360), st.sampled_from([100.0, 127.0]))
def test_curves_come_through_any_transform_exactly(
    nest: tuple[str, str, list[Matrix]], turn: float, size_mm: float
) -> None:
    shape, grouped, matrices = nest
    source = read_source(_framed(grouped, f"{size_mm}mm"), "x.svg")
    found = parts_of(Inspection(cut(read_drawing(source), Settings()), ()), Settings())
    # The reader samples the shape as it stands, ten times as large, since transforms magnify its
    # chords; the transforms are plane geometry.
    lines = [line / 10 for line in lines_of(_framed(shape, "1000mm"))]
    for a, b, c, d, e, f in matrices:
        lines = [line @ np.array([[a, b], [c, d]]) + [e, f] for line in lines]
    lines = [line * size_mm / 100 for line in lines]
    for part in found.parts:
        place = Placement(part, turn, 300.0, 300.0)
        (written,) = lines_of(mat_svg(Mat(1, SIZE, SIZE, (), (place,)), "mat").encode())
        assert min(far_apart(moved(line, place), written) for line in lines) <= CLOSE_MM


# The markup


def test_names_are_kept_as_they_are_and_told_apart_as_ids() -> None:
    odd = (
        'wall <&> "one"',
        "wall 'one'",
        "Löwe & Söhne",
        "幕",
        "cut-out door",
        "score card",
        "]]>",
    )
    body = "".join(
        f"<g><title>{name.replace('&', '&amp;').replace('<', '&lt;')}</title>"
        f"{path(f'M{x} 20h20v20h-20Z')}{path(f'M{x + 10} 20v20', SCORE)}</g>"
        for name, x in zip(odd, range(5, 200, 25), strict=False)
    ).replace("]]>", "]]&gt;")
    parts = parts_in(page(body), name='a "<b>" & c.svg')
    assert len(parts) == len(odd)
    mat = laid(parts)
    text = mat_svg(mat, 'mat <1> & "2"')
    root = etree.fromstring(text.encode())
    groups = root.findall(f"{SVG}g")
    titles = [group.findtext(f"{SVG}title") for group in groups]
    assert titles == [f'{part.name} (a "<b>" & c.svg)' for part in parts]
    assert titles[:3] == [f'{name} (a "<b>" & c.svg)' for name in odd[:3]]
    ids = [element.get("id") for element in root.iter(f"{SVG}g")]
    assert len(set(ids)) == len(ids) == 3 * len(parts)
    assert all(name and name.isascii() and name[0].isalpha() for name in ids)
    prove_mat(text, mat, RULES, Settings())  # words in names tell nothing of the lines


def test_a_mat_is_true_size_and_made_of_strokes_alone() -> None:
    parts = parts_in(page(path("M20 20H80V80H20Z"), path("M30 30h9v9h-9Z"), size=200))
    root = etree.fromstring(mat_svg(laid(parts), "mat").encode())
    assert (root.get("width"), root.get("viewBox")) == ("900mm", "0 0 900 900")
    assert [one.tag for one in root.iter(f"{SVG}rect", f"{SVG}style")] == []  # paper is not drawn
    groups = [group for group in root.iter(f"{SVG}g") if group.get("class")]
    assert {(group.get("fill"), group.get("stroke-width")) for group in groups} == {("none", "0.2")}
    assert [group.get("class") for group in groups] == ["cut", "cut"]
    assert [str(group.get("id")).rpartition("-")[2] for group in groups] == ["holes", "outline"]


def test_the_same_drawings_give_the_same_bytes() -> None:
    files = [DEMO / "turret.svg", DEMO / "footlights.svg"]
    texts = set()
    for _ in range(2):
        read = [inspect_source(read_file(file), RULES, Settings()) for file in files]
        parts = name_all([parts_of(one, Settings()) for one in read])
        texts.add(mat_svg(in_walking_order(laid(parts, (30.0, 90.0))), "mat"))
    assert len(texts) == 1


def test_colours_that_the_settings_know_are_used_for_what_they_mean() -> None:
    read = Reading(score_colours=("#34495a",), cut_colours=("#123456",))
    parts = parts_in(page(path("M20 20H80V80H20Z"), path("M50 20V80", SCORE)))
    mat = laid(parts)
    text = mat_svg(mat, "mat", read)
    assert prove_mat(text, mat, RULES, Settings(read=read)) == ()
    with pytest.raises(Unproven, match="is read back from mat 1 as a closed score line"):
        prove_mat(mat_svg(mat, "mat"), mat, RULES, Settings(read=read))


# The order


def test_scores_come_first_then_what_is_inside_then_the_outline() -> None:
    marks = 'class="engrave" fill="none" stroke="#5a8a4a"'
    (part,) = parts_in(
        page(
            path("M20 20H180V180H20Z"),
            path("M40 40H90V90H40Z"),
            path("M120 120V150"),
            path("M100 20V180", SCORE),
            path("M110 30H120", marks),
        )
    )
    assert [(line.role, line.inner) for line in part.lines] == [
        ("draw", False), ("score", False), ("cut", True), ("cut", True), ("cut", False),
    ]  # fmt: skip


def test_what_lies_in_a_window_is_cut_before_the_window_falls_out() -> None:
    frame = shapely.box(0, 0, 100, 100).difference(shapely.box(10, 10, 90, 90))
    inner = shapely.box(20, 20, 80, 80).difference(shapely.box(30, 30, 70, 70))
    shapes = [frame, shapely.box(110, 0, 120, 10), inner, shapely.box(40, 40, 60, 60)]
    assert walk(shapes) == [3, 2, 0, 1]


def test_parts_are_walked_with_little_travel() -> None:
    for seed in range(12):
        shuffled = random.Random(seed)
        places = [(shuffled.uniform(5, 295), shuffled.uniform(5, 295)) for _ in range(6)]
        shapes = [shapely.box(x - 1, y - 1, x + 1, y + 1) for x, y in places]
        best = min(_way(list(order), places) for order in permutations(range(6)))
        assert _way(walk(shapes), places) <= 1.1 * best


def _way(order: Sequence[int], places: Sequence[tuple[float, float]]) -> float:
    stops = np.array([(0.0, 0.0), *(places[k] for k in order)])
    return float(np.hypot(*np.diff(stops, axis=0).T).sum())


# The proof


@pytest.fixture(scope="module")
def turret() -> tuple[Mat, str]:
    parts = parts_in((DEMO / "turret.svg").read_bytes(), "turret.svg")
    mat = laid(parts, (90.0,))
    return mat, mat_svg(mat, "mat")


def test_a_true_mat_is_proven(turret: tuple[Mat, str]) -> None:
    mat, text = turret
    assert prove_mat(text, mat, RULES, Settings()) == ()


def _without_last_path(text: str) -> str:
    start = text.rindex("      <path ")
    return text[:start] + text[text.index("\n", start) + 1 :]


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (_without_last_path, "lines in place of"),
        (lambda text: text.replace('class="score"', 'class="cut"', 2), "read back from mat 1 as"),
        (lambda text: text.replace("<g id", '<g transform="translate(.02)" id', 1), "off by 0.020"),
        (lambda text: text.replace('width="900mm"', 'width="890mm"'), "another size"),
        (lambda text: text.replace(" Z", "", 1), "as an open cut line"),
    ],
)
def test_a_mat_that_is_off_is_not_kept(turret: tuple[Mat, str], spoil: object, said: str) -> None:
    mat, text = turret
    assert callable(spoil)
    with pytest.raises(Unproven, match=said):
        prove_mat(spoil(text), mat, RULES, Settings())


def test_parts_that_lie_on_each_other_are_not_kept(turret: tuple[Mat, str]) -> None:
    mat, _ = turret
    first, *others = mat.placements
    x, y = first.x_mm + 5, first.y_mm + 5
    heap = replace(mat, placements=(first, replace(first, x_mm=x, y_mm=y), *others))
    with pytest.raises(Unproven, match="pieces fall out of mat 1"):
        prove_mat(mat_svg(heap, "mat"), heap, RULES, Settings())


def test_a_part_is_judged_as_its_own_file_is() -> None:
    strict = Settings()
    mild = Settings(rules={"undersize-piece": {"piece_mm": 1.0}})
    source = page(path("M20 20H60V60H20Z", name="wall"), path("M80 20H120V22H80Z", name="slip"))
    inspection = inspect_source(read_source(source, "stage.svg"), RULES, mild)
    mat = laid(name_all([parts_of(inspection, mild)]))
    text = mat_svg(mat, "mat")
    own = {"wall": strict, "slip": mild}
    assert prove_mat(text, mat, RULES, strict, lambda part: own[part.name]) == ()
    own = {"wall": mild, "slip": strict}
    with pytest.raises(Unproven, match="undersize-piece"):
        prove_mat(text, mat, RULES, strict, lambda part: own[part.name])


def test_cautions_that_only_the_mat_has_are_told() -> None:
    parts = parts_in(page(path("M20 20H60V60H20Z"), path("M80 20H120V60H80Z")))
    near = (Placement(parts[0], 0.0, 0.0, 0.0), Placement(parts[1], 0.0, -19.0, 0.0))
    mat = Mat(1, 200.0, 200.0, (), near)
    (said,) = prove_mat(mat_svg(mat, "mat"), mat, RULES, Settings())
    assert said.startswith("mat 1: this piece lies only 1.00 mm from")
    assert prove_mat(mat_svg(laid(parts), "mat"), laid(parts), RULES, Settings()) == ()
