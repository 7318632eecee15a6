"""Necks: where two cuts of one piece leave only a narrow bridge of card between them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import shapely

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.near import components, segment_pairs
from matready.lint.cutting.pieces import Piece
from matready.lint.drawing import Bools, Floats, Ints
from matready.lint.finding import Box, Point, box_around

_SLIT_MM = 0.002  # a slit is taken out of the card as a hole this wide
_AROUND = 6.0  # two places on one edge that are nearer along it than so many widths are one corner
_TIP = 7.0  # where the narrowest way across is no farther from that than this, it is a point's tip
_MARGIN = 4.0  # widths of card around a neck that are looked at
_WIDER = 1.75  # what hangs on a neck has to hold a square of so many widths


@dataclass(frozen=True, eq=False, slots=True)
class Neck:
    """A bridge of card: its narrowest width, how long it stays under the limit, where it is."""

    width_mm: float
    length_mm: float
    at: Point
    box: Box


class _Edges(NamedTuple):
    """The edges of all pieces as segments, in mm.

    For each its ends, ring and piece, how far along the ring it starts, and its length; `total` is
    the length of each ring.
    """

    a: Floats
    b: Floats
    ring: Ints
    card: Ints
    along: Floats
    length: Floats
    total: Floats


class _Chords(NamedTuple):
    """Shortest ways across the card between two edges, in mm.

    For each both ends (n, 2), the width, and the way around from end to end along the edge (n,).
    `low` and `high` (n, 2) are the corners of a box around what the two edges have side by side.
    """

    one: Floats
    other: Floats
    width: Floats
    around: Floats
    low: Floats
    high: Floats


def necks_of(cutout: Cutout, limit_mm: float) -> list[tuple[Piece, list[Neck]]]:
    """For each piece with necks narrower than the limit those necks, the narrowest first.

    A neck joins two parts of the card, or one part with itself around a hole or a slit. A point, a
    corner, and a narrow strip that ends free are none, nor is what two lines in the same place
    leave between them.
    """
    # Chords cut curves short on either side, so a neck may look narrower than it was drawn.
    limit = limit_mm - 2 * cutout.distances.flatten_mm
    cards = _cards(cutout)
    found = []
    for row, chords in _chords_across(cards, cutout.distances.same_place_mm, limit):
        parts = _windows(cards[row], chords, limit)
        necks = [neck for part in parts for neck in _necks(*part, limit)]
        if necks:
            found.append((cutout.pieces[row], _merged(necks, limit)))
    return found


def _merged(necks: list[Neck], limit: float) -> list[Neck]:
    """The necks, the narrowest first; those that follow each other along one bar are one neck.

    A bar about as wide as the limit is broken into many stretches by the chords of its edges.
    """
    boxes = shapely.box(*np.array([neck.box for neck in necks]).T)
    near = shapely.STRtree(boxes).query(boxes, "dwithin", distance=limit)
    label = components(len(necks), *near)
    merged = []
    for value in np.unique(label).tolist():
        of = [neck for neck, one in zip(necks, label.tolist(), strict=True) if one == value]
        merged.append(
            replace(
                min(of, key=lambda neck: neck.width_mm),
                length_mm=sum(neck.length_mm for neck in of),
                box=box_around(neck.box for neck in of),
            )
        )
    return sorted(merged, key=lambda neck: neck.width_mm)


def _cards(cutout: Cutout) -> list[shapely.Geometry]:
    """The card of each piece, with a hair taken out where a slit runs."""
    cards: list[shapely.Geometry] = [piece.card for piece in cutout.pieces]
    blade, doubles = cutout.blade, cutout.doubles
    edges = [p.lines + tuple(n for hole in p.holes for n in hole.lines) for p in cutout.pieces]
    slit = ~blade.closed & ~np.isin(blade.source, [n for lines in edges for n in lines])
    slit[doubles.line[doubles.whole(blade)]] = False
    ways = [shapely.LineString(blade.points_of(n)) for n in np.flatnonzero(slit).tolist()]
    if not ways or not cards:
        return cards
    ways += _links(ways, cutout.distances.join_mm)
    way, card = shapely.STRtree(cards).query(ways, "intersects")
    for row in np.unique(card).tolist():
        inner = shapely.union_all([ways[n] for n in way[card == row].tolist()])
        hair = shapely.buffer(inner, _SLIT_MM / 2, cap_style="flat")
        cards[row] = shapely.difference(cards[row], hair)
    return cards


def _links(ways: list[shapely.LineString], join_mm: float) -> list[shapely.LineString]:
    """What is missing between the ends of slits and the slits that they meet, to the blade."""
    ends = shapely.points([end for way in ways for end in (way.coords[0], way.coords[-1])])
    end, way = shapely.STRtree(ways).query(ends, "dwithin", distance=join_mm)
    links = shapely.shortest_line(ends[end], np.array(ways, object)[way])
    return list(links[(end // 2 != way) & (shapely.length(links) > 0)])


def _edges(cards: list[shapely.Geometry]) -> _Edges:
    rings, card = shapely.get_rings(np.array(cards, object), return_index=True)
    coords, of = shapely.get_coordinates(rings, return_index=True)
    inside = of[1:] == of[:-1]
    a, b, ring = coords[:-1][inside], coords[1:][inside], of[:-1][inside]
    length = np.hypot(*(b - a).T)
    total: Floats = np.bincount(ring, weights=length, minlength=len(rings)).astype(np.float64)
    before = np.concatenate([[0.0], np.cumsum(total)[:-1]])
    along = np.concatenate([[0.0], np.cumsum(length)[:-1]]) - before[ring]
    return _Edges(a, b, ring, np.asarray(card)[ring], along, length, total)


def _chords_across(
    cards: list[shapely.Geometry], least: float, limit: float
) -> Iterator[tuple[int, _Chords]]:
    """By piece its ways from edge to edge through the card, from `least` to `limit` wide."""
    edges = _edges(cards)
    if not len(edges.a):
        return
    i, j = segment_pairs(edges.a, edges.b, limit)
    around = _way_round(edges, i, j)
    apart = (edges.card[i] == edges.card[j]) & (around > _AROUND * limit)
    i, j, around = i[apart], j[apart], around[apart]
    one, other = _nearest(edges, i, j)
    width = np.hypot(*(one - other).T)
    keep = (width < limit) & (width > least)
    # Long edges beside a blunt corner come as near to each other as those beside a neck.
    keep[keep] = _arc(edges, i[keep], j[keep], one[keep], other[keep]) > _AROUND * limit
    i, j, one, other = i[keep], j[keep], one[keep], other[keep]
    low = np.maximum(np.minimum(edges.a[i], edges.b[i]), np.minimum(edges.a[j], edges.b[j]))
    high = np.minimum(np.maximum(edges.a[i], edges.b[i]), np.maximum(edges.a[j], edges.b[j]))
    chords = _Chords(
        one, other, width[keep], around[keep],
        np.minimum(np.minimum(low, high), np.minimum(one, other)),
        np.maximum(np.maximum(low, high), np.maximum(one, other)),
    )  # fmt: skip
    middle, card = (one + other) / 2, edges.card[i]
    for row in np.flatnonzero(_holds_parts(cards, limit)).tolist():
        of = np.flatnonzero(card == row)
        shapely.prepare(cards[row])
        of = of[shapely.contains_xy(cards[row], middle[of])]
        if len(of):
            yield row, _Chords(*(column[of] for column in chords))


def _holds_parts(cards: list[shapely.Geometry], limit: float) -> Bools:
    """False for a card that is no wider than a neck itself, and has no hole to go round."""
    shapes = np.array(cards, object)
    broad = 2 * shapely.area(shapes) > limit * shapely.length(shapes)
    roomy = shapely.area(shapes) > 2 * (_WIDER * limit) ** 2
    return np.asarray(broad & roomy | (shapely.get_num_interior_rings(shapes) > 0))


def _way_round(edges: _Edges, i: Ints, j: Ints) -> Floats:
    """The longest way along a ring between two of its segments; endless from ring to ring.

    What hangs on a neck of one ring has a longer edge than _AROUND widths, or it is too small to
    count.
    """
    gap = np.abs(edges.along[i] - edges.along[j]) + np.maximum(edges.length[i], edges.length[j])
    back = edges.total[edges.ring[i]] - np.abs(edges.along[i] - edges.along[j])
    back += np.maximum(edges.length[i], edges.length[j])
    return np.where(edges.ring[i] == edges.ring[j], np.minimum(gap, back), np.inf)


def _arc(edges: _Edges, i: Ints, j: Ints, one: Floats, other: Floats) -> Floats:
    """The shorter way along a ring from a point on segment i to one on j; endless between rings."""
    at = [
        edges.along[of] + np.hypot(*(point - edges.a[of]).T) for of, point in ((i, one), (j, other))
    ]
    gap = np.abs(at[0] - at[1])
    return np.where(
        edges.ring[i] == edges.ring[j], np.minimum(gap, edges.total[edges.ring[i]] - gap), np.inf
    )


def _nearest(edges: _Edges, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """The nearest points of pairs of segments that do not cross."""
    best = np.full(len(i), np.inf)
    one, other = np.zeros((len(i), 2)), np.zeros((len(i), 2))
    for tip_of, body, swapped in ((i, j, False), (j, i, True)):
        start, d = edges.a[body], edges.b[body] - edges.a[body]
        square = np.maximum(edges.length[body], 1e-12) ** 2
        for end in (edges.a, edges.b):
            tip = end[tip_of]
            t = np.clip(np.einsum("ij,ij->i", tip - start, d) / square, 0, 1)
            foot = start + d * t[:, None]
            away = np.hypot(*(tip - foot).T)
            better = away < best
            best[better] = away[better]
            first, second = (foot, tip) if swapped else (tip, foot)
            one[better], other[better] = first[better], second[better]
    return one, other


def _windows(
    card: shapely.Geometry, chords: _Chords, limit: float
) -> list[tuple[shapely.Geometry, _Chords]]:
    """The card around each cluster of chords, and those chords."""
    boxes = shapely.box(*(chords.low - limit).T, *(chords.high + limit).T)
    label = components(len(boxes), *shapely.STRtree(boxes).query(boxes))
    parts = []
    for value in np.unique(label).tolist():
        of = label == value
        own = _Chords(*(column[of] for column in chords))
        if own.around[np.argmin(own.width)] <= _TIP * limit:
            continue
        x0, y0 = (own.low.min(axis=0) - _MARGIN * limit).tolist()
        x1, y1 = (own.high.max(axis=0) + _MARGIN * limit).tolist()
        parts.append((shapely.intersection(card, shapely.box(x0, y0, x1, y1)), own))
    return parts


def _necks(card: shapely.Geometry, chords: _Chords, limit: float) -> list[Neck]:
    """What an opening by `limit` takes away between two edges of what it leaves."""
    core = shapely.buffer(card, -limit / 2)
    left = shapely.buffer(core, limit / 2)
    narrow = shapely.get_parts(shapely.difference(card, left))
    if not len(narrow):
        return []
    # An opening rounds corners, which leaves slivers on them; what hangs on a neck is wider. Arcs
    # of straight steps reach a little too far, at a corner right through the hair of a slit.
    large = shapely.get_parts(shapely.intersection(left, card))
    large = shapely.union_all(large[shapely.area(large) > (_WIDER * limit) ** 2])
    middles = (chords.one + chords.other) / 2
    # A neck's ends are rounded off too, so the narrowest place may lie a little way before them.
    tree = shapely.STRtree(narrow)
    chord, which = tree.query(shapely.points(middles), "dwithin", distance=limit / 2)
    necks: dict[int, Neck] = {}
    for row in np.unique(which).tolist():
        of = chord[which == row]
        narrowest = int(of[np.argmin(chords.width[of])])
        x, y = middles[narrowest].tolist()
        around = shapely.box(*(middles[narrowest] - 2 * limit), *(middles[narrowest] + 2 * limit))
        if _joins(narrow[row], large) or _parts(card, core, around, narrow[row], limit):
            width = float(chords.width[narrowest])
            length = max(narrow[row].length / 2 - width, 0.0)
            necks.setdefault(narrowest, Neck(width, length, (x, y), narrow[row].bounds))
    return list(necks.values())


def _joins(narrow: shapely.Polygon, large: shapely.Geometry) -> bool:
    """True where a narrow part meets the wide ones in two places, or is a ring of its own."""
    if shapely.get_num_interior_rings(narrow):
        return True
    contact = shapely.intersection(shapely.buffer(narrow, _SLIT_MM / 4), large)
    return len(shapely.get_parts(contact)) > 1


def _parts(
    card: shapely.Geometry,
    core: shapely.Geometry,
    around: shapely.Polygon,
    narrow: shapely.Polygon,
    limit: float,
) -> bool:
    """True where a narrow part keeps two parts of the core asunder, as at the tip of a slit.

    The core is where the middle of a circle `limit` wide can be; two such circles on either side
    of a tip overlap, so that they leave no narrow part right through. What lies beyond a slit is
    near, too, but it does not hang on the narrow part.
    """
    parts = shapely.get_parts(shapely.intersection(core, around))
    parts = parts[shapely.area(parts) > (limit / 4) ** 2]
    parts = parts[shapely.dwithin(parts, narrow, limit / 2 + _SLIT_MM)]
    ways = shapely.shortest_line(parts, narrow)
    return int(shapely.covers(shapely.buffer(card, _SLIT_MM / 4), ways).sum()) > 1
