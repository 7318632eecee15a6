"""Outlines that the blade crosses: with themselves, with another outline, or by an open line."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np
import shapely

from matready.lint.cutting.blade import Blade
from matready.lint.cutting.closedways import Outline, outlines_of
from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.faces import Shapes
from matready.lint.drawing import Floats, Ints
from matready.lint.finding import Box, Point

_FULL = 0.4  # a triangle fills half of the box around it
_SMALLER = 0.8  # an opening is clearly smaller than its piece
_INSIDE = 0.5  # share of a smaller outline inside another one, from which on it is its opening


@dataclass(frozen=True, eq=False, slots=True)
class Crossing:
    """An outline that is crossed, `count` times, first at `at`.

    `lines` number the drawing's, those of the outline first; `box` goes round all the crossings, or
    round an open line.
    `kind` tells what crosses it: "itself", "outline" (another one), "opening" (one that lies in
    it for the most part), or "line" (one that stays open). `depth_mm` is how wide the part is that
    the two share, or of an opening the part outside.
    """

    kind: str
    lines: tuple[int, ...]
    at: Point
    box: Box
    count: int
    depth_mm: float


def find_crossings(cutout: Cutout, overrun_mm: float) -> list[Crossing]:
    """Every pair of cut lines that cross, in drawing order, where one of them is an outline.

    Touching is no crossing, nor are shared edges, nor an overlap too thin for the blade to tell
    from a shared edge. An open line may run on past an outline by `overrun_mm`; so may a slot that
    is drawn closed and no wider than that.
    """
    blade, least = cutout.blade, 2 * cutout.distances.same_place_mm
    if not len(blade.total):
        return []
    outlines, rest = outlines_of(cutout)
    rings = np.array([shapely.LineString(o.points) for o in outlines], object)
    found = _with_themselves(outlines, rings, cutout, least)
    found += _between_outlines(outlines, rings, least, overrun_mm)
    found += _by_open_lines(blade, outlines, rings, rest, least, overrun_mm)
    told = [
        replace(crossing, lines=tuple(blade.source[list(crossing.lines)].tolist()))
        for crossing in found
    ]
    return sorted(told, key=lambda crossing: crossing.lines)


def _with_themselves(
    outlines: list[Outline], rings: Shapes, cutout: Cutout, least: float
) -> list[Crossing]:
    """Outlines that go round some place twice, or round one place one way and another the other.

    Where a closed line crosses itself, the winding numbers of the four corners there are n, n + 1,
    n + 2 and n + 1: over all places they differ by two. Where it only touches itself they do not.
    """
    found = []
    for row in np.flatnonzero(~shapely.is_simple(rings)).tolist() if len(rings) else ():
        if _is_traced_twice(outlines[row], cutout):
            continue
        noded = shapely.union_all([rings[row]])
        cells = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
        cells = cells[_mean_width(cells) > least]
        winding = [_winding(shapely.point_on_surface(c), outlines[row].points) for c in cells]
        if not winding or max(*winding, 0) - min(*winding, 0) < 2:
            continue
        spots = _crossed_at(outlines[row].points, noded)
        width = float(_mean_width(cells).min())
        found.append(_told("itself", outlines[row].lines, spots, width))
    return found


def _is_traced_twice(outline: Outline, cutout: Cutout) -> bool:
    """True where much of an outline lies on itself: a doubled cut, and no crossing."""
    doubles = cutout.doubles
    own = (doubles.line == doubles.other) & np.isin(doubles.line, outline.lines)
    total = float(cutout.blade.total[list(outline.lines)].sum())
    return float(doubles.length[own].sum()) > total / 4


def _winding(point: shapely.Point, ring: Floats) -> int:
    """How often a closed way goes round a point that does not lie on it."""
    away = ring - (point.x, point.y)
    turn = np.arctan2(away[:, 1], away[:, 0])
    step = (np.diff(turn) + np.pi) % (2 * np.pi) - np.pi
    return round(float(step.sum()) / (2 * np.pi))


def _crossed_at(ring: Floats, noded: shapely.Geometry) -> Floats:
    """Where at least four ends of the noded way meet, (n, 2)."""
    parts = shapely.get_parts(noded)
    ends = np.vstack([shapely.get_coordinates(p)[[0, -1]] for p in parts])
    spots, count = np.unique(np.round(ends, 6), axis=0, return_counts=True)
    many = spots[count > 2]
    return many if len(many) else ring[:1]


def _mean_width(shapes: Shapes) -> Floats:
    """Twice the area over the length of the edge: the width of a long strip, in mm."""
    return np.asarray(2 * shapely.area(shapes) / np.maximum(shapely.length(shapes), 1e-9))


def _widest(shape: shapely.Geometry) -> float:
    """The mean width of the widest part of an area; 0 where there is none."""
    parts = shapely.get_parts(shape)
    parts = parts[shapely.get_dimensions(parts) == 2]
    return float(_mean_width(parts).max()) if len(parts) else 0.0


def _across(shape: shapely.Geometry) -> float:
    """How wide the widest part of an area is in the direction in which it is narrowest, in mm.

    Of an angled strip, which fills little of the box around it, that is its mean width.
    """
    parts = shapely.get_parts(shape)
    parts = parts[shapely.get_dimensions(parts) == 2]
    widest = parts[np.argmax(_mean_width(parts))]
    around = shapely.oriented_envelope(widest)
    if shapely.area(widest) < _FULL * shapely.area(around):
        return float(_mean_width(widest))
    corners = shapely.get_coordinates(around)
    return float(np.hypot(*np.diff(corners[:3], axis=0).T).min())


def _told(kind: str, lines: tuple[int, ...], spots: Floats, depth: float) -> Crossing:
    (x0, y0), (x1, y1) = spots.min(axis=0).tolist(), spots.max(axis=0).tolist()
    x, y = spots[0].tolist()
    return Crossing(kind, lines, (x, y), (x0, y0, x1, y1), len(spots), depth)


def _between_outlines(
    outlines: list[Outline], rings: Shapes, least: float, overrun_mm: float
) -> list[Crossing]:
    """Pairs of outlines of which each has a part inside and a part outside the other."""
    if len(outlines) < 2:
        return []
    one, other = shapely.STRtree(rings).query(rings, "intersects")
    met = one < other
    one, other = one[met], other[met]
    areas = _areas(outlines, np.unique([one, other]))
    found = []
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        both = shapely.intersection(areas[a], areas[b])
        apart = (shapely.difference(areas[a], areas[b]), shapely.difference(areas[b], areas[a]))
        if min(_widest(both), *map(_widest, apart)) <= least:
            continue
        large, small = (a, b) if areas[a].area >= areas[b].area else (b, a)
        lines = (*outlines[large].lines, *outlines[small].lines)
        spots = _spots(shapely.intersection(rings[a], rings[b]))
        inside = both.area > _INSIDE * areas[small].area
        inside = inside and areas[small].area < _SMALLER * areas[large].area
        if inside and _is_slot(areas[small], areas[large], overrun_mm):
            continue
        part = shapely.difference(areas[small], areas[large]) if inside else both
        kind, depth = "opening" if inside else "outline", _across(part)
        found.append(_told(kind, lines, spots, depth))
    return found


def _areas(outlines: list[Outline], which: Ints) -> dict[int, shapely.Geometry]:
    """The area inside each of some outlines, valid even where it crosses itself."""
    shapes = np.array([shapely.Polygon(outlines[n].points) for n in which.tolist()], object)
    if len(shapes):
        bad = ~shapely.is_valid(shapes)
        shapes[bad] = shapely.make_valid(shapes[bad])
    return dict(zip(which.tolist(), shapes, strict=True))


def _is_slot(small: shapely.Geometry, large: shapely.Geometry, overrun_mm: float) -> bool:
    """True for a narrow slot that runs in from the edge, drawn a little past it."""
    outside = shapely.difference(small, large)
    x0, y0, x1, y1 = outside.bounds
    return _widest(small) <= overrun_mm and max(x1 - x0, y1 - y0) <= 1.5 * overrun_mm


def _spots(shape: shapely.Geometry) -> Floats:
    """One point for each part of where two ways meet, (n, 2)."""
    return np.array([shapely.get_coordinates(part)[0] for part in shapely.get_parts(shape)])


def _by_open_lines(
    blade: Blade,
    outlines: list[Outline],
    rings: Shapes,
    rest: list[int],
    least: float,
    overrun_mm: float,
) -> list[Crossing]:
    """Open lines that have a long part inside an outline and a long part outside."""
    if not rest or not outlines:
        return []
    ways = np.array([shapely.LineString(blade.points_of(n)) for n in rest], object)
    way, ring = shapely.STRtree(rings).query(ways, "intersects")
    areas = _areas(outlines, np.unique(ring))
    crossed: dict[int, list[int]] = defaultdict(list)
    for w, r in zip(way.tolist(), ring.tolist(), strict=True):
        inside = shapely.intersection(ways[w], shapely.buffer(areas[r], -least))
        outside = shapely.difference(ways[w], shapely.buffer(areas[r], least))
        if min(_longest(inside), _longest(outside)) > overrun_mm:
            crossed[w].append(r)
    found = []
    for w, over in crossed.items():
        spots = np.vstack([_spots(shapely.intersection(rings[r], ways[w])) for r in over])
        within = max(_longest(shapely.intersection(ways[w], areas[r])) for r in over)
        lines = (*(n for r in over for n in outlines[r].lines), rest[w])
        found.append(replace(_told("line", lines, spots, within), box=ways[w].bounds))
    return found


def _longest(shape: shapely.Geometry) -> float:
    """The length of the longest part in mm; 0 where there is none."""
    lengths = shapely.length(shapely.get_parts(shape))
    return float(lengths.max()) if len(lengths) else 0.0
