"""The proof refuses a copy that is not as good as its source, and passes one that is.

References: shapely (GEOS) measures how far two drawings lie apart (Hausdorff distance); what each
change does to pieces and folds is plain from the drawing.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import shapely.ops

from matready.lint.repair.licence import Licence, May
from matready.lint.repair.proof import Allowed, Unproven, prove

from tests.drawn import CUT, FOLD, cut_out, path

HAIRLINE = Allowed(0.5)
WALL = path("M10 10H90V90H10Z", name="wall")
CREASE = path("M10 30H90", FOLD)
WINDOW = path("M40 50H60V70H40Z")
SLIT = path("M20 80H80")
RIGHT = path("M110 10H190V90H110Z")
SHEET = (WALL, CREASE, WINDOW, SLIT, RIGHT)

MOVED_BACK = '<g transform="translate(5 -5)">'

Body = tuple[str, ...]


def _proved(before: Body, after: Body, allowed: Allowed = HAIRLINE) -> float:
    return prove(cut_out(*before), cut_out(*after), allowed)


def _swap(old: str, new: str) -> Body:
    return tuple(new if part == old else part for part in SHEET)


SAME: dict[str, Body] = {
    "the very same": SHEET,
    "in groups": (f"<g>{WALL}{CREASE}{WINDOW}{SLIT}</g>", f'<g id="x">{RIGHT}</g>'),
    "in an order that does not show": (RIGHT, *SHEET[:-1]),
    "inside a transform": (f'<g transform="translate(-5 5)">{MOVED_BACK}{"".join(SHEET)}</g></g>',),
    "the other way round": _swap(WALL, path("M10 10V90H90V10Z", name="wall")),
    "from another corner": _swap(WALL, path("M90 90H10V10H90Z", name="wall")),
    "line by line": _swap(WALL, path("M10 10H90V90") + path("M90 90H10V10")),
    "as another shape": _swap(WINDOW, f'<rect x="40" y="50" width="20" height="20" {CUT}/>'),
    "with other numbers": _swap(WINDOW, path("m4e1 50 20 0 0 20-20 0z")),
    "with a copy more": (*SHEET, WALL),
    "with a text more": (*SHEET, "<text>wing</text>"),
}  # fmt: skip


@pytest.mark.parametrize("name", SAME)
def test_what_is_the_same_passes(name: str) -> None:
    assert _proved(SHEET, SAME[name]) == pytest.approx(0, abs=1e-6)
    assert _proved(SAME[name], SHEET) == pytest.approx(0, abs=1e-6)


WORSE: dict[str, tuple[Body, str]] = {
    "a slit is lost": (_swap(SLIT, ""), "a line would move by"),
    "a slit is shorter": (_swap(SLIT, path("M20 80H79.4")), "a line would move by 0.60 mm"),
    "a slit is longer": (_swap(SLIT, path("M20 80H80.6")), "a line would move by 0.60 mm"),
    "a slit is moved": (_swap(SLIT, path("M20 80.6H80")), "a line would move by 0.60 mm"),
    "a slit is added": ((*SHEET, path("M20 85H80")), "a line would move by"),
    "a wall is moved": (_swap(WALL, path("M10.6 10H90.6V90H10.6Z")), "would move by 0.60 mm"),
    "a wall is lost": (_swap(RIGHT, ""), "a line would move by"),
    "a wall is open": (
        _swap(WALL, path("M10 10.6V90H90V10H10", name="wall")),
        '"wall" at 50, 50 mm would not fall out',
    ),
    "a window is lost": (_swap(WINDOW, ""), "a line would move by"),
    "a window is open": (
        _swap(WINDOW, path("M40 50.6V70H60V50H40")),
        '"wall" at 50, 50 mm would not fall out',
    ),
    "a piece is cut in two": (_swap(SLIT, path("M10 80H90")), "a line would move by"),
    "a fold is lost": (_swap(CREASE, ""), "a line would be lost or added"),
    "a fold is added": ((*SHEET, path("M10 35H90", FOLD)), "a line would move by"),
    "a fold is moved": (_swap(CREASE, path("M10 30.6H90", FOLD)), "would move by 0.60 mm"),
    "a fold becomes a cut": (_swap(CREASE, path("M10 30H90")), "would be lost or added"),
    "a cut becomes a fold": (_swap(SLIT, path("M20 80H80", FOLD)), "a line would move by"),
    "a name makes a fold of a cut": (_swap(SLIT, path("M20 80H80", CUT, "fold-1")),
                                     "a cut line would be taken for a score line"),
    "a name makes a drawing of a fold": (_swap(CREASE, path("M10 30H90", FOLD, "engraving")),
                                         "a score line would be taken for a draw line"),
}  # fmt: skip


@pytest.mark.parametrize("name", WORSE)
def test_what_is_worse_is_refused(name: str) -> None:
    after, reason = WORSE[name]
    with pytest.raises(Unproven, match=reason):
        _proved(SHEET, after)


def test_the_only_line_that_is_lost_is_missed() -> None:
    with pytest.raises(Unproven, match="lost or added"):
        _proved((SLIT,), ())
    with pytest.raises(Unproven, match="lost or added"):
        _proved((), (SLIT,))


@pytest.mark.parametrize("by_mm", [0.0, 0.1, 0.3, 0.5])
def test_what_moves_a_little_passes_and_is_measured(by_mm: float) -> None:
    """The distance is that of Hausdorff, by shapely, between old and new line."""
    slit = f"M20 80C40 {80 + by_mm} 60 {80 + by_mm} 80 {80 + by_mm}"
    after = _swap(SLIT, path(slit))
    old = shapely.LineString([(20, 80), (80, 80)])
    new = cut_out(path(slit)).drawing.geometry.points
    expected = old.hausdorff_distance(shapely.LineString(new))
    assert _proved(SHEET, after) == pytest.approx(expected, abs=0.01)


def test_what_may_move_is_what_is_allowed() -> None:
    after = _swap(SLIT, path("M20 80.3H80"))
    assert _proved(SHEET, after, Allowed(0.3)) == pytest.approx(0.3, abs=1e-6)
    with pytest.raises(Unproven, match=r"at most 0\.2 mm may be"):
        _proved(SHEET, after, Allowed(0.2))


# Order of painting

RED, BLUE = 'fill="#d22" stroke="none"', 'fill="#22d" stroke="none"'


@pytest.mark.parametrize(
    ("one", "other", "shows"),
    [
        (path("M10 10H50V50H10Z", RED), path("M30 30H70V70H30Z", BLUE), True),
        (path("M10 10H50V50H10Z", RED), path("M30 30H70V70H30Z", RED), False),
        (path("M10 10H50V50H10Z", RED), path("M60 30H70V70H60Z", BLUE), False),
        (path("M10 10H50V50H10Z", RED), path("M20 20H30", 'stroke="#22d"'), True),
        (path("M10 10H50V50H10Z", 'fill="none" stroke="#d22"'), path("M20 20H30", BLUE), False),
        (path("M10 10H50", 'stroke="#d22"'), path("M30 0V40", 'stroke="#22d"'), True),
        (path("M10 10H50", 'stroke="#d22"'), path("M30 11V40", 'stroke="#22d"'), True),
        (path("M10 10H50", 'stroke="#d22"'), path("M30 15V40", 'stroke="#22d"'), False),
    ],
    ids=["fills overlap", "one colour", "apart", "line on fill", "inside an outline", "lines cross",
         "strokes touch", "lines apart"],
)  # fmt: skip
def test_another_order_of_painting_is_refused_where_it_shows(
    one: str, other: str, shows: bool
) -> None:
    if shows:
        with pytest.raises(Unproven, match="painted in another order"):
            _proved((one, other), (other, one))
    else:
        assert _proved((one, other), (other, one)) == 0


# What reshaping may do


def test_another_size_passes_where_it_is_asked_for() -> None:
    larger = f'<g transform="scale(1.25)">{"".join(SHEET)}</g>'
    assert _proved(SHEET, (larger,), Allowed(0.5, ratio=1.25)) == pytest.approx(0, abs=1e-6)
    with pytest.raises(Unproven, match="would move by"):
        _proved(SHEET, (larger,))
    with pytest.raises(Unproven, match="would move by"):
        _proved(SHEET, (larger,), Allowed(0.5, ratio=1.2))


def test_a_line_that_is_added_passes_where_it_is_asked_for() -> None:
    """The missing side of a wall: the piece that falls out then is no surprise."""
    open_wall, closed = path("M10 10V90H90V10"), path("M10 10V90H90V10Z")
    (opening,) = cut_out(open_wall).openings
    added = Allowed(0.5, added=(opening.ends,))
    assert added.pieces
    assert _proved((open_wall,), (closed,), added) == pytest.approx(0, abs=1e-6)
    with pytest.raises(Unproven, match="would move by"):
        _proved((open_wall,), (closed,))
    with pytest.raises(Unproven, match="would move by"):
        _proved((open_wall,), (closed, SLIT), added)


# A fold that turns in a gap: its dashes are 2 mm long and 1.5 mm apart, and the gap from 37 to
# 38.5 mm along it has its corner at 38.25 mm.
TURNING = np.array([[21.75, 40], [60, 40], [60, 70]])
TOTAL_MM = 68.25


def _along(start_mm: float, end_mm: float) -> str:
    """The stretch of the turning fold between two places, as path data."""
    line = shapely.ops.substring(shapely.LineString(TURNING), start_mm, min(end_mm, TOTAL_MM))
    return "M" + " ".join(f"{x} {y}" for x, y in line.coords)


def _turning(dashes: str) -> Body:
    return (WALL, f'<path id="fold" d="{dashes}" fill="none" stroke="#b5543a"/>')


SHOWN = (WALL, path(_along(0, TOTAL_MM), 'fill="none" stroke="#b5543a" stroke-dasharray="2 1.5"'))
GAPS = tuple((3.5 * k + 2, min(3.5 * k + 3.5, TOTAL_MM)) for k in range(19))
MAY_SHOW = Allowed(0.0, licences=(Licence(TURNING, May.SHOW_DASHES, GAPS),))
DASHES = [_along(3.5 * k, 3.5 * k + 2) for k in range(20)]


def test_dashes_that_were_shown_may_be_cut_with_a_gap_round_a_corner() -> None:
    assert _proved(SHOWN, _turning("".join(DASHES)), MAY_SHOW) == pytest.approx(0, abs=0.03)


@pytest.mark.parametrize("gap", [3, 10])
def test_a_gap_that_was_shown_may_not_be_cut(gap: int) -> None:
    """The eleventh gap is the one with the corner."""
    filled = [*DASHES, _along(3.5 * gap, 3.5 * gap + 5.5)]
    with pytest.raises(Unproven, match="a gap between dashes would be cut through"):
        _proved(SHOWN, _turning("".join(filled)), MAY_SHOW)
