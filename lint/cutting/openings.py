"""Ends of cut lines that should go on and do not: hairline gaps and openings; slits are neither."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import shapely

from matready.lint.cutting.blade import SAME_MM, Blade
from matready.lint.cutting.doubles import Doubles
from matready.lint.cutting.faces import Face, faces_at, is_card
from matready.lint.cutting.network import LINK, Network, ways_at
from matready.lint.drawing import Floats, Ints

_OVERRUN_MM = 3.0  # a line drawn this little past the outline it ends on is no outline of its own;
# common practice, no source: drafting habit of crossing the lines at a corner
_HEADS = 0.5  # cosine: an end heads for what lies within 60 degrees of its way
_OWN = 0.5  # an end is paired with its own line's other end unless another is this much nearer
_MANY = 1500  # past so many open ends each line is taken by itself; pairs grow as the square


@dataclass(frozen=True, eq=False, slots=True)
class Chain:
    """A run of edges from a free end to the next free end or branch: nodes, lines, length (mm)."""

    tip: int
    root: int
    lines: tuple[int, ...]
    length: float


@dataclass(frozen=True, eq=False, slots=True)
class Opening:
    """Two ends that are far apart (or one end alone: both places equal), and their lines.

    `nodes` are network nodes, `ends` (2, 2) their places in mm.
    """

    nodes: tuple[int, int]
    ends: Floats
    lines: tuple[int, ...]

    @property
    def width(self) -> float:
        """Distance of the two ends in mm; 0 for a lone end."""
        return float(np.hypot(*(self.ends[0] - self.ends[1])))


def chains_from(network: Network, tips: Ints) -> list[Chain]:
    """For each free node in `tips` the chain that ends there."""
    degree = network.degree
    edges_at: dict[int, list[int]] = defaultdict(list)
    for edge, (u, v) in enumerate(zip(network.u.tolist(), network.v.tolist(), strict=True)):
        edges_at[u].append(edge)
        edges_at[v].append(edge)
    out = []
    for tip in tips.tolist():
        node, edge, length = tip, edges_at[tip][0], 0.0
        lines: dict[int, None] = {}
        while True:
            lines[int(network.line[edge])] = None
            length += float(network.end[edge] - network.start[edge])
            node = int(network.v[edge] if network.u[edge] == node else network.u[edge])
            if degree[node] != 2:
                break
            a, b = edges_at[node]
            edge = b if a == edge else a
        lines.pop(LINK, None)
        out.append(Chain(tip, node, tuple(lines), length))
    return out


def loose_chains(
    network: Network, faces: list[Face], page: tuple[float, float] | None
) -> list[Chain]:
    """Chains whose free end lies in no card, short overruns and cuts across the page left out."""
    tips = np.flatnonzero(network.degree == 1)
    if not len(tips):
        return []
    outside = tips[~is_card(faces, faces_at(network.at[tips], faces))]
    chains = chains_from(network, outside)
    free = network.degree == 1
    kept = [c for c in chains if free[c.root] or c.length > _OVERRUN_MM]
    return [c for c in kept if not (page and _off_page(network.at[[c.tip, c.root]], page))]


def _off_page(ends: Floats, page: tuple[float, float]) -> bool:
    """True when both ends lie on or beyond the page's edge: the line cuts the whole sheet."""
    margin = 0.5
    inner = (ends > margin).all(axis=1) & (ends < np.array(page) - margin).all(axis=1)
    return not inner.any()


def pair_up(blade: Blade, network: Network, chains: list[Chain], hairline: float) -> list[Opening]:
    """Openings from chains with a loose end, each end once: the likeliest pairs first.

    Two lines' ends at most `hairline` mm apart were no gap: they lie side by side, and are no pair.
    """
    if not chains:
        return []
    at = network.at[[chain.tip for chain in chains]]
    row_of = {chain.tip: row for row, chain in enumerate(chains)}
    own = [row_of.get(chain.root, -1) for chain in chains]
    if len(chains) <= _MANY:
        i, j = np.triu_indices(len(chains), 1)
    else:
        i = np.array([row for row, other in enumerate(own) if other > row], np.int64)
        j = np.array([own[row] for row in i], np.int64)
    d = np.hypot(*(at[i] - at[j]).T)
    own_pair = np.array(own, np.int64)[i] == j
    beside = (d <= hairline) & ~own_pair
    d = np.where(own_pair, d * _OWN, d)
    # A lone end is not married to one far away: its outline is missing for another reason.
    longest = np.array([chain.length for chain in chains])
    likely = (d <= np.maximum(longest[i], longest[j])) & ~beside
    i, j, d = i[likely], j[likely], d[likely]
    partner: dict[int, int] = {}
    for row in np.argsort(d, kind="stable").tolist():
        a, b = int(i[row]), int(j[row])
        if a not in partner and b not in partner:
            partner[a], partner[b] = b, a
    _take_apart(partner, own, at)
    lone = [row for row in range(len(chains)) if row not in partner]
    pairs = [pair for pair in partner.items() if pair[0] < pair[1]]
    openings = [
        _opening(network, chains[a], chains[b]) for a, b in (*pairs, *((row, row) for row in lone))
    ]
    return _uncrossed(blade, openings, hairline) if len(openings) <= _MANY else openings


def _take_apart(partner: dict[int, int], own: list[int], at: Floats) -> None:
    """Pairs each line's ends with each other where two lines are closed to one by a longer way.

    Two strips side by side that both lack an end come nearer to each other than they are wide.
    """
    for a, b in list(partner.items()):
        c, d = own[a], own[b]
        if a < b and c >= 0 and d >= 0 and c != b and partner.get(c) == d and partner[a] == b:
            ways = np.hypot(*(at[[a, c, a, b]] - at[[b, d, c, d]]).T)
            if ways[2] + ways[3] < ways[0] + ways[1]:
                partner.update({a: c, c: a, b: d, d: b})


def _opening(network: Network, a: Chain, b: Chain) -> Opening:
    lines = tuple(dict.fromkeys(a.lines + b.lines))
    return Opening((a.tip, b.tip), network.at[[a.tip, b.tip]], lines)


def _uncrossed(blade: Blade, openings: list[Opening], hairline: float) -> list[Opening]:
    """Openings paired anew where closing two lines by themselves would make them cross.

    They are then two parts of one outline with an opening on either side; but not where their ends
    lie side by side, at most `hairline` mm apart: one line was then drawn nearly on the other.
    """
    closing = [shapely.LineString(o.ends) for o in openings]
    tree = shapely.STRtree(closing)
    out, done = list(openings), set[int]()
    for k, opening in enumerate(openings):
        drawn = [shapely.LineString(blade.points_of(line)) for line in opening.lines]
        for other in tree.query(shapely.union_all([*drawn, closing[k]]), "intersects").tolist():
            pair = {k, other}
            apart = set(opening.lines).isdisjoint(openings[other].lines)
            if len(pair) == 2 and apart and pair.isdisjoint(done):
                done |= pair
                anew = _swapped(opening, openings[other])
                if min(each.width for each in anew) > hairline:
                    out[k], out[other] = anew
    return out


def _swapped(a: Opening, b: Opening) -> tuple[Opening, Opening]:
    """Two openings from the ends of two others, each with one end of either; the shorter way."""
    lines = tuple(dict.fromkeys(a.lines + b.lines))
    ways = []
    for first, second in ((0, 1), (1, 0)):
        ways.append((
            Opening((a.nodes[0], b.nodes[first]), np.stack([a.ends[0], b.ends[first]]), lines),
            Opening((a.nodes[1], b.nodes[second]), np.stack([a.ends[1], b.ends[second]]), lines),
        ))  # fmt: skip
    return min(ways, key=lambda way: way[0].width + way[1].width)


@dataclass(frozen=True, eq=False, slots=True)
class Shortfall:
    """A free end that stops short of the middle of a line: its node, the line, where on it.

    `ends` (2, 2) are the end and the place it misses, in mm.
    """

    node: int
    line: int
    along: float
    ends: Floats


def find_shortfalls(
    blade: Blade, doubles: Doubles, network: Network, chains: list[Chain], hairline: float
) -> list[Shortfall]:
    """Free ends at most `hairline` mm from the body of a line that they head for.

    A line's own way to the end does not count, nor does a line that it only runs beside, nor a
    doubled run: its twin carries the edge there.
    """
    if not chains:
        return []
    tips = np.array([chain.tip for chain in chains], np.int64)
    at = network.at[tips]
    tree = shapely.STRtree(shapely.linestrings(np.stack([blade.a, blade.b], axis=1)))
    tip, seg = tree.query(shapely.points(at), "dwithin", distance=hairline)
    d = blade.b[seg] - blade.a[seg]
    t = np.clip(np.einsum("ij,ij->i", at[tip] - blade.a[seg], d) / blade.length[seg] ** 2, 0, 1)
    place = blade.a[seg] + d * t[:, None]
    along = blade.along[seg] + t * blade.length[seg]
    line = blade.line[seg]
    # What is nearest to another line's free end has been looked at as a gap between two ends.
    free = shapely.STRtree(shapely.points(network.at[network.degree == 1]))
    body = ~doubles.cover(line, along, SAME_MM)
    body[free.query(shapely.points(place), "dwithin", distance=SAME_MM)[0]] = False
    ahead = np.einsum("ij,ij->i", ways_at(blade, network, tips)[tip], place - at[tip])
    away = np.hypot(*(at[tip] - place).T)
    body &= ahead > _HEADS * away
    best: dict[int, Shortfall] = {}
    for row in np.argsort(away, kind="stable").tolist():
        chain, on, where = chains[tip[row]], int(line[row]), float(along[row])
        if not body[row] or _own_side(network, chain, on, where, hairline):
            continue
        ends = np.stack([at[tip[row]], place[row]])
        best.setdefault(chain.tip, Shortfall(chain.tip, on, where, ends))
    return list(best.values())


def _own_side(network: Network, chain: Chain, line: int, along: float, hairline: float) -> bool:
    """True where a place on the chain's own line is just the way that leads to its free end."""
    at_tip = (network.u == chain.tip) | (network.v == chain.tip)
    for edge in np.flatnonzero((network.line == line) & at_tip).tolist():
        tip = network.start[edge] if network.u[edge] == chain.tip else network.end[edge]
        if abs(along - tip) < 4 * hairline:
            return True
    return False
