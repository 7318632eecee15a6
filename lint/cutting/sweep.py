"""One sweep of the blade over some lines: the faces it cuts, and the ends it leaves open."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from matready.lint.cutting.blade import Blade, blade_of
from matready.lint.cutting.doubles import WIDER, Doubles, find_doubles
from matready.lint.cutting.faces import Face, faces_at, find_faces, is_card
from matready.lint.cutting.meeting import find_meetings
from matready.lint.cutting.near import segment_pairs
from matready.lint.cutting.network import (
    LINK,
    Network,
    bridge,
    build_network,
    find_gaps,
    short_spurs,
    split_edge,
)  # fmt: skip
from matready.lint.cutting.openings import (
    Chain,
    Opening,
    Shortfall,
    chains_from,
    find_shortfalls,
    loose_chains,
    pair_up,
)  # fmt: skip
from matready.lint.drawing import Drawing, Floats, Ints
from matready.lint.settings import Distances

_SHORTEST_RUN_MM = 0.3  # a shorter doubled run leaves a sliver, which faces leave out


@dataclass(frozen=True, eq=False, slots=True)
class Gap:
    """Two ends (2, 2) that stop `width` mm short of each other; `lines` number the drawing's."""

    ends: Floats
    width: float
    lines: tuple[int, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Sweep:
    """What one sweep cuts; `unfinished` are the faces there would be were every opening closed."""

    blade: Blade
    doubles: Doubles
    faces: list[Face]
    gaps: tuple[Gap, ...]
    openings: tuple[Gap, ...]
    unfinished: list[Face]


def sweep(drawing: Drawing, lines: Ints, distances: Distances) -> Sweep:
    """Follow the drawing's `lines` with the blade."""
    blade = blade_of(drawing, lines)
    i, j = segment_pairs(blade.a, blade.b, WIDER * distances.same_place_mm)
    doubles = find_doubles(blade, i, j, distances.same_place_mm, _SHORTEST_RUN_MM)
    meetings = find_meetings(blade, i, j, doubles, distances.join_mm)
    network = build_network(blade, doubles, meetings)
    u, v = find_gaps(blade, network, distances.hairline_mm)
    gaps = [
        _gap(blade, network.at[[a, b]], [*_lines_at(network, a), *_lines_at(network, b)])
        for a, b in zip(u.tolist(), v.tolist(), strict=True)
    ]
    network = bridge(network, u, v)
    free = (network.degree == 1) & ~short_spurs(network, 2 * distances.hairline_mm)
    tips = chains_from(network, np.flatnonzero(free))
    short = find_shortfalls(blade, doubles, network, tips, distances.hairline_mm)
    gaps += [_gap(blade, s.ends, [*_lines_at(network, s.node), s.line]) for s in short]
    network = _reach(blade, network, short)
    faces = find_faces(blade, network, distances.same_place_mm)
    loose = loose_chains(network, faces, drawing.page.size_mm)
    gaps = [gap for gap in gaps if gap.width > distances.join_mm]  # a nearer end is joined anyway
    openings, unfinished = _openings(blade, network, loose, distances)
    open_ends = tuple(_gap(blade, o.ends, o.lines) for o in openings)
    return Sweep(blade, doubles, faces, tuple(gaps), open_ends, unfinished)


def _gap(blade: Blade, ends: Floats, lines: Iterable[int]) -> Gap:
    width = float(np.hypot(*(ends[0] - ends[1])))
    return Gap(ends, width, tuple(dict.fromkeys(int(blade.source[line]) for line in lines)))


def _lines_at(network: Network, node: int) -> list[int]:
    """The blade's lines that end in a free node."""
    edges = (network.u == node) | (network.v == node)
    return [int(line) for line in network.line[edges] if line != LINK]


def _reach(blade: Blade, network: Network, short: list[Shortfall]) -> Network:
    """The network with an edge from each end that stops short to the line it misses."""
    for end in short:
        network, node = split_edge(blade, network, end.line, end.along)
        network = bridge(network, np.array([end.node]), np.array([node]))
    return network


def _openings(
    blade: Blade, network: Network, loose: list[Chain], distances: Distances
) -> tuple[list[Opening], list[Face]]:
    """Openings, and the faces there would be were they closed.

    A slit in an outline that is itself open is no second fault: each end is looked at as if the
    others were closed.
    """
    openings = pair_up(blade, network, loose, distances.hairline_mm)
    if not openings:
        return [], []
    pairs = [o.nodes for o in openings if o.nodes[0] != o.nodes[1]]
    faces = find_faces(
        blade, bridge(network, *np.array(pairs, np.int64).reshape(-1, 2).T), distances.same_place_mm
    )
    tips = np.array([node for o in openings for node in o.nodes], np.int64)
    lines_to = {chain.tip: chain.lines for chain in loose}
    lines = [lines_to[tip] for tip in tips.tolist()]
    inside = is_card(faces, faces_at(network.at[tips], faces, lines)).reshape(-1, 2).tolist()
    return [o for o, ends in zip(openings, inside, strict=True) if not all(ends)], faces
