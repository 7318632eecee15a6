"""The cut lines as a graph: edges between the places where they meet, and the ends left over."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from matready.lint.cutting.blade import SAME_MM, Blade
from matready.lint.cutting.doubles import Doubles
from matready.lint.cutting.meeting import Meetings
from matready.lint.cutting.near import components, pairs_within
from matready.lint.drawing import Bools, Floats, Ints

_LOOP_MM = 0.1  # a shorter way back to the same point is two touches side by side
_WAY_MM = 0.5  # a line's direction at its end is taken over this length
_PARALLEL = 0.99  # cosine: ends within 8 degrees of the same direction
LINK = -1  # the `line` of an edge that no one drew: it bridges a hairline gap


@dataclass(frozen=True, eq=False, slots=True)
class Network:
    """e edges from node `u` to node `v`, each a stretch of one line; rings apart.

    `start` and `end` are distances along the line (a closed line's last edge may run past its
    seam: end > total). `at` (n, 2) are the nodes in mm. `rings` are closed lines that nothing
    meets: their own outline, whole.
    """

    u: Ints
    v: Ints
    line: Ints
    start: Floats
    end: Floats
    at: Floats
    rings: Ints

    @property
    def degree(self) -> Ints:
        """How many edge ends meet in each node, (n,)."""
        return np.bincount(np.concatenate([self.u, self.v]), minlength=len(self.at))

    def parts(self) -> Ints:
        """For each node the least node that it hangs together with, (n,)."""
        return components(len(self.at), self.u, self.v)


def build_network(blade: Blade, doubles: Doubles, meetings: Meetings) -> Network:
    """Cut every line where it meets another and leave out what an earlier line covers."""
    line, along = meetings.line, meetings.along
    nodes, node = np.unique(meetings.node, return_inverse=True)
    at = np.zeros((len(nodes), 2))
    at[node] = meetings.at
    after = np.roll(np.arange(len(line)), -1)
    last = np.ones(len(line), bool)
    last[:-1] = np.diff(line) != 0
    if len(line):
        first = np.concatenate([[0], np.flatnonzero(last)[:-1] + 1])
        after[last] = first  # a closed line's last edge runs on to its first meeting
    end = along[after] + np.where(last, blade.total[line], 0.0)
    edge = ~last | blade.closed[line]
    u, v, line, start, end = node[edge], node[after][edge], line[edge], along[edge], end[edge]
    # Two places that are one point leave no edge between them; a loop back to its node does.
    keep = (u != v) | (end - start > _LOOP_MM)
    middle = (start + end) / 2
    middle -= np.where(middle > blade.total[line], blade.total[line], 0.0)
    keep &= ~doubles.cover(line, middle, SAME_MM)
    met = np.zeros(len(blade.total), bool)
    met[meetings.line] = True
    rings = np.flatnonzero(blade.closed & ~met)
    rings = rings[~doubles.cover(rings, blade.total[rings] / 2, SAME_MM)]
    return Network(u[keep], v[keep], line[keep], start[keep], end[keep], at, rings)


def ways_at(blade: Blade, network: Network, tips: Ints) -> Floats:
    """The direction in which the one line at each free node leads on, (t, 2) unit vectors."""
    edge_of = np.zeros(len(network.at), np.int64)
    edge_of[network.u] = np.arange(len(network.u))
    edge_of[network.v] = np.arange(len(network.v))
    edge = edge_of[tips]
    line, start, end = network.line[edge], network.start[edge], network.end[edge]
    back = np.minimum(_WAY_MM, end - start)
    at_start = network.u[edge] == tips
    inner = blade.locate(line, np.where(at_start, start + back, end - back))
    outer = blade.locate(line, np.where(at_start, start, end))
    way = outer - inner
    return np.asarray(way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)[:, None])


def find_gaps(blade: Blade, network: Network, hairline: float) -> tuple[Ints, Ints]:
    """Pairs (u, v) of free nodes at most `hairline` mm apart, nearest first, each once.

    Ends that lie side by side and point the same way, such as those of two slits, do not mean to
    meet.
    """
    degree = network.degree
    free = np.flatnonzero(degree == 1)
    part = network.parts()
    length = np.bincount(
        part[network.u], weights=network.end - network.start, minlength=len(network.at)
    )
    spur = short_spurs(network, 2 * hairline)
    free = free[~spur[free]]
    i, j = pairs_within(network.at[free], hairline + 1e-9)
    u, v = free[i], free[j]
    d = network.at[u] - network.at[v]
    width = np.hypot(d[:, 0], d[:, 1])
    # The two ends of one tiny line are near each other, and nothing is missing between them.
    real = (part[u] != part[v]) | (length[part[u]] > 3 * width)
    real &= (
        np.einsum("ij,ij->i", ways_at(blade, network, u), ways_at(blade, network, v)) < _PARALLEL
    )
    u, v, width = u[real], v[real], width[real]
    taken: set[int] = set()
    chosen = []
    for row in np.lexsort((v, u, width)).tolist():
        if u[row] in taken or v[row] in taken:
            continue
        taken.update((int(u[row]), int(v[row])))
        chosen.append(row)
    picked = np.asarray(chosen, np.int64)
    return u[picked], v[picked]


def short_spurs(network: Network, longest: float) -> Bools:
    """Free nodes of short edges that hang on a crossing: lines drawn a little past a corner."""
    degree = network.degree
    spur = np.zeros(len(network.at), bool)
    short = network.end - network.start <= longest
    for tip, root in ((network.u, network.v), (network.v, network.u)):
        spur[tip[short & (degree[tip] == 1) & (degree[root] > 2)]] = True
    return spur


def _with_edges(network: Network, *edges: tuple[int, int, int, float, float]) -> Network:
    """The network with more edges: u, v, line, start, end of each."""
    rows = np.array(edges).reshape(-1, 5)
    u, v, line = rows[:, :3].astype(np.int64).T
    return replace(
        network,
        u=np.concatenate([network.u, u]),
        v=np.concatenate([network.v, v]),
        line=np.concatenate([network.line, line]),
        start=np.concatenate([network.start, rows[:, 3]]),
        end=np.concatenate([network.end, rows[:, 4]]),
    )


def bridge(network: Network, u: Ints, v: Ints) -> Network:
    """The network with a straight edge from each node `u` to its `v`."""
    d = network.at[u] - network.at[v]
    width = np.hypot(d[:, 0], d[:, 1])
    return _with_edges(
        network,
        *((a, b, LINK, 0.0, w) for a, b, w in zip(u.tolist(), v.tolist(), width, strict=True)),
    )


def split_edge(blade: Blade, network: Network, line: int, along: float) -> tuple[Network, int]:
    """The network with one more node on a line, `along` mm into it, and that node's number."""
    node, total = len(network.at), float(blade.total[line])
    at = np.vstack([network.at, blade.locate(np.array([line]), np.array([along]))])
    if line in network.rings:
        opened = replace(network, at=at, rings=network.rings[network.rings != line])
        return _with_edges(opened, (node, node, line, along, along + total)), node
    for place in (along, along + total):  # an edge may run past the seam of a closed line
        on = (network.line == line) & (network.start <= place) & (place <= network.end)
        for edge in np.flatnonzero(on)[:1].tolist():
            v, end = network.v.copy(), network.end.copy()
            v[edge], end[edge] = node, place
            rest = (node, int(network.v[edge]), line, place, float(network.end[edge]))
            return _with_edges(replace(network, at=at, v=v, end=end), rest), node
    return replace(network, at=at), node  # a doubled run: its twin carries the edge
