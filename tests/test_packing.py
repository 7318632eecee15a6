"""Packing, against proofs of our own that know nothing of the search, shapely, and brute force."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, translate

from matready.lint.sheets.bound import bound_of, least_area
from matready.lint.sheets.forms import forms_of
from matready.lint.sheets.nesting import into_holes
from matready.lint.sheets.packing import Packing, Place, pack
from matready.lint.sheets.papers import Sheet
from matready.lint.sheets.raster import Shape
from matready.lint.sheets.sharing import most_shared
from matready.lint.sheets.verify import Misplaced, verify

from tests.benchmark_sheets import project
from tests.random_shapes import shapes

QUARTERS = (0.0, 90.0, 180.0, 270.0)
TURNS = st.sampled_from([QUARTERS, (0.0, 180.0), (0.0,), None])
MAT = Sheet(100.0, 100.0)


def packed(
    some: list[Shape],
    sheets: tuple[Sheet, ...] = (MAT,),
    *,
    gap_mm: float = 2.0,
    margin_mm: float = 6.0,
    turns_deg: tuple[float, ...] | None = QUARTERS,
    seconds: float = 0.05,
    seed: int = 1,
) -> Packing:
    """A packing that is proven."""
    packing = pack(
        some,
        sheets,
        gap_mm=gap_mm,
        margin_mm=margin_mm,
        turns_deg=turns_deg,
        seed=seed,
        seconds=seconds,
    )
    verify(some, sheets, packing, gap_mm=gap_mm, margin_mm=margin_mm)
    return packing


@settings(max_examples=30, deadline=None)
@given(
    st.lists(shapes(60), min_size=1, max_size=8),
    st.lists(
        st.builds(Sheet, st.floats(30, 120), st.floats(30, 120), st.sampled_from([None, 1, 2])),
        min_size=1,
        max_size=2,
    ),
    st.floats(0, 5),
    st.floats(0, 12),
    TURNS,
)
def test_each_shape_is_laid_with_gap_and_margin_or_told_of(
    some: list[Shape],
    sheets: list[Sheet],
    gap_mm: float,
    margin_mm: float,
    turns: tuple[float, ...] | None,
) -> None:
    """By shapely's distances, apart from `verify`, which is itself tested below."""
    packing = packed(
        some, tuple(sheets), gap_mm=gap_mm, margin_mm=margin_mm, turns_deg=turns, seconds=0.02
    )
    laid = {
        n: translate(rotate(some[n], place.turn_deg, origin=(0, 0)), place.dx, place.dy)
        for n, place in enumerate(packing.places)
        if place
    }
    assert sorted([*laid, *packing.too_big, *packing.without_room]) == list(range(len(some)))
    for n, shape in laid.items():
        place = packing.places[n]
        assert place is not None
        assert turns is None or place.turn_deg in turns
        used = packing.used[place.sheet]
        room = shapely.box(0, 0, used.width_mm, used.height_mm)
        assert shape.distance(room.exterior) > margin_mm - 1e-6
        assert room.contains(shape.buffer(-1e-6))
        for m, other in laid.items():
            if m < n and packing.places[m].sheet == place.sheet:  # type: ignore[union-attr]
                assert shape.distance(other) > gap_mm - 1e-6
                assert shape.intersection(other).area < 1e-4
    assert packing.bound <= len(packing.used) or packing.without_room


@settings(max_examples=40, deadline=None)
@given(shapes(80), st.sampled_from(QUARTERS), st.floats(0, 3))
def test_what_is_too_big_fits_in_no_turn(shape: Shape, turn: float, gap_mm: float) -> None:
    """A sheet that just holds the shape in one turn, and one that is 1e-3 mm too short."""
    x0, y0, x1, y1 = rotate(shape, turn, origin=(0, 0)).bounds
    width, height, margin = x1 - x0, y1 - y0, 4.0
    just = Sheet(width + 2 * margin, height + 2 * margin)
    assert packed([shape], (just,), gap_mm=gap_mm, margin_mm=margin).places[0]
    short = Sheet(just.width_mm - 1e-3, just.height_mm)
    lies = packed([shape], (short,), gap_mm=gap_mm, margin_mm=margin).places[0]
    boxes = [rotate(shape, other, origin=(0, 0)).bounds for other in QUARTERS]
    room = (width - 1e-3 + 1e-7, height + 1e-7)
    fits = any(b[2] - b[0] <= room[0] and b[3] - b[1] <= room[1] for b in boxes)
    assert (lies is not None) == fits


def test_halves_that_fill_a_sheet_share_it_and_a_hair_more_takes_two() -> None:
    half = shapely.box(0, 0, 88, 43)  # 2 * 43 + 2 = 88 = 100 - 2 * 6
    assert len(packed([half, half], seconds=1.0).used) == 1
    more = shapely.box(0, 0, 88, 43.001)
    assert len(packed([half, more], seconds=1.0).used) == 2
    assert packed([more, more]).bound == 2  # and it is known that they cannot share one
    tilted = rotate(half, 33, origin=(5, 7))
    assert len(packed([tilted, half], turns_deg=None, seconds=1.0).used) == 1
    assert packed([tilted, half]).too_big == (0,)


def test_triangles_with_a_turn_of_half_make_a_square() -> None:
    triangle = shapely.Polygon([(0, 0), (88, 0), (0, 88)])
    slim = triangle.buffer(-2, join_style="mitre")
    assert len(packed([slim, slim], turns_deg=(0.0, 180.0)).used) == 1
    assert len(packed([slim, slim], turns_deg=(0.0,)).used) == 2


def test_holes_are_used() -> None:
    """Frames in frames, by containment as shapely has it: their boxes alone would take five."""
    frames = [
        shapely.box(0, 0, side, side).difference(shapely.box(4, 4, side - 4, side - 4))
        for side in (86, 72, 58, 44, 30)
    ]
    packing = packed(frames, gap_mm=2.0)
    assert len(packing.used) == 1
    laid = [
        translate(rotate(frame, place.turn_deg, origin=(0, 0)), place.dx, place.dy)
        for frame, place in zip(frames, packing.places, strict=True)
        if place
    ]
    for outer, inner in itertools.pairwise(laid):
        assert shapely.Polygon(outer.exterior).contains(inner)


def test_what_lies_in_no_hole_needs_hardly_more_area_than_it_must() -> None:
    """Frames, rings and stars of the benchmark; side by side they would need 146 %."""
    some = project("decorative", 60, seed=1)
    inside = into_holes(some, forms_of(some, [QUARTERS] * len(some), 2.0), 2.0)
    grown = [shape.buffer(1.0) for shape in some]
    outside = [shapely.Polygon(g.exterior).area for n, g in enumerate(grown) if n not in inside]
    assert sum(outside) < 1.03 * least_area(grown, square=True)


def test_what_lies_in_a_hole_is_turned_as_is_allowed() -> None:
    """The frame fits at 30 degrees only, and the wall into it at 30 more, which are not allowed."""
    frame = shapely.box(0, 0, 40, 80).difference(shapely.box(4, 4, 36, 76))
    some = [rotate(frame, -30), rotate(shapely.box(0, 0, 24, 60), -60)]
    sheets = (Sheet(72.0, 100.0),)
    packing = packed(some, sheets, turns_deg=(0.0, 30.0))
    assert [place.turn_deg for place in packing.places if place] == [30.0, 30.0]
    all_round = tuple(float(turn) for turn in range(0, 360, 30))
    assert len(packed(some, sheets, turns_deg=all_round).used) == 1


def test_what_lies_in_a_shape_without_room_is_laid_by_itself() -> None:
    frames = [shapely.box(0, 0, 80, 80).difference(shapely.box(5, 5, 75, 75))] * 2
    stars = [shapely.Point(0, 0).buffer(radius) for radius in (32, 31)]
    strips = [shapely.box(0, 0, 2, 60)] * 2  # the one that goes into the second frame has room
    packing = packed([*frames, *stars, *strips], (Sheet(100.0, 100.0, 1),))
    left = packing.without_room
    assert len([n for n in left if n < 2]) == 1
    assert len([n for n in left if n in (2, 3)]) == 1
    assert not [n for n in left if n > 3]


def test_a_strip_longer_than_the_mat_lies_across_it_where_any_turn_is_allowed() -> None:
    strip = shapely.box(0, 0, 110, 4)  # 88 * sqrt(2) = 124
    assert packed([strip]).too_big == (0,)
    assert packed([strip], turns_deg=None).places[0] is not None
    steep = shapely.box(0, 0, 150, 4)
    wide = Sheet(160.0, 60.0)  # 148 by 48 inside: the strip fits at few angles only
    assert packed([steep], (wide,), turns_deg=None).places[0] is not None


@settings(max_examples=15, deadline=None)
@given(st.lists(shapes(70), min_size=1, max_size=10), st.integers(0, 3))
def test_the_same_seed_gives_the_same_layout(some: list[Shape], seed: int) -> None:
    first, second = (packed(some, seed=seed, seconds=0.5) for _ in range(2))
    if first.complete and second.complete:
        assert first == second


def test_copies_and_their_order_change_nothing_that_counts() -> None:
    panels = [shapely.box(0, 0, 40, 27)] * 9  # three by two: six on a sheet, turned or not
    assert len(packed(panels).used) == 2
    assert packed([]).places == ()
    assert packed([]).bound == 0


# Sheets at hand


def test_sheets_at_hand_are_all_that_is_used() -> None:
    panels = [shapely.box(0, 0, 80, 80)] * 5
    packing = packed(panels, (Sheet(100.0, 100.0, 3),))
    assert len(packing.used) == 3
    assert len(packing.without_room) == 2
    assert packing.bound == 3


def test_small_sheets_are_taken_before_large_ones_where_both_do() -> None:
    small, large = Sheet(60.0, 60.0, 2), Sheet(200.0, 200.0)
    packing = packed([shapely.box(0, 0, 44, 44)] * 2, (large, small))
    assert [used.given for used in packing.used] == [1, 1]
    packing = packed([shapely.box(0, 0, 44, 44)] * 8, (large, small))
    assert sorted(used.given for used in packing.used) == [0]  # or one large, as eight fit there
    packing = packed([shapely.box(0, 0, 44, 44)] * 17, (large, small))
    assert sorted(used.given for used in packing.used) == [0, 1]  # sixteen fit on the large one
    packing = packed([shapely.box(0, 0, 44, 44), shapely.box(0, 0, 150, 150)], (large, small))
    assert sorted(used.given for used in packing.used) == [0, 1]


def test_a_sheet_that_is_all_margin_is_no_sheet() -> None:
    packing = packed([shapely.box(0, 0, 10, 10)], (Sheet(12.0, 90.0), Sheet(50.0, 50.0)))
    assert [used.given for used in packing.used] == [1]
    assert packed([shapely.box(0, 0, 10, 10)], (Sheet(12.0, 90.0),)).too_big == (0,)


# The bound


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 4), st.integers(1, 4)), min_size=1, max_size=5))
def test_no_layout_of_boxes_beats_the_bound(sizes: list[tuple[int, int]]) -> None:
    """Against all partitions of a few boxes on sheets of 4 by 4, laid in every way."""
    boxes = [shapely.box(0, 0, width, height) for width, height in sizes]
    bound = bound_of(boxes, [Sheet(4.0, 4.0)], QUARTERS, gap_mm=0.0, margin_mm=0.0)
    least = _fewest(tuple(sorted(sizes)))
    assert bound.sheets <= least
    assert math.ceil(sum(w * h for w, h in sizes) / 16) <= bound.sheets


def _fewest(sizes: tuple[tuple[int, int], ...]) -> int:
    best = len(sizes)
    for groups in _partitions(list(sizes)):
        if len(groups) < best and all(_share(group, 0) for group in groups):
            best = len(groups)
    return best


def _partitions(items: list[tuple[int, int]]) -> list[list[list[tuple[int, int]]]]:
    if not items:
        return [[]]
    first, *rest = items
    result = []
    for groups in _partitions(rest):
        result.append([[first], *groups])
        for k, group in enumerate(groups):
            result.append([*groups[:k], [first, *group], *groups[k + 1 :]])
    return result


def _share(boxes: list[tuple[int, int]], taken: int) -> bool:
    """Whether boxes fit beside each other on the free cells of a sheet of 4 by 4."""
    if not boxes:
        return True
    (width, height), *rest = boxes
    for w, h in {(width, height), (height, width)}:
        for x, y in itertools.product(range(5 - w), range(5 - h)):
            cells = sum(1 << 4 * (y + j) + x + i for i in range(w) for j in range(h))
            if not taken & cells and _share(rest, taken | cells):
                return True
    return False


@settings(max_examples=25, deadline=None)
@given(st.lists(shapes(70), min_size=2, max_size=10), TURNS)
def test_no_layout_that_was_found_beats_the_bound(
    some: list[Shape], turns: tuple[float, ...] | None
) -> None:
    packing = packed(some, turns_deg=turns, seconds=0.1)
    assert packing.bound <= len(packing.used)


def test_the_bound_says_why() -> None:
    panels = [shapely.box(0, 0, 50, 50)] * 4  # a quarter of the area each, but no two fit
    packing = packed(panels)
    assert (packing.bound, len(packing.used)) == (4, 4)
    assert "middle" in packing.bound_reason
    windowed = shapely.box(0, 0, 80, 80).difference(shapely.box(10, 10, 70, 70))
    packing = packed([windowed] * 2)  # nothing fits into their windows
    assert (packing.bound, packing.bound_reason) == (2, "by area")


def test_the_bound_knows_that_not_every_hole_is_filled() -> None:
    """The long frame is the smaller by area, but longer than any hole: one mat is too few."""
    frame = shapely.box(0, 0, 60, 60).difference(shapely.box(4, 4, 56, 56))
    long = shapely.box(0, 0, 86, 20).difference(shapely.box(4, 4, 82, 16))
    assert bound_of([frame, frame, long, long], [MAT], QUARTERS, gap_mm=2.0, margin_mm=6.0)[0] == 2
    short = shapely.box(0, 0, 40, 20)
    assert bound_of([frame, frame, short], [MAT], QUARTERS, gap_mm=2.0, margin_mm=6.0)[0] == 1


@settings(max_examples=60, deadline=None)
@given(st.data(), st.integers(1, 4), st.integers(1, 3))
def test_what_is_shared_out_is_the_smallest_cut(data: st.DataObject, n: int, m: int) -> None:
    """The theorem of Ford and Fulkerson, over all cuts of a few amounts and rooms."""
    numbers = st.integers(0, 9)
    amounts = np.array([data.draw(numbers) for _ in range(n)], float)
    rooms = np.array([data.draw(numbers) for _ in range(m)], float)
    fits = np.array([[data.draw(st.booleans()) for _ in range(m)] for _ in range(n)])
    cuts = []
    for kept in itertools.product([False, True], repeat=n):
        cut = amounts[~np.array(kept)].sum()
        cuts.append(cut + rooms[fits[np.array(kept)].any(axis=0)].sum())
    assert most_shared(amounts, rooms, fits) == pytest.approx(min(cuts), abs=1e-6)


# Time, and who asks to stop


def test_a_stop_gives_the_best_so_far() -> None:
    asked = itertools.count()
    done: list[tuple[int, int]] = []
    some = [shapely.box(0, 0, 30 + n, 61 - n) for n in range(18)]
    packing = pack(
        some,
        [MAT],
        gap_mm=2.0,
        margin_mm=6.0,
        turns_deg=QUARTERS,
        seed=1,
        seconds=30.0,
        on_progress=lambda now, all_: done.append((now, all_)),
        stop=lambda: next(asked) > 3,
    )
    verify(some, [MAT], packing, gap_mm=2.0, margin_mm=6.0)
    assert not packing.complete
    assert all(packing.places)
    assert done == sorted(done)
    assert done[-1][0] == done[-1][1]
    at_once = packed(some, seconds=0.0)
    assert not at_once.complete
    assert all(at_once.places)


# The proof itself


def test_a_layout_that_breaks_a_promise_is_found_out() -> None:
    panel = shapely.box(0, 0, 20, 20)
    good = packed([panel, panel])
    one, other = good.places
    assert one is not None
    assert other is not None
    away = other.dx - one.dx, other.dy - one.dy

    def told(places: tuple[Place | None, ...], **changes: object) -> str:
        broken = good.__class__(
            **{
                **{name: getattr(good, name) for name in good.__slots__},
                "places": places,
                **changes,
            }
        )
        with pytest.raises(Misplaced) as error:
            verify([panel, panel], [MAT], broken, gap_mm=2.0, margin_mm=6.0, names=["A", "B"])
        return str(error.value)

    nearer = other._replace(dx=one.dx + 0.9 * away[0], dy=one.dy + 0.9 * away[1])
    assert told((one, nearer)) == "A and B are 0.0000 mm apart, less than the gap of 2 mm."
    assert told((one._replace(dx=one.dx - 0.5), other)) == (
        "A reaches 0.5000 mm into the margin of 6 mm."
    )
    assert told((one, one)).startswith("A and B are 0.0000 mm apart")
    assert told((one, None)).startswith("B is neither on one sheet")
    assert told((one, other), too_big=(1,)).startswith("B is neither on one sheet")
    assert told((one,)).startswith("2 pieces were to be laid")
    assert "hold pieces" in told((one, other), used=good.used * 2)
    larger = good.used[0]._replace(width_mm=500.0)
    assert told((one, other), used=(larger,)).startswith("A sheet of 500 × 100 mm is not at hand")
    assert told((one, one._replace(turn_deg=45.0, dx=one.dx + 34.0, dy=one.dy))).startswith(
        "A and B"
    )
