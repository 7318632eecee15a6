"""What falls out of the card: loops, pieces, holes, and which lines make them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate, pairwise, permutations, product

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.cutting import Cutout

from tests.drawn import CUT, FOLD, checked, cut_out, lines, path, place_of, report, rules_of

SQUARE = path("M10 10H60V60H10Z")


def areas(cutout: Cutout) -> list[float]:
    return sorted(round(piece.card.area, 2) for piece in cutout.pieces)


def test_a_hole_is_waste_and_a_piece_in_it_is_card() -> None:
    cutout = cut_out(SQUARE, path("M20 20H40V40H20Z"), path("M25 25H30V30H25Z"))
    assert areas(cutout) == [25, 2500 - 400]
    assert [len(piece.holes) for piece in cutout.pieces] == [1, 0]
    assert cutout.pieces[0].holes[0].waste.area == pytest.approx(400 - 25)


def test_separate_lines_in_any_order_and_direction_are_one_outline() -> None:
    sides = [(10, 10, 60, 10), (60, 60, 60, 10), (10, 60, 10, 10), (10, 60, 60, 60)]
    cutout = cut_out(lines(sides))
    assert areas(cutout) == [2500]
    assert cutout.pieces[0].lines == (0, 1, 3, 2) or len(cutout.pieces[0].lines) == 4


def test_a_line_across_a_panel_makes_two_pieces() -> None:
    assert areas(cut_out(SQUARE, path("M10 30H60"))) == [1000, 1500]


def test_outlines_that_cross_are_cut_into_three() -> None:
    other = path("M40 40H90V90H40Z")
    assert areas(cut_out(SQUARE, other)) == [400, 2100, 2100]


def test_an_outline_that_crosses_itself_is_cut_into_two() -> None:
    assert areas(cut_out(path("M0 0L40 40V0L0 40Z"))) == [400, 400]


def test_a_hole_whose_corners_touch_the_edge_cuts_the_card_apart() -> None:
    cutout = cut_out(path("M0 0H40V40H0Z"), path("M20 0L40 20L20 40L0 20Z"))
    assert areas(cutout) == [200, 200, 200, 200]


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.1])
def test_circles_that_touch_stay_two_pieces(turn: float) -> None:
    x, y = 80 + 40 * math.cos(turn), 80 + 40 * math.sin(turn)
    circles = f'<circle cx="80" cy="80" r="20" {CUT}/><circle cx="{x}" cy="{y}" r="20" {CUT}/>'
    cutout = cut_out(circles)
    assert areas(cutout) == pytest.approx([math.pi * 400] * 2, rel=2e-3)


def test_an_edge_drawn_once_serves_two_pieces() -> None:
    cutout = cut_out(SQUARE, path("M60 10H90V60H60"))
    assert areas(cutout) == [1500, 2500]
    assert [piece.own for piece in cutout.pieces] == [(0,), (1,)]
    # Moved apart, one of them would be open: they are one unit.
    assert cutout.pieces[0].unit == cutout.pieces[1].unit


def test_an_edge_drawn_twice_still_gives_two_pieces() -> None:
    assert areas(cut_out(SQUARE, path("M60 20H90V50H60Z"))) == [900, 2500]


def test_a_copy_makes_no_second_piece_and_no_hole() -> None:
    assert areas(cut_out(SQUARE, SQUARE, SQUARE)) == [2500]


def side_steps(corners: Sequence[tuple[float, float]], start: int, back: bool) -> str:
    """A closed path through the corners, from one of them or from the middle of a side."""
    ring = [*corners[start // 2 :], *corners[: start // 2]]
    if start % 2:
        (x, y), (u, v) = ring[-1], ring[0]
        ring = [((x + u) / 2, (y + v) / 2), *ring]
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in (ring[::-1] if back else ring)) + "Z"


STEPS = st.lists(st.sampled_from([10, 20, 25]), min_size=1, max_size=4)


@given(STEPS, STEPS, st.data())
def test_copies_in_any_order_change_no_piece_of_a_grid(
    wide: list[int], high: list[int], data: st.DataObject
) -> None:
    # Outside check: shapely walks the faces of the distinct edges.
    xs, ys = (list(accumulate(steps, initial=10)) for steps in (wide, high))
    drawn, cells = [], []
    for (x0, x1), (y0, y1) in product(pairwise(xs), pairwise(ys)):
        cells.append(shapely.box(x0, y0, x1, y1))
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        for _ in range(data.draw(st.integers(1, 3))):
            start, back = data.draw(st.integers(0, 7)), data.draw(st.booleans())
            drawn.append(path(side_steps(corners, start, back)))
    edges = shapely.unary_union([cell.exterior for cell in cells])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(edges)))
    found = cut_out(*data.draw(st.permutations(drawn)))
    assert areas(found) == pytest.approx(sorted(face.area for face in faces))
    assert not any(piece.holes for piece in found.pieces)


@pytest.mark.parametrize("order", list(permutations(range(5))))
def test_an_edge_covered_by_bits_of_other_lines_serves_both_its_panels(
    order: tuple[int, ...],
) -> None:
    bits = ["M60 10V40", "M60 35V60", "M35 10H60V30"]
    drawn = [SQUARE, path("M60 10H110V60H60Z"), *map(path, bits)]
    assert areas(cut_out(*(drawn[k] for k in order))) == [2500, 2500]


def test_a_gap_of_a_hair_still_shows_the_piece() -> None:
    cutout = cut_out(path("M10 10H60V60H10V10.2"))
    assert len(cutout.gaps) == 1
    assert len(cutout.pieces) == 1


@given(
    st.lists(st.tuples(*[st.integers(0, 12)] * 2, *[st.integers(1, 8)] * 2), min_size=1, max_size=5)
)
def test_faces_of_overlapping_boxes_are_those_that_shapely_finds(rows) -> None:  # type: ignore[no-untyped-def]
    # Odd offsets keep the boxes from sharing edges; shapely nodes and polygonizes by itself.
    boxes = [
        shapely.box(x * 10 + k, y * 10 + k, x * 10 + w * 10 + k / 2 + 0.25, y * 10 + h * 10 + k / 2)
        for k, (x, y, w, h) in enumerate(rows)
    ]
    cutout = cut_out(*(path("M" + "L".join(f"{x} {y}" for x, y in b.exterior.coords[:-1]) + "Z")
                       for b in boxes))  # fmt: skip
    edges = shapely.unary_union([box.exterior for box in boxes])
    faces = shapely.get_parts(shapely.polygonize([*shapely.get_parts(edges)]))
    waste = {hole.waste.wkb: hole.waste for piece in cutout.pieces for hole in piece.holes}
    total = sum(p.card.area for p in cutout.pieces) + sum(w.area for w in waste.values())
    assert len(cutout.pieces) + len(waste) == len(faces)
    # Boxes may also shut in a region that is in none of them: it is cut out all the same.
    assert total == pytest.approx(sum(face.area for face in faces))


def test_pieces_are_named_after_their_outline_or_group_or_place() -> None:
    named = report(
        path("M100 10H120V30H100Z"),
        '<g id="drawbridge">', path("M10 10H30V30H10Z", name="path1842"),
        path("M10 20H30", FOLD), "</g>",
        path("M50 10H70V30H50Z", name="door"),
        path("M10 80H30V100H10Z", name="door"),
        '<g><title>Left wing</title>', path("M50 80H70V100H50Z"), "</g>",
    )  # fmt: skip
    names = [piece.name for piece in named.pieces]
    assert names == ["drawbridge", "door", "piece-3", "door (2)", "Left wing"]


def test_a_fold_lies_in_the_piece_around_it_and_not_in_the_hole_beside_it() -> None:
    found = report(SQUARE, path("M20 20H40V40H20Z"), path("M10 50H60", FOLD),
                   path("M100 100H150V150H100Z"), path("M100 120H150", FOLD),
                   path("M120 100V150", FOLD))  # fmt: skip
    assert [piece.scores for piece in found.pieces] == [1, 2]


@pytest.mark.parametrize(
    ("body", "role", "clue"),
    [
        (path("M10 30H60", name="fold-1"), "score", "name"),
        ('<g id="creases">' + path("M10 30H60") + "</g>", "score", "layer name"),
        (path("M10 30H60", FOLD), "score", "dashes"),
        (path("M12 30h3m2 0h3m2 0h3m2 0h3m2 0h3m2 0h3m2 0h3"), "score", "dashes"),
        (path("M10 30H60", 'fill="none" stroke="#b5543a"'), "score", "colour"),
        ('<g id="engrave">' + path("M20 20H40V40H20Z") + "</g>", "draw", "layer name"),
        (path("M20 30H50"), "cut", ""),
    ],
)
def test_each_clue_tells_a_role(body: str, role: str, clue: str) -> None:
    assert (role, clue) in checked(SQUARE, body).clues


def arc_dashes(count: int, start: float, step: float, share: float) -> list[tuple[float, ...]]:
    """Short chords along a circle of 40 mm about (60, 60)."""
    at = [start + k * step for k in range(count)]
    return [
        tuple(60 + 40 * f(a) for a in (t, t + step * share) for f in (math.cos, math.sin))
        for t in at
    ]


@pytest.mark.parametrize("share", [0.4, 0.6, 0.75])
@pytest.mark.parametrize("step", [0.06, 0.11])
def test_dashes_along_a_curve_are_one_fold(step: float, share: float) -> None:
    rows = arc_dashes(12, 0.2, step, share)
    found = report(path("M0 0H120V120H0Z"), lines(rows))  # type: ignore[arg-type]
    assert found.lines.score == 1
    assert found.lines.cut == 1
    assert rules_of(found) == ["loose-score"]


def test_dots_and_dashes_by_turns_are_one_fold() -> None:
    row = "M12 30" + "h4m1 0h1m1 0" * 6 + "h4"
    assert report(path("M5 5H95V95H5Z"), path(row)).lines.score == 1


def test_a_row_turns_a_corner_as_two_folds() -> None:
    row = "M12 30" + "h2m2 0" * 8 + "M60 40" + "v2m0 2" * 8
    assert report(path("M5 5H95V95H5Z"), path(row)).lines.score == 2


@pytest.mark.parametrize("stray", ["M10 10H40", "M60 10H10", "M10 30V10H40", "M2 2L10 10"])
@pytest.mark.parametrize("closed", [True, False])
def test_a_stray_line_that_ends_where_a_row_begins_takes_no_dash_from_it(
    stray: str, closed: bool
) -> None:
    sides = [(10, 10, 60, 10), (60, 10, 60, 60), (60, 60, 10, 60), (10, 60, 10, 10)]
    row = path("M10 10l2 2" + "m1.5 1.5l2 2" * 6)
    found = report(SQUARE if closed else lines(sides), row, path(stray))
    assert (found.lines.cut, found.lines.score) == (2 if closed else 5, 1)


def test_slots_far_apart_are_no_fold() -> None:
    slots = [(15 + 14 * k, 50, 22 + 14 * k, 50) for k in range(5)]
    found = report(path("M5 5H95V95H5Z"), lines(slots))
    assert found.lines.score == 0
    assert found.findings == ()


def test_a_slit_in_an_open_outline_is_no_second_opening() -> None:
    found = report(path("M10 10H60V60H10V15"), path("M20 20H40"))
    assert rules_of(found) == ["open-outline"]


def test_colour_tells_nothing_where_the_lines_enclose_something() -> None:
    other = 'fill="none" stroke="#b5543a"'
    sides = [(70, 10, 90, 10), (90, 10, 90, 40), (90, 40, 70, 40), (70, 40, 70, 10)]
    found = report(path("M5 5H95V95H5Z"), lines(sides, other))
    assert found.lines.cut == 5
    assert found.pieces[0].holes == 1


def test_folds_round_the_floor_of_a_box_are_told_by_their_colour() -> None:
    tray = path("M30 10H70V30H90V70H70V90H30V70H10V30H30Z")
    floor = [(30, 30, 70, 30), (70, 30, 70, 70), (70, 70, 30, 70), (30, 70, 30, 30)]
    found = report(tray, lines(floor, 'fill="none" stroke="#b5543a"'))
    assert (found.lines.cut, found.lines.score) == (1, 4)
    assert [piece.scores for piece in found.pieces] == [4]


def test_an_end_that_misses_an_edge_beyond_its_seam_still_makes_a_piece() -> None:
    neighbour = path("M60 40V60H10V10H60Z")  # its edge at the right runs past the seam
    cutout = cut_out(neighbour, path("M60 50H90V20H60.3"))
    assert [gap.width for gap in cutout.gaps] == pytest.approx([0.3])
    assert areas(cutout) == pytest.approx([900, 2500], abs=10)


BEHIND = '<rect width="200" height="200" fill="{}" {}/>'


@pytest.mark.parametrize(
    ("fill", "more", "pieces"),
    [
        ("#ffffff", "", [2500]),  # white paper painted behind the drawing
        ("#e8d8c0", "", [2500]),  # any colour, where the other lines are stroked
        ("none", 'stroke="#33475b"', [40000 - 2500]),  # a panel as large as its page
    ],
)
def test_a_background_is_no_piece(fill: str, more: str, pieces: list[float]) -> None:
    assert areas(cut_out(BEHIND.format(fill, more), SQUARE)) == pieces


def test_a_slot_drawn_from_the_edge_and_back_is_waste() -> None:
    (panel,) = cut_out(SQUARE, path("M30 10V40H31.5V10")).pieces
    assert len(panel.holes) == 1
    assert panel.holes[0].waste.area == pytest.approx(45)


@pytest.mark.parametrize(
    ("cut_off", "pieces"),
    [
        ("M126 41V80", [102, 10735]),  # the base of the tab
        ("M126 41V80M13 51H126", [102, 4294, 6441]),
        ("M100 108L126 90", [234, 10603]),  # a corner
    ],
)
def test_what_a_line_cuts_off_an_outline_is_a_piece_and_no_hole(
    cut_off: str, pieces: list[float]
) -> None:
    outline = path("M13 13H126V41L129 46V75L126 80V108H13Z")
    for drawn in ((outline, path(cut_off)), (path(cut_off), outline)):
        found = cut_out(*drawn)
        assert areas(found) == pieces
        assert not any(piece.holes for piece in found.pieces)


TABS = st.sampled_from([0.0, -4.0, 2.0, 4.0])  # mm that the tab of a side stands out
SIDE = 30


Corner = tuple[int, int]
Points = list[tuple[float, float]]


def tabbed(corner: Corner, across: bool, tab: float) -> Points:
    """The points of one side of a cell, with a tab in its middle."""
    x, y = (10 + SIDE * k for k in corner)
    middle = [(10, 0), (11, tab), (19, tab), (20, 0)] if tab else []
    steps = [(0, 0), *middle, (SIDE, 0)]
    return [(x + a, y + b) if across else (x + b, y + a) for a, b in steps]


def around(cell: Corner, sides: dict[tuple[bool, Corner], Points], without: int | None) -> Points:
    """The points around a cell, or along three of its sides."""
    i, j = cell
    ring = [sides[True, (i, j)], sides[False, (i + 1, j)], sides[True, (i, j + 1)][::-1]]
    ring.append(sides[False, (i, j)][::-1])
    if without is not None:
        ring = [*ring[without + 1 :], *ring[:without]]
    return [*(point for side in ring for point in side[:-1]), ring[-1][-1]]


@given(st.integers(1, 3), st.integers(1, 3), st.data())
def test_panels_with_tabs_into_one_another_and_cut_bases_are_pieces(
    wide: int, high: int, data: st.DataObject
) -> None:
    corners = list(product(range(wide + 1), range(high + 1)))
    sides = {
        (across, (i, j)): tabbed((i, j), across, data.draw(TABS))
        for across, (i, j) in product((True, False), corners)
    }
    drawn: list[Points] = []
    for i, j in product(range(wide), range(high)):
        # A run that two panels share is drawn twice, or left out of the panel that comes first.
        shared = [k for k, inner in ((1, i + 1 < wide), (2, j + 1 < high)) if inner]
        without = data.draw(st.sampled_from([None, *shared]))
        drawn.append(around((i, j), sides, without)[:: data.draw(st.sampled_from([1, -1]))])
        bases = [sides[way, (i, j)] for way in (True, False)]
        drawn += [[p[1], p[4]] for p in bases if len(p) > 2 and data.draw(st.booleans())]
    # Outside check: shapely walks the faces of the distinct edges.
    edges = shapely.unary_union([shapely.LineString(points) for points in drawn])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(edges)))
    texts = ["M" + "L".join(f"{x} {y}" for x, y in points) for points in drawn]
    closed = [points[0] == points[-1] for points in drawn]
    paths = [path(d + "Z" if ring else d) for d, ring in zip(texts, closed, strict=True)]
    found = cut_out(*data.draw(st.permutations(paths)))
    assert areas(found) == pytest.approx(sorted(face.area for face in faces))
    assert not any(piece.holes for piece in found.pieces)


@pytest.mark.parametrize("across", [0.3, 0.58, 0.64, 0.82])
def test_a_small_hole_is_not_its_own_double(across: float) -> None:
    found = report(SQUARE, f'<circle cx="35" cy="35" r="{across / 2}" {CUT}/>')
    assert rules_of(found) == ["undersize-piece"]
    assert found.pieces[0].holes == 1


RED = 'fill="none" stroke="#b5543a"'


def test_a_stray_line_of_the_fold_colour_spoils_no_other_fold() -> None:
    panels = [path(f"M{x} 10H{x + 30}V60H{x}Z") for x in (10, 50, 90, 130)]
    folds = [path(f"M{x} 30H{x + 30}", RED) for x in (10, 50, 90, 130)]
    found = report(*panels, *folds, path("M10 90H160", RED))
    assert (found.lines.cut, found.lines.score, len(found.pieces)) == (5, 4, 4)


def arc_of(turn_deg: float, chord: float = 40) -> str:
    """An arc whose direction turns by `turn_deg` from end to end: its angle at the centre."""
    radius = chord / 2 / math.sin(math.radians(turn_deg / 2))
    return f"M40 60A{radius} {radius} 0 {int(turn_deg > 180)} 1 {40 + chord} 60"


# Common practice, no source: the folds of a pillow box turn by up to 120 degrees.
@pytest.mark.parametrize("chord", [2, 10, 40])
@pytest.mark.parametrize(("turn_deg", "scores"), [(60, 1), (120, 1), (145, 1), (180, 0), (270, 0)])
def test_a_curve_that_turns_little_is_told_by_its_colour(
    turn_deg: float, scores: int, chord: float
) -> None:
    found = report(path("M10 5H110V115H10Z"), path(arc_of(turn_deg, chord), RED))
    assert found.lines.score == scores


@pytest.mark.parametrize(
    ("stroke", "scores"),
    [
        ("M30 70V30H70V70", 1),  # three folds of the tray, that turn at its inner corners
        ("M40 70V50H60V70", 0),  # the same shape inside the floor
        ("M30 50L40 40L50 50L60 40L70 50", 0),
        ("M30 70L70 30L30 30L70 70", 0),  # turns back at the corners
        ("M30 50l5 .01l.01 -.01l-.02 0l35.01 0", 1),  # points of no consequence
    ],
)
def test_a_stroke_of_several_folds_turns_only_at_edges(stroke: str, scores: int) -> None:
    tray = path("M30 10H70V30H90V70H70V90H30V70H10V30H30Z")
    assert report(tray, path(stroke, RED)).lines.score == scores


@pytest.mark.parametrize(("folds", "scores"), [(4, 5), (3, 0)])
def test_a_colour_of_folds_is_straight_for_the_most_part(folds: int, scores: int) -> None:
    curl = "M20 80" + "a2 2 0 0 1 4 0a2 2 0 0 0 4 0" * 4  # 8 half circles: 50.3 mm
    straight = [path(f"M10 {15 + 10 * k}H65", RED) for k in range(folds)]  # 165 or 220 mm
    found = report(path("M10 5H65V95H10Z"), *straight, path(curl, RED))
    assert found.lines.score == scores


def test_strips_side_by_side_lack_an_end_each() -> None:
    cutout = cut_out(path("M20 20H80V42H20"), path("M20 47H80V67H20"))
    assert sorted(opening.width for opening in cutout.openings) == pytest.approx([20, 22])


def test_two_halves_of_an_outline_have_an_opening_on_either_side() -> None:
    cutout = cut_out(path("M40 20H20V80H40"), path("M45 20H80V80H45"))
    assert [opening.width for opening in cutout.openings] == pytest.approx([5, 5])


@pytest.mark.parametrize(
    ("paper", "area"),
    [
        ('width="200" fill="#fff"', 3600),
        ('width="198" fill="#fff"', 198 * 200 - 3600),  # the panel is a hole in it
        ('width="200" fill="#fff" stroke="#000"', 200 * 200 - 3600),
        ('width="200" fill="#b5543a"', 200 * 200 - 3600),
    ],
)
def test_white_paper_beside_its_page_is_no_piece(paper: str, area: float) -> None:
    moved = f'<rect x="-20" y="10" height="200" {paper}/>'
    assert areas(cut_out(moved, path("M60 60H120V120H60Z"))) == [area]


ROUND = f'<circle cx="30" cy="50" r="25" {CUT}/>'
PANEL = path("M80 10H130V60H80Z")


# Common practice, no source: folds are drawn up to 3 mm past the edges of their piece.
@pytest.mark.parametrize(
    ("folds", "scores"),
    [
        (["M2 40H58", "M80 20H130"], 2),  # runs over the curve at both ends
        (["M5 40H55", "M5 24H55", "M80 20H130"], 2),  # one of three is beside the piece
        (["M80 20H133", "M127 7V63"], 2),
        (["M80 20H130", "M80 8H130", "M82 62H128"], 1),  # two lie along it, and tell nothing
        (["M130 10H150", "M150 10V60", "M150 60H130", "M80 20H130"], 0),  # a neighbour's sides
        (["M130 10H133", "M133 10V60", "M133 60H130"], 0),  # a neighbour's sides, hardly wide
    ],
)
def test_folds_drawn_a_little_too_long_are_told_by_their_colour(
    folds: list[str], scores: int
) -> None:
    found = report(ROUND, PANEL, *(path(fold, RED) for fold in folds))
    assert found.lines.score == scores
    if scores > 1:
        assert len(found.pieces) == 2


@pytest.mark.parametrize("over", [0.5, 1.7, 3.0])
@pytest.mark.parametrize("width", [2.5, 4.0, 12.0])
def test_a_fold_over_both_edges_of_a_flap_is_told_by_its_colour(over: float, width: float) -> None:
    flap = path(f"M50 50h{width}v10h-{width}z")
    found = report(flap, path(f"M{50 - over} 55h{width + 2 * over}", RED))
    assert (found.lines.cut, found.lines.score, found.pieces[0].scores) == (1, 1, 1)


def test_a_fold_across_two_panels_is_loose_in_each_of_them() -> None:
    panels = [path("M10 10H60V60H10Z"), path("M70 10H120V60H70Z")]
    found = report(*panels, path("M10 40H120", FOLD))
    places = [place_of(finding) for finding in found.findings]
    assert [(10 < x < 60, 70 < x < 120) for x, _ in places] == [(True, False), (False, True)]


@pytest.mark.parametrize("name", ["page-border", "crop marks", "registration-marks"])
def test_marks_around_the_sheet_are_no_cuts(name: str) -> None:
    around = path("M5 5H195V195H5Z", name=name)
    found = report(around, SQUARE)
    assert (found.lines.draw, [piece.area_mm2 for piece in found.pieces]) == (1, [2500])


def test_a_dash_pattern_without_gaps_is_solid() -> None:
    assert report(path("M10 10H60V60H10Z", CUT + ' stroke-dasharray="4 0"')).lines.cut == 1


def test_a_frame_round_the_page_is_told_from_a_panel_as_large_as_it() -> None:
    frame = path("M0 0H200V200H0Z")
    framed = report(frame, SQUARE, path("M10 30H60", FOLD))
    assert [piece.area_mm2 for piece in framed.pieces] == [2500]
    panel = report(frame, SQUARE, path("M0 100H200", FOLD))
    assert [(piece.holes, piece.scores) for piece in panel.pieces] == [(1, 1)]


@pytest.mark.parametrize("first", [0, 3, 5, 8])
@pytest.mark.parametrize(("dx", "dy"), [(0.004, 0.004), (-0.004, 0.003), (0.0, -0.005)])
def test_a_ring_drawn_there_and_back_over_a_seam_is_whole(first: int, dx: float, dy: float) -> None:
    # A ring as one path is led in to its hole and back by the same way, but for rounding.
    outer = [(60.0, 10.0), (90.0, 10.0), (90.0, 90.0), (10.0, 90.0), (10.0, 10.0)]
    inner = [(57.5, 22.0), (30.0, 22.0), (30.0, 70.0), (80.0, 70.0), (80.0, 30.0)]
    back = [(x + dx, y + dy) for x, y in (outer[0], inner[0])]
    way = [*outer, *back, *inner[1:], inner[0]]
    way = way[first:] + way[:first]
    ring = cut_out(path("M" + "L".join(f"{x:g} {y:g}" for x, y in way) + "Z"))
    assert [piece.card.area for piece in ring.pieces] == [
        pytest.approx(shapely.Polygon(outer, [inner]).area, abs=1)
    ]
