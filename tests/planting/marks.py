"""From pieces to elements: how outlines and folds are drawn.

A mark is one element that is going to stand in the file. An outline may be one path, a polygon, a
rect or circle, a compound path with its holes, or many separate lines in any order and direction;
a fold may be one line, or a row of real short dashes.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field
from random import Random

from tests.planting.pieces import Piece
from tests.planting.strokes import (
    Arc,
    Chain,
    Line,
    Matrix,
    as_cubics,
    backwards,
    chain_length,
    more_points,
    moved,
    part,
    shift,
    started_at,
)

# How the outlines of one drawing are put down; "unclosed" has ends that meet but no Z.
OUTLINES = ("whole", "compound", "lines", "runs", "unclosed", "mixed")
# How the folds are: one element each, one path for a whole piece, or rows of real dashes.
FOLDS = ("single", "joined", "row-path", "row-joined", "row-lines")

SHORTEST_ROW_MM = 11.0  # folds shorter than this do not hold a readable row of dashes
NOISE_MM = 0.03  # how far a drawn dash may lie off its fold


@dataclass
class Sub:
    """One sub-path."""

    chain: Chain
    closed: bool


@dataclass
class Mark:
    """One element: its role, its piece, its sub-paths, the form wished for.

    `form` is a wish ("path", "relative", "poly", "shape", "line"): what cannot be drawn so becomes
    a path. `own` is a transform attribute of its own. `home` says where it stands: "" with its
    piece, "outside" beside all groups, or the number of another piece whose group holds it.
    """

    role: str
    piece: int
    subs: list[Sub]
    form: str = "path"
    own: Matrix | None = None
    home: str = ""
    folds: int = field(default=0)

    @property
    def closed(self) -> bool:
        """Whether every sub-path is closed."""
        return all(sub.closed for sub in self.subs)


@dataclass(frozen=True)
class Row:
    """A dash pattern: dash in mm, gap as a share of the dash, fewest dashes of a fold.

    `half`: the dashes at both ends are half as long, as patterns come out on a line.
    """

    dash: tuple[float, float]
    gap: tuple[float, float]
    least: int = 4
    half: bool = False


# Perforation handbooks know cut to tie from 3 : 1 over 1 : 1 down to 1 : 3, cuts of 1.2 to 3 mm.
ROWS = {
    "plain": Row((1.6, 3.6), (0.35, 1.3)),
    "three": Row((3.0, 4.0), (0.4, 0.8), least=3),
    "half ends": Row((1.6, 3.6), (0.35, 1.0), half=True),
    "sparse": Row((1.0, 1.8), (1.5, 2.5)),
    "long": Row((4.2, 6.0), (0.2, 0.5)),
}


@dataclass(frozen=True)
class Manner:
    """How one drawing is drawn."""

    outline: str
    fold: str
    cubic: bool  # arcs become cubics
    points: bool  # extra points in the sides
    forms: tuple[str, ...]
    row: str = "plain"

    @property
    def rows(self) -> bool:
        """Whether folds are rows of real dashes."""
        return self.fold.startswith("row")


def random_manner(rng: Random, fold: str | None = None, outline: str | None = None) -> Manner:
    """A manner of drawing."""
    forms = rng.choice(
        [("path",), ("relative",), ("shape", "poly"), ("shape", "path"), ("path", "relative")]
    )
    return Manner(
        outline or rng.choice(OUTLINES),
        fold or rng.choice(FOLDS),
        rng.random() < 0.3,
        rng.random() < 0.1,
        forms,
    )


def redirected(ring: Chain, rng: Random) -> Chain:
    """The ring from another corner, perhaps the other way round."""
    ring = started_at(ring, rng.randrange(len(ring)))
    return backwards(ring) if rng.random() < 0.5 else ring


def cut_marks(piece: Piece, index: int, manner: Manner, rng: Random) -> list[Mark]:
    """The elements that draw a piece's outline, holes and slits."""
    outline = manner.outline
    if outline == "mixed":
        outline = rng.choice(OUTLINES[:-1])
    subs = [
        Sub(as_cubics(chain) if manner.cubic else chain, closed) for chain, closed in piece.cuts
    ]
    for sub in subs:
        if sub.closed:
            sub.chain = redirected(sub.chain, rng)
            if manner.points:
                sub.chain = more_points(sub.chain, rng)
    rings, open_ = [s for s in subs if s.closed], [s for s in subs if not s.closed]
    marks: list[Mark] = []
    if outline == "compound" and rings:
        marks.append(Mark("cut", index, rings, rng.choice(["path", "relative"])))
    elif outline == "lines":
        return separate(rings + open_, index, rng)
    elif outline == "runs":
        marks += [run for ring in rings for run in runs(ring, index, rng)]
    else:
        for ring in rings:
            form = rng.choice(manner.forms)
            mark = Mark("cut", index, [ring], form)
            if outline == "unclosed":
                mark.form = rng.choice(["path", "relative", "poly"])
                ring.closed = False
            marks.append(mark)
    marks += [Mark("cut", index, [sub], rng.choice(["path", "line", "poly"])) for sub in open_]
    return marks


def separate(subs: list[Sub], index: int, rng: Random) -> list[Mark]:
    """One element a segment, shuffled, some reversed."""
    segments = [segment for sub in subs for segment in sub.chain]
    rng.shuffle(segments)
    form = rng.choice(["line", "path", "relative"])
    return [
        Mark("cut", index, [Sub((s.reversed() if rng.random() < 0.5 else s,), False)], form)
        for s in segments
    ]


def runs(ring: Sub, index: int, rng: Random) -> list[Mark]:
    """A ring as two or three open elements."""
    count = min(rng.choice([2, 3]), len(ring.chain))
    stops = sorted(rng.sample(range(1, len(ring.chain)), count - 1)) if count > 1 else []
    out = []
    for low, high in zip([0, *stops], [*stops, len(ring.chain)], strict=True):
        chain = ring.chain[low:high]
        chain = backwards(chain) if rng.random() < 0.5 else chain
        out.append(Mark("cut", index, [Sub(chain, False)], rng.choice(["path", "poly"])))
    rng.shuffle(out)
    return out


def fold_marks(piece: Piece, index: int, manner: Manner, rng: Random) -> list[Mark]:
    """The elements that draw a piece's folds; each fold counts once, however many dashes."""
    folds = list(piece.scores)
    rng.shuffle(folds)
    if not manner.rows:
        subs = [Sub(backwards(f) if rng.random() < 0.5 else f, False) for f in folds]
        if manner.fold == "joined" and subs:
            return [Mark("score", index, subs, rng.choice(["path", "relative"]), folds=len(subs))]
        form = rng.choice(["line", "path", "poly"])
        return [Mark("score", index, [sub], form, folds=1) for sub in subs]
    kind = ROWS[manner.row]
    dash = rng.uniform(*kind.dash)
    gap = dash * rng.uniform(*kind.gap)
    spare = 1.6 * gap if "chorded" in piece.tags else 0.0  # or rows would run round the corner
    noise = rng.choice([0.0, 0.0, 0.01, NOISE_MM])
    rows = [dashes(fold, (dash, gap), kind, spare, noise, rng) for fold in folds]
    if manner.fold == "row-path":
        return [Mark("score", index, row, "path", folds=1) for row in rows]
    if manner.fold == "row-joined" and rows:
        every = [dash for row in rows for dash in row]
        return [Mark("score", index, every, rng.choice(["path", "relative"]), folds=len(rows))]
    marks = []
    for row in rows:
        marks += [Mark("score", index, [dash], "line") for dash in row]
        marks[-1].folds = 1
    return marks


def dashes(
    fold: Chain,
    pattern: tuple[float, float],
    row: Row,
    spare: float,
    noise: float,
    rng: Random,
) -> list[Sub]:
    """A fold as a row of real dashes (`pattern` is dash and gap, stretched to fit).

    `spare` is left free at both ends; each dash lies up to `noise` off the fold.
    """
    total = chain_length(fold) - 2 * spare
    dash, gap = pattern
    count = max(row.least, round((total + gap) / (dash + gap)))
    half = 0.5 if row.half and count > 4 else 0.0  # what each end dash lacks
    stretch = total / ((count - 2 * half) * dash + (count - 1) * gap)
    dash, gap = dash * stretch, gap * stretch
    out = []
    for i in range(count):
        begin = i * (dash + gap) - half * dash
        piece = part(fold, spare + max(begin, 0.0), spare + min(begin + dash, total))
        wobble = cmath.rect(noise * rng.random(), rng.uniform(0, 2 * math.pi))
        piece = moved(piece, shift(wobble))
        if rng.random() < 0.3:
            piece = backwards(piece)
        out.append(Sub(piece, False))
    return out


@dataclass(frozen=True)
class RectShape:
    """A chain that is a rectangle: corner, width, height, corner radius, angle in degrees."""

    corner: complex
    wide: float
    high: float
    radius: float
    angle: float


def as_rectangle(chain: Chain) -> RectShape | None:
    """The rectangle that a closed chain is, plain or with round corners, or None."""
    if len(chain) == 8:
        return _round_rectangle(chain)
    if len(chain) != 4 or not all(isinstance(s, Line) for s in chain):
        return None
    p = [s.start for s in chain]
    return _rectangle(p[0], p[1], p[2], p[3], 0.0)


def _rectangle(a: complex, b: complex, c: complex, d: complex, radius: float) -> RectShape | None:
    along, up = b - a, d - a
    if abs(a + c - b - d) > 1e-6 or abs((along.conjugate() * up).real) > 1e-6 * abs(along):
        return None
    if (up / along).imag < 0:  # counter-clockwise on the page
        along, up = up, along
    return RectShape(a, abs(along), abs(up), radius, math.degrees(cmath.phase(along)))


def _round_rectangle(chain: Chain) -> RectShape | None:
    if not isinstance(chain[0], Line):
        chain = chain[1:] + chain[:1]
    lines, bends = chain[0::2], chain[1::2]
    if not all(isinstance(s, Line) for s in lines):
        return None
    arcs = [s for s in bends if isinstance(s, Arc)]
    if len(arcs) != 4 or any(abs(abs(s.sweep) - math.pi / 2) > 1e-9 for s in arcs):
        return None
    radius = arcs[0].radius
    corners = []
    for i, line in enumerate(lines):
        before = arcs[i - 1]
        if abs(before.radius - radius) > 1e-9 or arcs[0].sweep * before.sweep < 0:
            return None
        along = (line.end - line.start) / abs(line.end - line.start)
        corners.append(line.start - along * radius)
    return _rectangle(corners[0], corners[1], corners[2], corners[3], radius)


def as_circle(chain: Chain) -> tuple[complex, float] | None:
    """Centre and radius of a chain that is a full circle, or None."""
    arcs = [s for s in chain if isinstance(s, Arc)]
    if not arcs or len(arcs) != len(chain):
        return None
    if abs(abs(sum(s.sweep for s in arcs)) - 2 * math.pi) > 1e-6:
        return None
    if max(abs(s.centre - arcs[0].centre) for s in arcs) > 1e-6:
        return None
    return arcs[0].centre, arcs[0].radius
