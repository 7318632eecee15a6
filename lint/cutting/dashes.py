"""Rows of short dashes, straight or along a curve, that together make one fold line."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from matready.lint.cutting.near import clusters, pairs_within, spread
from matready.lint.drawing import Bools, Drawing, Floats, Ints

# The shape of a dashed fold in card; common practice, no source. Cuts of 1.2 to 3 mm are usual in
# published perforation tables, drawings stretch them.
DASH_MM = 8.0  # a longer dash is a line of its own
GAP_MM = 6.0  # a longer gap ends the row
_TURN = float(np.cos(np.radians(20)))  # a curved fold turns by less than this from dash to dash
_MISS_MM = 0.25  # or the next dash starts this little beside the straight way on
_CORNER_DEG = 10.0  # a bend this much sharper than the row's usual one is a corner of two folds
_UNEVEN = 0.35  # coefficient of variation of dashes and of gaps in one row
_TOUCH_MM = 0.05  # ends this near are drawn to meet
_EVEN = 0.15  # three dashes are a row only when they are this regular


@dataclass(frozen=True, eq=False, slots=True)
class Dashes:
    """k short open lines: their numbers, lengths (mm), ends (k, 2, 2) and outward directions."""

    line: Ints
    length: Floats
    ends: Floats
    ways: Floats
    known: Bools  # already told to be scores
    node: Ints  # what draws them


def short_lines(drawing: Drawing, lines: Ints, known: Bools) -> Dashes:
    """The open lines among `lines` that are short enough to be dashes; `known` (len(lines),)."""
    geometry = drawing.geometry
    first, last = geometry.offsets[lines], geometry.offsets[lines + 1] - 1
    points = geometry.points
    step = np.hypot(*np.diff(points, axis=0).T) if len(points) > 1 else np.zeros(0)
    ruler = np.concatenate([[0.0], np.cumsum(step)])
    length = ruler[last] - ruler[first]
    short = (length <= DASH_MM) & ~geometry.closed[lines]
    # A dash does not turn back on itself: its ends are nearly as far apart as it is long.
    reach = np.hypot(*(points[last] - points[first]).T)
    short &= reach >= 0.9 * length
    short &= known | ~_hemmed(drawing, lines, short)
    first, last = first[short], last[short]
    ends = np.stack([points[first], points[last]], axis=1)
    ways = np.stack([points[first] - points[first + 1], points[last] - points[last - 1]], axis=1)
    ways /= np.linalg.norm(ways, axis=2, keepdims=True)
    return Dashes(
        lines[short], length[short], ends, ways, known[short], drawing.line_node[lines[short]]
    )


def _hemmed(drawing: Drawing, lines: Ints, short: Bools) -> Bools:
    """Lines that are the side of an outline drawn line by line, however short: no dashes.

    Both ends meet other lines, or one goes on into a single line that is no dash itself. Where an
    end meets two sides of an outline, or a closed one, it is a fold that starts there: the single
    line is a copy of a side, or a stray.
    """
    points, offsets = drawing.geometry.points, drawing.geometry.offsets
    opened = np.flatnonzero(~drawing.geometry.closed[lines])
    tips = np.vstack([points[offsets[lines[opened]]], points[offsets[lines[opened] + 1] - 1]])
    spot = clusters(tips, _TOUCH_MM)
    count, dashes = np.bincount(spot)[spot], np.bincount(spot, np.tile(short[opened], 2))[spot]
    met, goes_on = count > 1, (count == 2) & (dashes == 1)
    goes_on[goes_on] = ~_on_outlines(drawing, tips[goes_on])
    hemmed = np.zeros(len(lines), bool)
    hemmed[opened] = met.reshape(2, -1).all(axis=0) | goes_on.reshape(2, -1).any(axis=0)
    return hemmed


def _on_outlines(drawing: Drawing, tips: Floats) -> Bools:
    """Which of the points (n, 2) lie on a closed line."""
    geometry, on = drawing.geometry, np.zeros(len(tips), bool)
    closed = np.flatnonzero(geometry.closed)
    if not len(tips) or not len(closed):
        return on
    count = geometry.offsets[closed + 1] - geometry.offsets[closed]
    outlines = shapely.linestrings(
        geometry.points[spread(geometry.offsets[closed], count)],
        indices=np.repeat(np.arange(len(closed)), count),
    )
    tree = shapely.STRtree(shapely.points(tips))
    on[tree.query(outlines, "dwithin", distance=_TOUCH_MM)[1]] = True
    return on


def _links(dashes: Dashes) -> tuple[Ints, Floats]:
    """For each dash end (2k) the end that follows it, or -1, and the gap between in mm."""
    at, way = dashes.ends.reshape(-1, 2), dashes.ways.reshape(-1, 2)
    owner = np.repeat(np.arange(len(dashes.line)), 2)
    partner, gap = np.full(len(at), -1), np.full(len(at), np.inf)
    for reach in (GAP_MM / 3, GAP_MM):  # most rows are done with the short reach, which is cheap
        alone = np.flatnonzero(partner < 0)
        i, j = pairs_within(at[alone], reach)
        i, j = alone[i], alone[j]
        d = at[j] - at[i]
        g = np.hypot(d[:, 0], d[:, 1])
        longest = np.maximum(dashes.length[owner[i]], dashes.length[owner[j]])
        ok = (owner[i] != owner[j]) & (g > 1e-3) & (g <= np.maximum(2.0, 3 * longest))
        ok &= _faces(way[i], d, g) & _faces(way[j], -d, g)
        ok &= np.einsum("ij,ij->i", way[i], way[j]) < -0.75
        i, j, g = i[ok], j[ok], g[ok]
        best = _nearest(len(at), i, j, g)
        mutual = (best[i] == j) & (best[j] == i)
        partner[i[mutual]], partner[j[mutual]] = j[mutual], i[mutual]
        gap[i[mutual]] = gap[j[mutual]] = g[mutual]
    return partner, gap


def _faces(way: Floats, d: Floats, g: Floats) -> Bools:
    """True where the direction `way` leads from one end to the other, `d` away."""
    ahead = np.einsum("ij,ij->i", way, d)
    aside = np.abs(way[:, 0] * d[:, 1] - way[:, 1] * d[:, 0])
    return np.asarray((ahead > 0) & ((ahead >= _TURN * g) | (aside <= _MISS_MM)))


def _nearest(n: int, i: Ints, j: Ints, g: Floats) -> Ints:
    """For each of n ends the nearest partner among the pairs, -1 where there is none."""
    ends, others = np.concatenate([i, j]), np.concatenate([j, i])
    order = np.lexsort((np.concatenate([g, g]), ends))
    first, where = np.unique(ends[order], return_index=True)
    best = np.full(n, -1)
    best[first] = others[order][where]
    return best


def _rows(dashes: Dashes) -> list[tuple[list[int], list[float]]]:
    """Chains of dashes in order with the gaps between them; single dashes are left out."""
    partner, gap = _links(dashes)
    seen = np.zeros(len(dashes.line), bool)
    follow, distance = partner.tolist(), gap.tolist()
    tips = [e for e in range(len(follow)) if follow[e] < 0 <= follow[e ^ 1]]
    loops = [e for e in range(0, len(follow), 2) if follow[e] >= 0 <= follow[e ^ 1]]
    rows = []
    for end in (*tips, *loops):
        if seen[end >> 1]:
            continue
        row, gaps = [end >> 1], []
        seen[end >> 1] = True
        while (after := follow[end ^ 1]) >= 0 and not seen[after >> 1]:
            gaps.append(distance[after])
            row.append(after >> 1)
            seen[after >> 1] = True
            end = after
        rows.append((row, gaps))
    return rows


def _split(
    dashes: Dashes, row: list[int], gaps: list[float]
) -> list[tuple[list[int], list[float]]]:
    """The row cut where a gap is much wider than one beside it, or where it turns a corner.

    Also where one element of several dashes ends and another begins: each was drawn as a fold.
    """
    node = dashes.node[row].tolist()
    several = {n for n, count in Counter(node).items() if count > 1}
    turns = _turns(dashes, row)
    corner = 2.5 * float(np.median(turns)) + _CORNER_DEG
    out, start = [], 0
    for k, gap in enumerate(gaps):
        usual = min([*gaps[max(k - 1, 0) : k], *gaps[k + 1 : k + 2]], default=gap)
        drawn_apart = node[k] != node[k + 1] and {node[k], node[k + 1]} <= several
        if gap > 1.8 * usual + 0.3 or turns[k] > corner or drawn_apart:
            out.append((row[start : k + 1], gaps[start:k]))
            start = k + 1
    out.append((row[start:], gaps[start:]))
    return [(r, g) for r, g in out if len(r) > 1]


def _turns(dashes: Dashes, row: list[int]) -> Floats:
    """By how many degrees the row turns from each dash to the next, (len(row) - 1,)."""
    way = np.diff(dashes.ends[row], axis=1)[:, 0]
    way /= np.hypot(way[:, 0], way[:, 1])[:, None]
    cos = np.abs(np.einsum("ij,ij->i", way[:-1], way[1:]))  # a dash may be drawn either way round
    return np.asarray(np.degrees(np.arccos(np.clip(cos, 0, 1))))


def _varies(values: Floats) -> float:
    """Coefficient of variation; 0 for fewer than two values."""
    return float(values.std() / values.mean()) if len(values) > 1 else 0.0


def _is_row(length: Floats, gaps: Floats, known: bool) -> bool:
    """True for dashes and gaps as regular as one drawn fold; its two end dashes may be shorter."""
    if known and _varies(gaps) <= 2 * _UNEVEN and gaps.mean() <= 1.5 * length.max():
        return True
    inner = length[1:-1]
    if len(length) < 3 or max(length[0], length[-1]) > 1.5 * inner.max():
        return False
    if len(length) == 3:
        steady = _varies(gaps) <= _EVEN and _varies(length) <= _EVEN
        return bool(steady and gaps.mean() <= 0.75 * length.mean())
    if _varies(gaps) > _UNEVEN:
        return False
    if _varies(inner) <= _UNEVEN:
        return True
    dash_dot = max(_varies(inner[::2]), _varies(inner[1::2]))  # long and short by turns
    return bool(len(length) >= 6 and dash_dot <= _UNEVEN)


def dash_rows(drawing: Drawing, lines: Ints, known: Bools) -> list[list[int]]:
    """Rows of dashes among `lines`, each the line numbers of one fold in order.

    `known` (len(lines),) marks lines already told to be scores: two of those make a row.
    """
    twins = _twins(drawing, lines)
    once = np.array([k for k, line in enumerate(lines.tolist()) if line not in twins], np.int64)
    dashes = short_lines(drawing, lines[once], known[once])
    if len(dashes.line) < 2:
        return []
    rows = []
    for chain, chain_gaps in _rows(dashes):
        for row, gaps in _split(dashes, chain, chain_gaps) if chain_gaps else []:
            told = bool(dashes.known[row].all())
            if _is_row(dashes.length[row], np.array(gaps), told):
                rows.append(row)
    _complete(drawing, dashes, rows)
    copies = defaultdict(list)
    for copy, original in twins.items():
        copies[original].append(copy)
    return [
        [k for line in dashes.line[row].tolist() for k in (line, *copies[line])] for row in rows
    ]


def _twins(drawing: Drawing, lines: Ints) -> dict[int, int]:
    """Short open lines drawn again in the same place, each with the first that lies there."""
    geometry = drawing.geometry
    ends = geometry.points[np.stack([geometry.offsets[lines], geometry.offsets[lines + 1] - 1], 1)]
    span = ends[:, 0] - ends[:, 1]
    short = ~geometry.closed[lines] & (np.hypot(span[:, 0], span[:, 1]) <= DASH_MM)
    lines = lines[short]
    spots = np.sort(clusters(ends[short].reshape(-1, 2), _TOUCH_MM).reshape(-1, 2), axis=1)
    first: dict[tuple[int, int], int] = {}
    twins = {}
    for line, (a, b) in zip(lines.tolist(), spots.tolist(), strict=True):
        original = first.setdefault((a, b), line)
        if original != line:
            twins[line] = original
    return twins


def _complete(drawing: Drawing, dashes: Dashes, rows: list[list[int]]) -> None:
    """Give rows the dashes left beside them: at corners, where folds cross, at a short end.

    Such a dash is drawn with the row (same element, or same parent and colour), is no longer than
    the row's dashes, and lies within a gap of one of them.
    """
    taken = {dash for row in rows for dash in row}
    if not rows or len(taken) == len(dashes.line):
        return
    drawn = [drawing.nodes[node] for node in dashes.node.tolist()]
    kin = [(node.parent, node.style.paint) for node in drawn]
    row_of = {dash: k for k, row in enumerate(rows) for dash in row}
    middle = dashes.ends.mean(axis=1)
    i, j = pairs_within(middle, DASH_MM + GAP_MM)
    near: dict[int, list[int]] = defaultdict(list)
    for a, b in zip(i.tolist(), j.tolist(), strict=True):
        if (a in taken) != (b in taken) and kin[a] == kin[b]:
            near[b if a in taken else a].append(a if a in taken else b)
    usual = [float(np.median(dashes.length[row])) for row in rows]
    gaps = [float(np.median([_between(dashes, *two) for two in pairwise(row)])) for row in rows]
    for dash, others in sorted(near.items()):
        gap, beside = min((_between(dashes, dash, other), other) for other in others)
        row = row_of[beside]
        if dashes.length[dash] <= 1.3 * usual[row] and gap <= max(2.0, usual[row], 1.5 * gaps[row]):
            rows[row].append(dash)


def _between(dashes: Dashes, one: int, other: int) -> float:
    """The least distance between the ends of two dashes in mm."""
    apart = dashes.ends[one][:, None] - dashes.ends[other][None]
    return float(np.hypot(apart[..., 0], apart[..., 1]).min())
