"""What the glue tabs of a drawing ask for, and the lengths in it that they can be glued to.

A record of one drawing is plain data that can be compared with that of another. Lengths are mm.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.rims import STRAIGHT_DEG, TURN_DEG, Ring, rim_lengths, stretches
from matready.lint.cutting.roles import CUT
from matready.lint.cutting.tabs import SHALLOWEST_MM, Folded, Tab, folded_pieces
from matready.lint.drawing import Floats
from matready.lint.finding import Box

_INSET_MM = 2.0  # a tab that stops farther from its edge's ends is a foot; common practice
_TOUCH_MM = 0.5  # tabs nearer to each other stand in one row: hairline distance
# A panel this much longer than its tab is a band, or a tube to be rolled; common practice.
_ROLLED_SHARE = 1.5
_NO_PANEL = -1
_FAR_MM = 1e6  # farther than any edge, but not infinite: there is an edge


@dataclass(frozen=True, slots=True)
class Wanted:
    """A glue tab that has to find its match.

    `lengths` are the fold's own, then others that do as well: with the bare ends of its edge, and
    of the row of tabs it stands in. `piece`: its name; `panel`: the number of what it is folded
    off. `lone`: no other fold crosses its piece. `own`: its panel has a free edge of the same
    length; `rolled`: one so far away that the panel can be rolled up to it.
    """

    lengths: tuple[float, ...]
    piece: str
    panel: int
    lone: bool
    own: bool
    rolled: bool
    nodes: tuple[int, ...]
    box: Box


@dataclass(frozen=True, eq=False, slots=True)
class Mates:
    """Tabs to be matched, and (m, 2) lengths to match them: length and number of the panel."""

    wanted: tuple[Wanted, ...]
    lengths: Floats


class Offers:
    """All lengths that tabs of some drawings can be glued to, in order of length."""

    def __init__(self, drawings: Sequence[Mates]) -> None:
        rows = [
            (length, number, panel)
            for number, mates in enumerate(drawings)
            for length, panel in mates.lengths.tolist()
        ]
        rows.sort()
        self._lengths = [length for length, _, _ in rows]
        self._owners = [(number, panel) for _, number, panel in rows]

    def nearest(self, tab: Wanted, number: int) -> tuple[float, float, int]:
        """How far the length nearest to one of a tab's is off, that length, and whose it is.

        `number` is the drawing that the tab is in; the edges of its own panel are left out.
        Infinity where nothing is left.
        """
        best = (np.inf, 0.0, number)
        for wanted in tab.lengths:
            at = bisect_left(self._lengths, wanted)
            for way in (range(at - 1, -1, -1), range(at, len(self._lengths))):
                near = next((k for k in way if self._owners[k] != (number, tab.panel)), None)
                if near is not None:
                    length = self._lengths[near]
                    best = min(best, (abs(length - wanted), length, self._owners[near][0]))
        return best


@dataclass(frozen=True, slots=True)
class Miss:
    """Tabs of one piece and length that nothing fits: their numbers among those wanted.

    `nearest` is the length that comes nearest, `off` by how far it is off in mm, and `nearest_in`
    the number of the drawing that it is in.
    """

    tabs: tuple[int, ...]
    off: float
    nearest: float
    nearest_in: int


def missing(
    drawings: Sequence[Mates], same_mm: float, near_share: float
) -> Iterator[tuple[int, Miss]]:
    """The tabs that fit no length in any drawing within `same_mm`, with the number of theirs.

    Where fewer than half of a piece's tabs fit, one of them counts if a length is off by less than
    `near_share` of its own: else it is a stand, or glued to a face.
    """
    offers = Offers(drawings)
    for number, mates in enumerate(drawings):
        nearest = [offers.nearest(tab, number) for tab in mates.wanted]
        fits = [off <= same_mm for off, _, _ in nearest]
        of_piece = Counter(tab.piece for tab in mates.wanted)
        fitting = Counter(tab.piece for tab, fit in zip(mates.wanted, fits, strict=True) if fit)
        alike: dict[tuple[str, float], list[int]] = {}
        for n, tab in enumerate(mates.wanted):
            # It may be a stand, be glued to a face, or its panel be bent round to its own edge.
            weak = tab.lone or tab.own or 2 * fitting[tab.piece] < of_piece[tab.piece]
            most = near_share * tab.lengths[0] if weak else _FAR_MM
            if not fits[n] and not tab.rolled and nearest[n][0] <= most:
                alike.setdefault((tab.piece, round(tab.lengths[0], 1)), []).append(n)
        for same in alike.values():
            yield number, Miss(tuple(same), *nearest[same[0]])


def mates_of(cutout: Cutout, same_mm: float) -> Mates:
    """All tabs of a drawing that can be judged, and all that a tab can be glued to."""
    folded = folded_pieces(cutout)
    creased = {id(one.piece) for one in folded}
    panels = _Panels()
    holes = [hole.waste.exterior for piece in cutout.pieces for hole in piece.holes]
    plain = [piece.card.exterior for piece in cutout.pieces if id(piece) not in creased]
    lengths: list[float] = _slits(cutout) + [n for some in rim_lengths(holes) for n in some]
    panel = [_NO_PANEL] * len(lengths)
    for some in rim_lengths(plain):
        lengths += some.tolist()
        panel += [panels.new()] * len(some)
    wanted: list[Wanted] = []
    for one in folded:
        edges = _edges(one, panels)
        bearing = {tab.crease.fold for tab in one.tabs}
        folds = [crease.length for crease in one.creases if crease.fold not in bearing]
        lengths += folds + [edge.length for edge in edges]
        panel += [_NO_PANEL] * len(folds) + [edge.panel for edge in edges]
        wanted += _wanted(one, edges, panels, cutout, same_mm)
    rows = np.column_stack([np.array(lengths, np.float64), np.array(panel, np.float64)])
    return Mates(tuple(wanted), rows[rows[:, 0] >= SHALLOWEST_MM])


class _Panels:
    """Numbers the panels between the creases of each piece."""

    def __init__(self) -> None:
        self.count = 0
        self.known: dict[tuple[int, bytes], int] = {}

    def new(self) -> int:
        """The number of a piece without creases."""
        self.count += 1
        return self.count - 1

    def at(self, one: Folded, places: Floats, across: int | None = None) -> list[int]:
        """The panels at places on the outline, or beyond the crease that lies before them."""
        ends = np.array([(crease.start, crease.end) for crease in one.creases])
        place = (places % one.ring.total)[:, None]
        sides = (place > ends.min(axis=1)) & (place < ends.max(axis=1))
        if across is not None:
            sides[:, across] ^= True
        keys = [(id(one), row.tobytes()) for row in sides]
        for key in keys:
            if key not in self.known:
                self.known[key] = self.new()
        return [self.known[key] for key in keys]


def _slits(cutout: Cutout) -> list[float]:
    """Lengths of open cuts that bound no piece: places to push a tab through."""
    bounds = {line for piece in cutout.pieces for line in piece.lines}
    bounds |= {line for piece in cutout.pieces for hole in piece.holes for line in hole.lines}
    cut = np.flatnonzero((cutout.roles.role == CUT) & ~cutout.drawing.geometry.closed)
    return [cutout.length(line) for line in cut.tolist() if line not in bounds]


@dataclass(frozen=True, slots=True)
class _Edge:
    """A free edge of a panel; `place` is its middle, in mm along the outline."""

    length: float
    panel: int
    place: float


def _edges(one: Folded, panels: _Panels) -> list[_Edge]:
    """Free edges of a piece, parted where folds meet them."""
    stops = [place for crease in one.creases for place in (crease.start, crease.end)]
    taken = [(tab.start, tab.end) for tab in one.tabs]
    found = np.array(stretches(one.ring, stops, taken)).reshape(-1, 2)
    found = found[found[:, 1] - found[:, 0] >= SHALLOWEST_MM]
    length, place = found[:, 1] - found[:, 0], found.mean(axis=1)
    rows = zip(length.tolist(), panels.at(one, place), place.tolist(), strict=True)
    return [_Edge(*row) for row in rows]


def _wanted(
    one: Folded, edges: Sequence[_Edge], panels: _Panels, cutout: Cutout, same_mm: float
) -> Iterator[Wanted]:
    """The tabs of a piece that run along the whole of their edge."""
    tabs = sorted(one.tabs, key=lambda tab: tab.start)
    for number, tab in enumerate(tabs):
        insets = [_bare(one, tab, forward) for forward in (False, True)]
        row = _row(one.ring, tabs, number)
        if max(insets) > _INSET_MM or _is_curve(tabs, row):
            continue  # it may be glued to any place that is long enough
        fold = tab.crease
        lengths = [fold.length, fold.length + sum(insets)]
        lengths += [sum(tabs[n].crease.length for n in part) for part in _parts(row, number)]
        inside = np.array([(tab.start + tab.end) / 2])
        (panel,) = panels.at(one, inside, one.creases.index(fold))
        middle = fold.ends.mean(axis=0)
        away = [
            float(np.hypot(*(one.ring.at(edge.place) - middle)))
            for edge in edges
            if edge.panel == panel and abs(edge.length - fold.length) <= same_mm
        ]
        yield Wanted(
            lengths=tuple(dict.fromkeys(round(length, 4) for length in lengths)),
            piece=one.piece.name,
            panel=panel,
            lone=len(one.creases) == 1,
            own=bool(away),
            rolled=max(away, default=0.0) >= _ROLLED_SHARE * fold.length,
            nodes=cutout.nodes(cutout.folds[fold.fold].lines),
            box=tab.box,
        )


def _bare(one: Folded, tab: Tab, forward: bool) -> float:
    """How far the outline runs straight on from a tab's fold, before or after it."""
    ring = one.ring
    place = (tab.end if forward else tab.start) % ring.total
    way = tab.crease.ends[1] - tab.crease.ends[0]
    corner = (
        ring.part(place, place + ring.total / 2)
        if forward
        else ring.part(place - ring.total / 2, place)[::-1]
    )
    step = np.diff(corner, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    first = int(np.argmax(length > 1e-3))
    cosine = abs(float(step[first] @ way)) / (float(length[first]) * tab.crease.length)
    return float(length[first]) if cosine > np.cos(np.radians(STRAIGHT_DEG)) else 0.0


def _row(ring: Ring, tabs: Sequence[Tab], number: int) -> list[int]:
    """Numbers of the tabs in a row with one, end to end, bending no more than a curve does."""
    row = [number]
    for step in (1, -1):
        while len(row) < len(tabs):
            last = row[-1] if step == 1 else row[0]
            other = (last + step) % len(tabs)
            before, after = (last, other) if step == 1 else (other, last)
            gap = (tabs[after].start - tabs[before].end) % ring.total
            if (
                min(gap, ring.total - gap) > _TOUCH_MM
                or _turn(tabs[before], tabs[after]) > TURN_DEG
            ):
                break
            row = [*row, other] if step == 1 else [other, *row]
    return row


def _turn(one: Tab, other: Tab) -> float:
    """The angle between the folds of two tabs in degrees, 0 to 90."""
    (a, b) = (tab.crease.ends[1] - tab.crease.ends[0] for tab in (one, other))
    cosine = abs(float(a @ b)) / (one.crease.length * other.crease.length)
    return float(np.degrees(np.arccos(min(cosine, 1.0))))


def _is_curve(tabs: Sequence[Tab], row: Sequence[int]) -> bool:
    """Three tabs or more along a bend: what they are glued to is told by no single length."""
    bends = [_turn(tabs[a], tabs[b]) for a, b in pairwise(row)]
    return len(row) > 2 and max(bends) > STRAIGHT_DEG


def _parts(row: Sequence[int], number: int) -> Iterator[Sequence[int]]:
    """Every run of neighbours in a row that holds a number."""
    here = row.index(number)
    for first in range(here + 1):
        for last in range(here + 1, len(row) + 1):
            yield row[first:last]
