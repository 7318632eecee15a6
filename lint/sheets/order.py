"""The order of cutting: of the lines in a part, and of the parts on a mat."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from matready.lint.drawing import Floats
from matready.lint.sheets.laid import Mat
from matready.lint.sheets.parts import CUT, DRAW, SCORE, PartLine
from matready.lint.sheets.turning import Motion

_ROUNDS = 20  # of looking for a way with less travel; it settles after a few
_WORTH_MM = 1e-6  # a way shorter by less is the same way
_ROLES = (DRAW, SCORE, CUT)


def in_order(lines: Sequence[PartLine]) -> tuple[PartLine, ...]:
    """The lines of a part: drawn ones, scores, then cuts from the innermost to the outline.

    Among equals each is followed by the one that begins nearest to its end.
    """
    around = _around(lines)
    ranks: dict[tuple[int, bool, int], list[int]] = defaultdict(list)
    for k, line in enumerate(lines):
        depth = around[k] if line.role == CUT else 0
        ranks[_ROLES.index(line.role), not line.inner, -depth].append(k)
    walked: list[PartLine] = []
    for rank in sorted(ranks):
        rest = [lines[k] for k in ranks[rank]]
        walked += _walked(rest, walked[-1].end if walked else None)
    return tuple(walked)


def _around(lines: Sequence[PartLine]) -> list[int]:
    """For each line how many closed cuts it lies in."""
    closed = [line for line in lines if line.closed and line.role == CUT and len(line.points) > 3]
    if not closed:
        return [0] * len(lines)
    areas = shapely.make_valid(np.array([shapely.Polygon(line.points) for line in closed]))
    whole = shapely.linestrings(
        np.vstack([line.points for line in lines]),
        indices=np.repeat(np.arange(len(lines)), [len(line.points) for line in lines]),
    )
    inside, _ = shapely.STRtree(areas).query(whole, "within")
    return [int(count) for count in np.bincount(inside, minlength=len(lines))]


def _walked(lines: list[PartLine], at: complex | None) -> list[PartLine]:
    starts = np.array([line.start for line in lines])
    here = complex(starts.real.min(), starts.imag.min()) if at is None else at
    left = np.ones(len(lines), bool)
    way = []
    for _ in lines:
        away = np.where(left, np.abs(starts - here), np.inf)
        k = int(np.argmin(away))
        left[k] = False
        way.append(lines[k])
        here = lines[k].end
    return way


def in_walking_order(mat: Mat) -> Mat:
    """The mat with its placements in the order in which they are cut."""
    shapes = [Motion.of(place).area(place.part.shape) for place in mat.placements]
    return replace(mat, placements=tuple(mat.placements[k] for k in walk(shapes)))


def walk(shapes: Sequence[shapely.Geometry]) -> list[int]:
    """The order in which to cut shapes (mm on the mat): from the top-left corner, little travel.

    What lies in a hole of another comes before it: afterwards the waste that it lies in is loose.
    """
    if not shapes:
        return []
    held: dict[int, list[int]] = defaultdict(list)
    for k, host in enumerate(_hosts(shapes)):
        held[host].append(k)
    bounds = shapely.bounds(np.array(shapes, dtype=object))
    middles = (bounds[:, :2] + bounds[:, 2:]) / 2
    order: list[int] = []

    def cut(some: list[int], start: Floats) -> None:
        for k in _way(some, middles, start):
            cut(held[k], middles[k])
            order.append(k)

    cut(held[-1], np.zeros(2))
    return order


def _hosts(shapes: Sequence[shapely.Geometry]) -> list[int]:
    """For each shape the smallest other one in whose hole it lies, -1 for none."""
    filled = [
        shapely.union_all([shapely.Polygon(part.exterior) for part in shapely.get_parts(shape)])
        for shape in shapes
    ]
    which, around = shapely.STRtree(filled).query(filled, "within")
    hosts = [-1] * len(shapes)
    by_size = np.argsort(-shapely.area(filled)[around], kind="stable")
    for k, host in zip(which[by_size].tolist(), around[by_size].tolist(), strict=True):
        if k != host:
            hosts[k] = host
    return hosts


def _way(some: list[int], middles: Floats, start: Floats) -> list[int]:
    """A short way over some places: to the nearest one each time, then without detours."""
    if len(some) < 2:
        return some
    places = np.vstack([start, middles[some]])
    away = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    way, left = [0], set(range(1, len(places)))
    while left:
        way.append(min(left, key=lambda k: (away[way[-1], k], k)))
        left.remove(way[-1])
    # Nothing is to be gained on the way from the last one to nowhere.
    away = np.pad(away, (0, 1))
    way.append(len(places))
    for _ in range(_ROUNDS):
        if not _turned_round(way, away) and not _moved(way, away):
            break
    return [some[k - 1] for k in way[1:-1]]


def _turned_round(way: list[int], away: Floats) -> bool:
    """Turn round stretches of the way where that shortens it (2-opt); tells whether any was."""
    turned = False
    for first in range(1, len(way) - 2):
        a, b = way[first - 1], way[first]
        lasts, afters = np.array(way[first + 1 : -1]), np.array(way[first + 2 :])
        gain = away[a, b] + away[lasts, afters] - away[a, lasts] - away[b, afters]
        best = int(np.argmax(gain))
        if gain[best] > _WORTH_MM:
            last = first + 1 + best
            way[first : last + 1] = way[first : last + 1][::-1]
            turned = True
    return turned


def _moved(way: list[int], away: Floats) -> bool:
    """Put short stretches elsewhere, either way round, where that shortens the way (or-opt)."""
    moved = False
    for size in (1, 2, 3):
        for first in range(1, len(way) - size):
            run, rest = way[first : first + size], way[:first] + way[first + size :]
            a, b = np.array(rest[:-1]), np.array(rest[1:])
            saved = away[way[first - 1], run[0]] + away[run[-1], way[first + size]]
            saved -= away[way[first - 1], way[first + size]]
            joins = [away[a, one] + away[other, b] for one, other in _either_way(run)]
            costs = np.stack(joins) - away[a, b]
            back, at = np.unravel_index(int(np.argmin(costs)), costs.shape)
            if saved - costs[back, at] > _WORTH_MM:
                way[:] = [*rest[: at + 1], *(run[::-1] if back else run), *rest[at + 1 :]]
                moved = True
    return moved


def _either_way(run: list[int]) -> tuple[tuple[int, int], tuple[int, int]]:
    return (run[0], run[-1]), (run[-1], run[0])
