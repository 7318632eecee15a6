"""One or two parts with their faults, as marks: what stands in the strip beside the real art.

A mark is one element to be: its sub-paths in mm on the page, its role, its part. Faults in grouping
are not decided here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from tests.planting.marks import ROWS, SHORTEST_ROW_MM, Sub, dashes
from tests.planting.pieces import Piece, rectangle
from tests.planting.strokes import (
    Chain,
    Line,
    Matrix,
    backwards,
    chain_length,
    moved,
    started_at,
)
from tests.spoiling.doubles import copy_of, runs_on, sides_of, total
from tests.spoiling.gaps import Gap, corner_misses, divider, own_ends_miss, sides_miss
from tests.spoiling.parts import any_part, box_of, centred, panel
from tests.spoiling.truth import DOUBLE, GAP, Planted

FORMS = ("path", "path", "path", "poly", "shape", "line")


@dataclass
class Mark:
    """An element to be. `part` counts within the drawing; a `stray` stands outside all groups.

    A `bare` one has no fill: a copy would hide the folds, and runs would be filled along chords.
    """

    role: str
    part: int
    subs: list[Sub]
    form: str = "path"
    stray: bool = False
    bare: bool = False


@dataclass
class Cluster:
    """Parts that lie together. `names` are those of its parts, in order of their numbers."""

    marks: list[Mark] = field(default_factory=list)
    planted: list[Planted] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    first: int = 0

    def cut(self, chain: Chain, closed: bool, rng: Random, part: int = 0) -> Mark:
        """Draw a cut line of one of the parts."""
        mark = Mark("cut", self.first + part, [Sub(chain, closed)], rng.choice(FORMS))
        self.marks.append(mark)
        return mark

    def piece(self, piece: Piece, rng: Random, outline: bool = True, part: int = 0) -> None:
        """Draw a part: outline (or not), holes, folds."""
        self.names.append(piece.name)
        if outline:
            self.cut(_any_start(piece.outer, rng), True, rng, part)
        for hole in piece.holes:
            self.cut(hole, True, rng, part)
        self.folds(piece.scores, rng, part)

    def folds(self, folds: tuple[Chain, ...], rng: Random, part: int) -> None:
        """Draw folds as one element each, as one path, or as rows of real dashes."""
        folds = tuple(backwards(fold) if rng.random() < 0.4 else fold for fold in folds)
        subs = [Sub(fold, False) for fold in folds]
        number, kind = self.first + part, rng.choice(["single", "single", "joined", "rows"])
        if kind == "rows" and min(map(chain_length, folds), default=0) > SHORTEST_ROW_MM:
            dash = rng.uniform(1.8, 3.2)
            pattern = dash, dash * rng.uniform(0.4, 1.0)
            for fold in folds:
                row = dashes(fold, pattern, ROWS["plain"], 0.5, 0.0, rng)
                if rng.random() < 0.5:
                    self.marks.append(Mark("score", number, row))
                else:
                    self.marks += [Mark("score", number, [dash], "line") for dash in row]
        elif kind == "joined" and len(subs) > 1:
            self.marks.append(Mark("score", number, subs))
        else:
            form = rng.choice(["path", "line", "poly"])
            self.marks += [Mark("score", number, [sub], form) for sub in subs]


def _any_start(ring: Chain, rng: Random) -> Chain:
    ring = started_at(ring, rng.randrange(len(ring)))
    return backwards(ring) if rng.random() < 0.4 else ring


def _with_gap(cluster: Cluster, kind: str, gaps: list[Gap]) -> None:
    """Note gaps of one outline: it encloses one region more when all of them are closed."""
    for index, gap in enumerate(gaps):
        faces = 1 if index == 0 else 0
        cluster.planted.append(Planted(GAP, kind, gap.box, gap_mm=gap.width_mm, faces=faces))


def sound(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """A part without a fault of its own."""
    cluster.piece(any_part(rng).moved(place), rng)


def _gapped(
    cluster: Cluster,
    place: Matrix,
    rng: Random,
    kind: str,
    spoil: Callable[[Chain, Random], tuple[list[Chain], list[Gap]]],
) -> None:
    piece = any_part(rng).moved(place)
    hole = bool(piece.holes) and rng.random() < 0.5
    ring = piece.holes[0] if hole else piece.outer
    runs, gaps = spoil(ring, rng)
    for run in runs:
        cluster.cut(run, False, rng).bare = len(runs) > 1
    rest = Piece(piece.name, piece.outer, piece.holes[hole:], piece.scores)
    cluster.piece(rest, rng, outline=hole)
    _with_gap(cluster, kind, gaps)


def own_ends(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """An outline or a window whose own ends miss."""
    _gapped(cluster, place, rng, "own ends miss", own_ends_miss)


def corner(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """An outline of a few runs with a corner open."""
    _gapped(cluster, place, rng, "corner misses", corner_misses)


def sides(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """An outline of single segments with corners open."""
    _gapped(cluster, place, rng, "sides miss", sides_miss)


def divided(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """A panel that a line short of the edge should cut in two."""
    w, h = rng.uniform(22, 40), rng.uniform(20, 34)
    half = centred(Piece("panel", rectangle(0, 0, w, h))).moved(place)
    at = w * rng.uniform(0.4, 0.6) - w / 2
    start, end = place.at(complex(at, -h / 2)), place.at(complex(at, h / 2))
    line, gap = divider(start, end, rng)
    cluster.piece(half, rng)
    cluster.cut(line, False, rng).bare = True
    _with_gap(cluster, "end short of a line", [gap])


def _doubled(cluster: Cluster, kind: str, chains: list[Chain]) -> None:
    cluster.planted.append(Planted(DOUBLE, kind, box_of(*chains), removed_mm=total(chains)))


def twice(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """A whole outline, or hole, again: beside it, in its group, or astray."""
    piece = any_part(rng).moved(place)
    ring = rng.choice([piece.outer, *piece.holes])
    copy = copy_of(ring, rng)
    before = rng.random() < 0.3
    if not before:
        cluster.piece(piece, rng)
    mark = cluster.cut(copy, True, rng)
    mark.stray, mark.bare = rng.random() < 0.5, True
    if before:
        cluster.piece(piece, rng)
    _doubled(cluster, "outline twice", [copy])


def side_by_side(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """An outline, and the same again line by line."""
    piece = any_part(rng).moved(place)
    cluster.piece(piece, rng)
    copies = sides_of(piece.outer, rng)
    stray = rng.random() < 0.5
    for side in copies:
        mark = cluster.cut(side, False, rng)
        mark.stray, mark.bare = stray, True
    _doubled(cluster, "outline again in sides", copies)


def round_twice(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """One path that holds its outline as two sub-paths."""
    piece = any_part(rng).moved(place)
    copy = copy_of(piece.outer, rng)
    cluster.piece(piece, rng)
    mark = next(mark for mark in cluster.marks if mark.role == "cut")
    mark.form, mark.bare = "path", True
    mark.subs.append(Sub(copy, True))
    _doubled(cluster, "twice in one path", [copy])


def neighbours(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """Two panels side by side; both draw the edge between them, or part of it."""
    w, high = rng.uniform(14, 19), rng.uniform(20, 36)
    low = high if rng.random() < 0.5 else high * rng.uniform(0.4, 0.8)
    drop = 0.0 if low == high else (high - low) * rng.uniform(0.1, 0.9)
    left, right = panel(rng, w, high, "panel"), panel(rng, w, low, "wall")
    left = left.moved(place @ Matrix(e=-w, f=-high / 2))
    right = right.moved(place @ Matrix(f=drop - high / 2))
    one_path = rng.random() < 0.25
    cluster.piece(left, rng)
    first = cluster.marks[0]
    start = len(cluster.marks)
    cluster.piece(right, rng, part=1)
    if one_path:
        first.form = "path"
        first.subs += cluster.marks[start].subs
        del cluster.marks[start]
    edge = tuple(place.at(complex(0, y - high / 2)) for y in (drop, drop + low))
    _doubled(cluster, "edge of two panels", [(Line(edge[0], edge[1]),)])


def running_on(cluster: Cluster, place: Matrix, rng: Random) -> None:
    """A line that follows part of an edge of a panel and then turns in as a slit."""
    w, h = rng.uniform(24, 40), rng.uniform(20, 34)
    flat = centred(Piece("panel", rectangle(0, 0, w, h)))
    edge = Line(complex(-w / 2, -h / 2), complex(w / 2, -h / 2))
    run, doubled = runs_on(edge, 1j, rng)
    cluster.piece(flat.moved(place), rng)
    cluster.cut(moved(run, place), False, rng).bare = True
    on = [segment for segment in run if abs(segment.start.imag - segment.end.imag) < 1e-9]
    box = box_of(moved(tuple(on), place))
    cluster.planted.append(Planted(DOUBLE, "line that runs on", box, removed_mm=doubled))


GAPS = (own_ends, corner, sides, divided)
DOUBLES = (twice, side_by_side, round_twice, neighbours, running_on)
