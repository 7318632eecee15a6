"""Pieces laid out on a sheet without touching, and clusters of pieces that share a line."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from random import Random

from shapely.geometry import Polygon

from tests.planting.ornaments import FLAT
from tests.planting.panels import FOLDING
from tests.planting.pieces import Piece, corners, inset, rectangle, ring_of
from tests.planting.strokes import Chain, Line, Matrix, polyline, shift, turn

Cluster = tuple[Piece, ...]

# Clean drawings keep clear of the default limits (3 mm for a piece, 1 mm for a hole).
CLEAN_PIECE_MM = 3.1
CLEAN_HOLE_MM = 1.1


@dataclass
class Sheet:
    """Pieces at their places, and the shelf where the next one goes (all in mm).

    `twins[i] = (j, shift)` tells that piece i is piece j moved by a translation; a symbol whose
    number is in `again` is shown twice in the same place.
    """

    wide: float
    margin: complex = 0j
    pieces: list[Piece] = field(default_factory=list)
    twins: dict[int, tuple[int, complex]] = field(default_factory=dict)
    again: set[int] = field(default_factory=set)
    x: float = 0.0
    y: float = 0.0
    shelf: float = 0.0

    def place(self, cluster: Cluster, gap: float) -> list[int]:
        """Put a cluster on the shelf, `gap` from its neighbours; the numbers of its pieces."""
        left, top, right, bottom = bounds(cluster)
        if self.x and self.x + right - left > self.wide:
            self.x, self.y, self.shelf = 0.0, self.y + self.shelf + gap, 0.0
        move = shift(self.margin + complex(self.x - left, self.y - top))
        first = len(self.pieces)
        self.pieces += [piece.moved(move) for piece in cluster]
        self.x += right - left + gap
        self.shelf = max(self.shelf, bottom - top)
        return list(range(first, len(self.pieces)))

    def repeat(self, index: int, gap: float) -> int:
        """Put a piece down once more; its number."""
        (new,) = self.place((self.pieces[index],), gap)
        before, after = self.pieces[index].box, self.pieces[new].box
        self.twins[new] = (index, complex(after[0] - before[0], after[1] - before[1]))
        return new

    @property
    def box(self) -> tuple[float, float, float, float]:
        """The box of all pieces."""
        return bounds(self.pieces)


def bounds(pieces: Iterable[Piece]) -> tuple[float, float, float, float]:
    """The box around pieces."""
    boxes = [piece.box for piece in pieces]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def sound(piece: Piece) -> bool:
    """Whether a piece may stand in a clean drawing: valid, and wide enough as are its holes."""
    holes = [Polygon(corners(hole)) for hole in piece.holes]
    return (
        piece.polygon.is_valid
        and wider(piece.polygon, CLEAN_PIECE_MM)
        and all(wider(hole, CLEAN_HOLE_MM) for hole in holes)
    )


def wider(polygon: Polygon, width: float) -> bool:
    """Whether a circle of this diameter fits into a polygon."""
    return not polygon.simplify(0.01).buffer(-width / 2 - 0.02, quad_segs=4).is_empty


def random_cluster(rng: Random, folding: bool | None = None, scored: bool = False) -> Cluster:
    """A sound random piece (or frame with its inside); `folding` asks for tabs or for flat ones."""
    while True:
        use_panels = rng.random() < 0.5 if folding is None else folding
        made = rng.choice(FOLDING if use_panels else FLAT)(rng)
        cluster = made if isinstance(made, tuple) else (made,)
        if scored and not any(piece.scores for piece in cluster):
            continue
        if all(sound(piece) for piece in cluster):
            return cluster


def turned(cluster: Cluster, rng: Random) -> Cluster:
    """The cluster at an angle a designer would give it: mostly straight or quarter turns."""
    angle = rng.choice([0.0, 0.0, 90.0, 180.0, 270.0, rng.uniform(0, 360)])
    if rng.random() < 0.1:
        return tuple(piece.moved(turn(angle) @ Matrix(a=-1)) for piece in cluster)
    return tuple(piece.moved(turn(angle)) for piece in cluster)


def random_sheet(
    rng: Random, count: int, scored: int = 1, twins: bool = True, clusters: bool = True
) -> Sheet:
    """A sheet of about `count` clusters, at least `scored` of them with folds."""
    sheet = Sheet(rng.uniform(120, 185), complex(rng.uniform(4, 9), rng.uniform(4, 9)))
    gap = rng.uniform(3.2, 9)
    for i in range(count):
        if clusters and i >= scored and rng.random() < 0.15:
            cluster = rng.choice(SHARING)(rng)
        else:
            cluster = random_cluster(rng, scored=i < scored)
        cluster = turned(cluster, rng)
        left, top, right, bottom = bounds(cluster)
        fits = right - left <= 185 and sheet.y + sheet.shelf + bottom - top < 250
        if i >= scored and not fits:
            continue
        placed = sheet.place(cluster, gap)
        again = rng.choice([0, 0, 1, 2]) if twins and len(cluster) == 1 else 0
        for _ in range(again if (right - left) * (bottom - top) < 1600 else 0):
            sheet.repeat(placed[0], gap)
    return sheet


def tiles(rng: Random) -> Cluster:
    """A board of tiles: one border, and lines from side to side that part the tiles."""
    columns, rows = rng.randint(2, 4), rng.randint(1, 3)
    a, b = rng.uniform(8, 16), rng.uniform(8, 16)
    border = (rectangle(0, 0, columns * a, rows * b), True)
    lines: list[tuple[Chain, bool]] = []
    for i in range(1, columns):
        lines.append((polyline([complex(i * a, 0), complex(i * a, rows * b)]), False))
    for j in range(1, rows):
        lines.append((polyline([complex(0, j * b), complex(columns * a, j * b)]), False))
    return tuple(
        Piece(
            "tile",
            rectangle(i * a, j * b, a, b),
            drawn=(border, *lines) if i + j == 0 else (),
            tags=frozenset({"sharing"}),
        )
        for j in range(rows)
        for i in range(columns)
    )


def neighbours(rng: Random) -> Cluster:
    """Two panels with a common edge that is drawn once, with the first (it may have folds)."""
    w, h, v = rng.uniform(18, 40), rng.uniform(16, 36), rng.uniform(14, 34)
    low = 0.0 if rng.random() < 0.5 else h * rng.uniform(0.15, 0.3)
    high = h if low == 0.0 else h * rng.uniform(0.6, 0.85)
    lean = rng.choice([0.0, rng.uniform(-4, 4)])
    p, q = complex(w, low), complex(w, high)
    ends = [p, p + complex(v, lean), q + complex(v, lean), q]
    folds = (inset(complex(w * 0.4, 0), complex(w * 0.4, h), rng.choice([0.0, 0.8])),)
    first = Piece(
        "panel",
        rectangle(0, 0, w, h),
        scores=folds if rng.random() < 0.5 else (),
        tags=frozenset({"sharing"}),
    )
    open_side = (polyline(ends), False)
    second = Piece("panel", ring_of(*ends), drawn=(open_side,), tags=frozenset({"sharing"}))
    return first, second


def corner_to_corner(rng: Random) -> Cluster:
    """Two outlines that touch in one corner."""
    a, b = rng.uniform(10, 24), rng.uniform(10, 24)
    meet = complex(a, a)
    second = ring_of(meet, meet + b, meet + complex(b * 0.8, b), meet + 1j * b)
    tags = frozenset({"sharing"})
    return (
        Piece("panel", rectangle(0, 0, a, a), tags=tags),
        Piece("panel", second, tags=tags),
    )


def parted(rng: Random) -> Cluster:
    """One outline, and a bent cut from edge to edge that makes two pieces of it."""
    w, h = rng.uniform(24, 50), rng.uniform(16, 30)
    x0, x1, bend = w * rng.uniform(0.3, 0.6), w * rng.uniform(0.4, 0.7), w * rng.uniform(0.4, 0.6)
    cut = [complex(x0, 0), complex(bend, h / 2), complex(x1, h)]
    left = ring_of(0j, *cut, complex(0, h))
    right = ring_of(cut[0], complex(w, 0), complex(w, h), cut[2], cut[1])
    drawn = ((rectangle(0, 0, w, h), True), ((Line(cut[0], cut[1]), Line(cut[1], cut[2])), False))
    tags = frozenset({"sharing"})
    return Piece("half", left, drawn=drawn, tags=tags), Piece("half", right, drawn=(), tags=tags)


def overlapping(rng: Random) -> Cluster:
    """Two rectangles that overlap at a corner: the blade makes three pieces of them."""
    w, h, v, u = (rng.uniform(16, 30) for _ in range(4))
    x, y = w - rng.uniform(5, 9), h - rng.uniform(5, 9)
    a, b = complex(w, y), complex(x, h)
    c, d, e = complex(x, y), complex(w, h), complex(x + v, y + u)
    first = ring_of(0j, complex(w, 0), a, c, b, complex(0, h))
    second = ring_of(a, complex(x + v, y), e, complex(x, y + u), b, d)
    drawn = ((rectangle(0, 0, w, h), True), (rectangle(x, y, v, u), True))
    tags = frozenset({"sharing"})
    return (
        Piece("card", first, drawn=drawn, tags=tags),
        Piece("card", ring_of(c, a, d, b), drawn=(), tags=tags),
        Piece("card", second, drawn=(), tags=tags),
    )


SHARING: tuple[Callable[[Random], Cluster], ...] = (
    tiles,
    neighbours,
    corner_to_corner,
    parted,
    overlapping,
)
