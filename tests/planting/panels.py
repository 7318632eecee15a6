"""Folding pieces: boxes, towers, roofs and gables with trapezoid glue tabs.

Outlines run clockwise on the page, so the outside is on the left of each edge. Folds that meet in
one straight line are drawn as one line, as a ruler would.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from random import Random

from tests.planting.pieces import Piece, inset, rectangle, ring_of, tab
from tests.planting.strokes import Chain, Point, circle, polyline


def open_box(rng: Random) -> Piece:
    """A tray: base, four walls, a tab at both ends of two of the walls (four long folds)."""
    w, d, h = rng.uniform(22, 48), rng.uniform(22, 48), rng.uniform(12, 24)
    wide, gap = rng.uniform(5, 7.5), rng.choice([0.0, 0.0, 0.8, 1.2])
    a, b, c, e = 0j, complex(w, 0), complex(w, d), complex(0, d)
    up, right = -1j * h, complex(h, 0)
    points: list[Point] = [a, *tab(a, a + up, wide), a + up, b + up, *tab(b + up, b, wide), b]
    points += [b + right, c + right, c, *tab(c, c - up, wide), c - up, e - up]
    points += [*tab(e - up, e, wide), e, e - right, a - right]
    folds = (
        inset(a + up, e - up, gap),
        inset(b + up, c - up, gap),
        inset(a, b, gap),
        inset(e, c, gap),
    )
    return Piece("stage-box", ring_of(*points), scores=folds)


def wrap(rng: Random) -> Piece:
    """A prism's mantle: panels in a row, a side tab, notched tabs above, perhaps a window."""
    sides = rng.choice([3, 4, 4, 5, 6])
    w, h, wide = rng.uniform(17, 27), rng.uniform(28, 62), rng.uniform(5, 7)
    gap = rng.choice([0.0, 0.5, 1.0])
    points: list[Point] = []
    for i in range(sides):
        left, right = complex(i * w, 0), complex((i + 1) * w, 0)
        points += [left, *tab(left, right, wide, rng.choice([45, 60]))]
    end = complex(sides * w, 0)
    points += [end, *tab(end, end + 1j * h, wide), end + 1j * h, 1j * h]
    folds = [inset(complex(i * w, 0), complex(i * w, h), gap) for i in range(1, sides + 1)]
    folds.append(inset(0j, end, gap))
    holes: list[Chain] = []
    if rng.random() < 0.5:
        holes.append(rectangle(w * 0.3, h * 0.3, w * 0.4, h * 0.3))
    if rng.random() < 0.3:
        holes.append(circle(complex(w * 1.5, h * 0.5), w * rng.uniform(0.15, 0.3)))
    return Piece("tower-wall", ring_of(*points), holes=tuple(holes), scores=tuple(folds))


def frustum(rng: Random) -> Piece:
    """A pointed tower's mantle: a fan of trapezoids with tabs on the wide edges and one side."""
    sides = rng.choice([4, 5, 6])
    a = rng.uniform(19, 27)
    b, h = a * rng.uniform(0.35, 0.55), rng.uniform(25, 40)
    rho = (a - b) / (2 * math.tan(math.pi / sides))
    slant = math.hypot(h, rho)
    step = 2 * math.atan((a - b) / (2 * slant))  # the net's fan step
    edge = math.hypot(slant, (a - b) / 2)
    inner = b / (2 * math.sin(step / 2))
    outer = inner + edge
    first = -math.pi / 2 - step * sides / 2

    def ray(i: int, radius: float) -> Point:
        return cmath.rect(radius, first + step * i)

    wide, gap = rng.uniform(5, 6.5), rng.choice([0.6, 1.0, 1.5])
    points: list[Point] = []
    for i in range(sides):
        points += [ray(i, outer), *tab(ray(i, outer), ray(i + 1, outer), wide, 60)]
    points += [ray(sides, outer), *tab(ray(sides, outer), ray(sides, inner), wide)]
    points += [ray(i, inner) for i in range(sides, -1, -1)]
    folds = [inset(ray(i, inner), ray(i, outer), gap) for i in range(1, sides + 1)]
    folds += [inset(ray(i, outer), ray(i + 1, outer), gap) for i in range(sides)]
    return Piece("spire", ring_of(*points), scores=tuple(folds), tags=frozenset({"chorded"}))


def gable(rng: Random) -> Piece:
    """A house front: pointed top, tabs at the sides and the roof, windows, perhaps a door slit."""
    w, h, roof = rng.uniform(32, 55), rng.uniform(24, 40), rng.uniform(14, 26)
    wide = rng.uniform(5, 7)
    a, b, top = complex(0, 0), complex(w, 0), complex(w / 2, -roof)
    c, d = complex(w, h), complex(0, h)
    points = [a, *tab(a, top, wide, 60), top, *tab(top, b, wide, 60), b, *tab(b, c, wide), c, d]
    points += tab(d, a, wide)
    folds = [inset(p, q, rng.choice([0.0, 0.7])) for p, q in ((a, top), (top, b), (b, c), (d, a))]
    holes = [circle(complex(w / 2, -roof * 0.2), rng.uniform(2.2, 4.5))]
    if rng.random() < 0.6:
        holes += [rectangle(w * x, h * 0.3, w * 0.14, h * 0.25) for x in (0.15, 0.7)]
    slits: list[Chain] = []
    if rng.random() < 0.4:  # a door that opens: cut on three sides, its hinge is uncut
        left, right = w * 0.4, w * 0.6
        corners = [complex(left, h - 4), complex(left, h * 0.35), complex(right, h * 0.35)]
        slits.append(polyline([*corners, complex(right, h - 4)]))
    return Piece("house-front", ring_of(*points), tuple(holes), tuple(folds), tuple(slits))


def pyramid(rng: Random) -> Piece:
    """A roof: a square with four triangles, a tab on one side of each."""
    a, slant = rng.uniform(20, 34), rng.uniform(22, 34)
    wide = rng.uniform(4.5, 6)
    corners = [0j, complex(a, 0), complex(a, a), complex(0, a)]
    points: list[Point] = []
    folds: list[Chain] = []
    for p, q in zip(corners, [*corners[1:], corners[0]], strict=True):
        tip = (p + q) / 2 + (q - p) / abs(q - p) * -1j * slant
        points += [p, *tab(p, tip, wide, 70), tip]
        folds += [inset(p, q, 1.2), inset(p, tip, 1.2)]
    return Piece("roof", ring_of(*points), scores=tuple(folds), tags=frozenset({"chorded"}))


def pleats(rng: Random) -> Piece:
    """A curtain: a strip with many parallel folds, sometimes slanted ends."""
    count, pitch, high = rng.randint(8, 26), rng.uniform(4.2, 6.5), rng.uniform(18, 40)
    lean, gap = rng.choice([0.0, 0.0, 4.0]), rng.choice([0.0, 0.5, 1.0])
    long = count * pitch
    outer = ring_of(0j, complex(long, 0), complex(long + lean, high), complex(lean, high))
    folds = tuple(
        inset(complex(i * pitch, 0), complex(i * pitch + lean, high), gap) for i in range(1, count)
    )
    return Piece("curtain", outer, scores=folds)


def easel(rng: Random) -> Piece:
    """A stand: a trapezoid with one fold, a slot and a slit that runs in from the edge."""
    w, h = rng.uniform(30, 48), rng.uniform(36, 60)
    a, b = complex(w * 0.2, 0), complex(w * 0.8, 0)
    c, d = complex(w, h), complex(0, h)
    fold = inset(complex(w * 0.2 - w * 0.2 * 0.25, h * 0.25), complex(w * 0.85, h * 0.25), 0.3)
    slits: tuple[Chain, ...] = ()
    if rng.random() < 0.6:
        slits = (polyline([complex(w * 0.5, h), complex(w * 0.5, h * 0.6)]),)
    hole = rectangle(w * 0.35, h * 0.4, w * 0.3, rng.uniform(1.6, 3))
    return Piece("stand", ring_of(a, b, c, d), (hole,), (fold,), slits)


FOLDING: tuple[Callable[[Random], Piece], ...] = (
    open_box,
    wrap,
    frustum,
    gable,
    pyramid,
    pleats,
    easel,
)
