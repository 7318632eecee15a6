"""undersize-piece: pieces and holes that are narrower than the blade can handle."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from shapely.geometry import Polygon

from tests.planting.draft import Draft, NoPlaceError, Recipe
from tests.planting.marks import random_manner
from tests.planting.ornaments import dumbbell, rounded
from tests.planting.pieces import Piece, corners, rectangle, ring_of, width_of
from tests.planting.sheets import turned
from tests.planting.strokes import (
    Arc,
    Chain,
    Line,
    Matrix,
    arc_between,
    circle,
    moved,
    shift,
    turn,
    zoom,
)

# Diameters of the largest circle that fits in, on both sides of the default limits: 3 mm, of holes
# 1 mm, and of slots 0.5 mm.
SMALL_PIECE, FAIR_PIECE = (0.5, 2.9), (3.1, 6.0)
SMALL_HOLE, FAIR_HOLE = (0.2, 0.93), (1.1, 2.5)
SMALL_SLOT, FAIR_SLOT = (0.2, 0.43), (0.57, 2.5)
Shape = Callable[[Random], Chain]


def strip(rng: Random) -> Chain:
    """A long thin rectangle, sometimes with round ends."""
    long = rng.uniform(4, 18)
    return rectangle(0, 0, long, 1) if rng.random() < 0.7 else rounded(0, 0, long, 1, 0.3)


def triangle(rng: Random) -> Chain:
    """A triangle, from regular to a long sliver."""
    return ring_of(0j, complex(rng.uniform(1, 12), 0), complex(rng.uniform(-2, 4), 1))


def spindle(rng: Random) -> Chain:
    """A sliver of two arcs."""
    long = rng.uniform(3, 12)
    one = arc_between(0j, complex(long, 0), 0.5)
    return one, arc_between(complex(long, 0), 0j, 0.5)


def dot(rng: Random) -> Chain:
    """A circle."""
    return circle(0j, 0.5, rng.choice([2, 4]))


def crescent(rng: Random) -> Chain:
    """A sickle of two arcs that bulge the same way."""
    long = rng.uniform(4, 8)
    return arc_between(0j, complex(long, 0), long * 0.3), arc_between(
        complex(long, 0), 0j, -(long * 0.3 - 1)
    )


def wedge(rng: Random) -> Chain:
    """A triangle that is hardly longer than wide."""
    return ring_of(0j, complex(rng.uniform(1, 1.5), 0), complex(rng.uniform(0, 1), 1))


def stub(rng: Random) -> Chain:
    """A rectangle too short for a slot: up to 3.4 times as long as wide."""
    return rectangle(0, 0, rng.uniform(1, 3.4), 1)


def slot(rng: Random) -> Chain:
    """A rectangle 5 to 18 times as long as wide, sometimes with round ends."""
    long = rng.uniform(5, 18)
    return rectangle(0, 0, long, 1) if rng.random() < 0.6 else rounded(0, 0, long, 1, 0.45)


def bent_slot(rng: Random) -> Chain:
    """A strip that is bent round, 5 to 18 times as long as wide."""
    sweep, way = rng.uniform(1, 4), rng.uniform(5, 18)
    outer = Arc(0j, way / sweep + 0.5, 0.0, sweep)
    inner = Arc(0j, way / sweep - 0.5, sweep, -sweep)
    return outer, Line(outer.end, inner.start), inner, Line(inner.end, outer.start)


SHAPES: dict[str, Shape] = {
    "strip": strip,
    "triangle": triangle,
    "spindle": spindle,
    "dot": dot,
    "crescent": crescent,
}

# Holes: the shape, and widths that are too small and wide enough. What runs out in points may be
# called long or not: it is planted where either limit says the same.
HOLES: dict[str, tuple[Shape, tuple[float, float], tuple[float, float]]] = {
    "dot": (dot, SMALL_HOLE, FAIR_HOLE),
    "wedge": (wedge, SMALL_HOLE, FAIR_HOLE),
    "stub": (stub, SMALL_HOLE, FAIR_HOLE),
    "slot": (slot, SMALL_SLOT, FAIR_SLOT),
    "bent slot": (bent_slot, SMALL_SLOT, FAIR_SLOT),
    "triangle": (triangle, SMALL_SLOT, FAIR_HOLE),
    "spindle": (spindle, SMALL_SLOT, FAIR_HOLE),
    "crescent": (crescent, SMALL_SLOT, FAIR_HOLE),
}


def scaled(shape: Shape, span: tuple[float, float], rng: Random) -> Chain:
    """The shape at the size where its largest circle has a diameter from the span."""
    chain = shape(rng)
    factor = rng.uniform(*span) / width_of(Polygon(corners(chain)))
    return moved(chain, turn(rng.uniform(0, 360)) @ zoom(factor))


def small_piece(name: str, span: tuple[float, float]) -> Callable[[Draft], None]:
    """A planter: a piece of this shape, its width within the span."""

    def plant(draft: Draft) -> None:
        chain = scaled(SHAPES[name], span, draft.rng)
        piece = Piece("sliver", chain)
        width = width_of(piece.polygon)
        if not span[0] - 0.05 < width < span[1] + 0.05 or piece.box[2] - piece.box[0] > 150:
            raise NoPlaceError
        outline = draft.rng.choice(["whole", "lines", "runs"])
        (index,) = draft.add((piece,), manner=random_manner(draft.rng, "single", outline))
        if span == SMALL_PIECE:
            draft.expect("undersize-piece", draft.sheet.pieces[index].polygon)

    return plant


def thin_hoop(span: tuple[float, float]) -> Callable[[Draft], None]:
    """A planter: a ring or frame whose band is this wide, around a large hole."""

    def plant(draft: Draft) -> None:
        rng = draft.rng
        band, size = rng.uniform(*span), rng.uniform(16, 40)
        if rng.random() < 0.5:
            piece = Piece("hoop", circle(0j, size / 2), (circle(0j, size / 2 - band),))
        else:
            band /= 1.1716  # a mitred corner of a square frame holds a wider circle: 4 - 2 sqrt 2
            hole = rectangle(band, band, size - 2 * band, size - 2 * band)
            piece = Piece("frame", rectangle(0, 0, size, size), (hole,))
        (index,) = draft.add(turned((piece,), rng))
        if span == SMALL_PIECE:
            draft.expect("undersize-piece", draft.sheet.pieces[index].polygon)

    return plant


def small_hole(name: str, small: bool) -> Callable[[Draft], None]:
    """A planter: a hole of this shape in a card, too narrow or just wide enough."""
    shape, too_small, fair = HOLES[name]

    def plant(draft: Draft) -> None:
        rng = draft.rng
        chain = scaled(shape, too_small if small else fair, rng)
        hole = Polygon(corners(chain))
        left, top, right, bottom = hole.bounds
        if max(right - left, bottom - top) > 60:
            raise NoPlaceError
        chain = moved(chain, shift(complex(6 - left, 6 - top)))
        wide, high = right - left + 12 + rng.uniform(0, 20), bottom - top + 12
        card = Piece("card", rectangle(0, 0, wide, high), (chain,))
        outline = rng.choice(["whole", "compound", "lines"])
        (index,) = draft.add((card,), manner=random_manner(rng, "single", outline))
        if small:
            ring = draft.sheet.pieces[index].holes[0]
            draft.expect("undersize-piece", Polygon(corners(ring)), draft.sheet.pieces[index].box)

    return plant


def thin_middle(draft: Draft) -> None:
    """A near miss: a rod that is thin in the middle, with broad ends."""
    draft.add(turned((dumbbell(draft.rng),), draft.rng))


def comb(draft: Draft) -> None:
    """A near miss: thin teeth on a broad back."""
    rng = draft.rng
    count, tooth, back = rng.randint(4, 9), rng.uniform(1.2, 2.4), rng.uniform(4, 7)
    points = [0j]
    for i in range(count):
        x = i * tooth * 2
        points += [complex(x, back + 12), complex(x + tooth, back + 12), complex(x + tooth, back)]
        points.append(complex(x + 2 * tooth, back))
    points = [*points[:-2], complex(points[-2].real, 0)]
    draft.add(turned((Piece("comb", ring_of(*points)).moved(Matrix(a=-1)),), rng))


RECIPES = (
    *(
        Recipe("undersize-piece", name, True, small_piece(name, SMALL_PIECE), filled=False)
        for name in SHAPES
    ),
    Recipe("undersize-piece", "thin hoop", True, thin_hoop(SMALL_PIECE), filled=False),
    *(
        Recipe("undersize-piece", f"hole: {name}", True, small_hole(name, True), filled=False)
        for name in HOLES
    ),
    *(
        Recipe(
            "undersize-piece", f"near: {name}", False, small_piece(name, FAIR_PIECE), filled=False
        )
        for name in SHAPES
    ),
    Recipe("undersize-piece", "near: thin hoop", False, thin_hoop(FAIR_PIECE), filled=False),
    *(
        Recipe(
            "undersize-piece",
            f"near: hole, {name}",
            False,
            small_hole(name, False),
            filled=False,
        )
        for name in HOLES
    ),
    Recipe("undersize-piece", "near: thin middle", False, thin_middle, filled=False),
    Recipe("undersize-piece", "near: comb", False, comb, filled=False),
)
