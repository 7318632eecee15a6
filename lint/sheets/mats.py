"""Sheets of paper with their parts, laid on mats: a full one alone, small ones side by side.

A small sheet is laid with its parts as one thing, so nothing in it moves against it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import NamedTuple

from matready.lint.sheets.laid import LaidPaper, Mat, Placement
from matready.lint.sheets.papers import Paper, Sheet

_HAIR_MM = 1e-6  # what sums of sides in mm may be off by
_SAME_MM = 0.01  # sides this near are the same size: inches are rounded to a nanometre


@dataclass(frozen=True, eq=False, slots=True)
class Filled:
    """A sheet of a paper, `number` counted from 1, and its parts, placed from its own corner."""

    paper: Paper
    number: int
    width_mm: float
    height_mm: float
    placements: tuple[Placement, ...]

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm."""
        return self.width_mm, self.height_mm

    @property
    def stocks(self) -> tuple[str, ...]:
        """The stocks that its parts are checked for: one, unless the settings say otherwise."""
        return tuple(dict.fromkeys(placement.part.stock for placement in self.placements))


class Spot(NamedTuple):
    """Where a sheet lies on a mat: the mat's index, the corner in mm, and whether it is turned."""

    mat: int
    x_mm: float
    y_mm: float
    turned: bool


class _Rect(NamedTuple):
    x: float
    y: float
    width: float
    height: float


def misfit(paper: Paper, mat: tuple[float, float]) -> tuple[float, float] | None:
    """Width and height of the first sheet of a paper that is larger than the mat, in mm."""
    for sheet in paper.sheets:
        if not list(_ways(paper, sheet.width_mm, sheet.height_mm, mat)):
            return sheet.width_mm, sheet.height_mm
    return None


def lay(
    sheets: Sequence[Filled], papers: Sequence[Paper], mat: tuple[float, float], gap_mm: float
) -> tuple[Mat, ...]:
    """The mats in the order to load them: paper by paper, full sheets first, then shared mats.

    Sheets keep `gap_mm` apart where that takes no mat more. Each fits on the mat.
    """
    spots = _spots(sheets, mat, gap_mm)
    by_mat: dict[int, list[int]] = {}
    for index, spot in enumerate(spots):
        by_mat.setdefault(spot.mat, []).append(index)
    order = [paper.name for paper in papers]

    def loading(indices: list[int]) -> tuple[bool, int, int]:
        first = min(indices, key=lambda k: (order.index(sheets[k].paper.name), sheets[k].number))
        number = order.index(sheets[first].paper.name)
        return (
            not is_full(sheets[first].size, mat),
            number,
            sheets[first].number,
        )

    groups = sorted(by_mat.values(), key=loading)
    return tuple(
        _mat(number, mat, [(sheets[k], spots[k]) for k in group])
        for number, group in enumerate(groups, start=1)
    )


def prove_papers(mat: Mat) -> None:
    """Raise ValueError with one sentence where sheets overlap or reach past the mat."""
    for laid in mat.papers:
        inside = min(laid.x_mm, laid.y_mm) >= -_HAIR_MM
        inside &= laid.x_mm + laid.width_mm <= mat.width_mm + _HAIR_MM
        if not inside or laid.y_mm + laid.height_mm > mat.height_mm + _HAIR_MM:
            raise ValueError(f"a sheet of {laid.paper} reaches past mat {mat.number}")
    for one, other in combinations(mat.papers, 2):
        if _near(_rect(one), _rect(other), 0.0):
            raise ValueError(f"{one.paper} and {other.paper} overlap on mat {mat.number}")


def _rect(laid: LaidPaper) -> _Rect:
    return _Rect(laid.x_mm, laid.y_mm, laid.width_mm, laid.height_mm)


def is_full(size: tuple[float, float], mat: tuple[float, float]) -> bool:
    """Whether a sheet of this size takes the whole mat, turned or not."""
    sides = sorted(size)
    return all(abs(a - b) < _SAME_MM for a, b in zip(sides, sorted(mat), strict=True))


def share(one: Sheet, other: Sheet, mat: tuple[float, float]) -> bool:
    """Whether two sheets have room on one mat, both turned as they like and edge to edge."""
    sides = [(one.width_mm, one.height_mm), (other.width_mm, other.height_mm)]
    return any(
        a[0] + b[0] <= mat[0] + 2 * _SAME_MM or a[1] + b[1] <= mat[1] + 2 * _SAME_MM
        for a, b in product(*((size, size[::-1]) for size in sides))
        if max(a[0], b[0]) <= mat[0] + _SAME_MM and max(a[1], b[1]) <= mat[1] + _SAME_MM
    )


def _spots(sheets: Sequence[Filled], mat: tuple[float, float], gap_mm: float) -> list[Spot]:
    """A spot for each sheet: of several tries the one with the fewest mats and mixed stocks."""

    def area(k: int) -> float:
        return -sheets[k].width_mm * sheets[k].height_mm

    def tallest(k: int) -> float:
        return -max(sheets[k].width_mm, sheets[k].height_mm)

    keys: list[Callable[[int], tuple[object, ...]]] = [
        lambda k: (sheets[k].stocks, area(k), k),
        lambda k: (area(k), k),
        lambda k: (tallest(k), area(k), k),
    ]
    tries = [
        _first_fit(sheets, sorted(range(len(sheets)), key=key), mat, gap)
        for gap, key in product((gap_mm, 0.0), keys)
    ]
    return min(tries, key=lambda spots: _cost(sheets, spots))


def _cost(sheets: Sequence[Filled], spots: Sequence[Spot]) -> tuple[int, int]:
    stocks: dict[int, set[str]] = {}
    for sheet, spot in zip(sheets, spots, strict=True):
        stocks.setdefault(spot.mat, set()).update(sheet.stocks)
    return len(stocks), sum(len(of) - 1 for of in stocks.values() if of)


def _first_fit(
    sheets: Sequence[Filled], order: Iterable[int], mat: tuple[float, float], gap_mm: float
) -> list[Spot]:
    """Each sheet on the first mat that has room, in its highest, there leftmost, free corner."""
    mats: list[list[_Rect]] = []
    found: dict[int, Spot] = {}
    for k in order:
        ways = list(_ways(sheets[k].paper, sheets[k].width_mm, sheets[k].height_mm, mat))
        for number in range(len(mats) + 1):
            taken = mats[number] if number < len(mats) else []
            corners = _corners(ways, taken, mat, gap_mm)
            if corners:
                rect, turned = min(corners, key=lambda one: (one[0].y, one[0].x, one[1]))
                if number == len(mats):
                    mats.append(taken)
                taken.append(rect)
                found[k] = Spot(number, rect.x, rect.y, turned)
                break
    return [found[k] for k in range(len(sheets))]


def _ways(
    paper: Paper, width: float, height: float, mat: tuple[float, float]
) -> Iterable[tuple[float, float, bool]]:
    """The sides of a sheet as it may be laid on an empty mat; grain and print keep it upright."""
    for turned in (False, True):
        sides = (height, width) if turned else (width, height)
        if turned and (paper.grain or paper.printed or width == height):
            continue
        if all(side <= room + _SAME_MM for side, room in zip(sides, mat, strict=True)):
            yield (min(sides[0], mat[0]), min(sides[1], mat[1]), turned)


def _corners(
    ways: Iterable[tuple[float, float, bool]],
    taken: Sequence[_Rect],
    mat: tuple[float, float],
    gap_mm: float,
) -> list[tuple[_Rect, bool]]:
    """Where a sheet can lie: beside or below what is there already, and free of it."""
    xs = {0.0, *(rect.x + rect.width + gap_mm for rect in taken)}
    ys = {0.0, *(rect.y + rect.height + gap_mm for rect in taken)}
    found = []
    for (width, height, turned), x, y in product(ways, xs, ys):
        rect = _Rect(x, y, width, height)
        if x + width > mat[0] + _HAIR_MM or y + height > mat[1] + _HAIR_MM:
            continue
        if not any(_near(rect, other, gap_mm) for other in taken):
            found.append((rect, turned))
    return found


def _near(one: _Rect, other: _Rect, gap_mm: float) -> bool:
    """Whether two rectangles are nearer to each other, along both axes, than the gap."""
    near = gap_mm - _HAIR_MM
    across = max(one.x - other.x - other.width, other.x - one.x - one.width)
    down = max(one.y - other.y - other.height, other.y - one.y - one.height)
    return across < near and down < near


def _mat(number: int, size: tuple[float, float], laid: Sequence[tuple[Filled, Spot]]) -> Mat:
    papers: list[LaidPaper] = []
    placements: list[Placement] = []
    for sheet, spot in laid:
        sides = (sheet.width_mm, sheet.height_mm)
        width, height = reversed(sides) if spot.turned else sides
        placements += [
            _moved(placement, sheet.height_mm, spot, len(papers)) for placement in sheet.placements
        ]
        papers.append(
            LaidPaper(
                paper=sheet.paper.name,
                stock=", ".join(sheet.stocks),
                sheet=sheet.number,
                x_mm=spot.x_mm,
                y_mm=spot.y_mm,
                width_mm=width,
                height_mm=height,
            )
        )
    return Mat(number, *size, tuple(papers), tuple(placements))


def _moved(placement: Placement, height_mm: float, spot: Spot, laid: int) -> Placement:
    """A placement from the sheet's corner to the mat's; of a turned sheet the left edge is up."""
    x, y, turn = placement.x_mm, placement.y_mm, placement.turn_deg
    if spot.turned:
        x, y, turn = height_mm - y, x, (turn + 90) % 360
    return replace(placement, turn_deg=turn, x_mm=x + spot.x_mm, y_mm=y + spot.y_mm, laid=laid)
