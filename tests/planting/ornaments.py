"""Flat pieces: rings, frames, lattices, arches, scallops, clouds, small parts."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from random import Random

from tests.planting.pieces import Piece, inset, rectangle, ring_of
from tests.planting.strokes import (
    Arc,
    Chain,
    Cubic,
    Line,
    Point,
    Segment,
    arc_between,
    backwards,
    circle,
    polyline,
)


def ring(rng: Random) -> Piece:
    """A hoop: two circles of one centre."""
    outer = rng.uniform(8, 24)
    inner = outer - rng.uniform(3.6, min(9.0, outer - 3))
    parts = rng.choice([2, 4, 4, 3])
    return Piece(
        "hoop",
        circle(0j, outer, parts, rng.uniform(0, 6)),
        (circle(0j, inner, parts, rng.uniform(0, 6), rng.choice([1, -1])),),
    )


def disc(rng: Random) -> Piece:
    """A wheel: a circle with an axle hole and perhaps a crown of more."""
    radius = rng.uniform(10, 22)
    holes = [circle(0j, rng.uniform(1, 2.5))]
    if radius > 14:
        count = rng.randint(3, 8)
        holes += [
            circle(cmath.rect(radius * 0.62, 2 * math.pi * i / count), radius * 0.14)
            for i in range(count)
        ]
    return Piece("wheel", circle(0j, radius), tuple(holes))


def rounded(left: float, top: float, wide: float, high: float, radius: float) -> Chain:
    """A rectangle with rounded corners, clockwise from the left end of its top edge."""
    right, bottom = left + wide, top + high
    out: list[Segment] = []
    corners = [
        (complex(right - radius, top + radius), -math.pi / 2),
        (complex(right - radius, bottom - radius), 0.0),
        (complex(left + radius, bottom - radius), math.pi / 2),
        (complex(left + radius, top + radius), math.pi),
    ]
    at: Point = complex(left + radius, top)
    for centre, angle in corners:
        bend = Arc(centre, radius, angle, math.pi / 2)
        out += [Line(at, bend.start), bend]
        at = bend.end
    return tuple(out)


def frame(rng: Random) -> tuple[Piece, ...]:
    """A picture frame, and in its opening another piece: a small picture or a hoop."""
    w, h, bar = rng.uniform(40, 70), rng.uniform(36, 60), rng.uniform(4.5, 8)
    if rng.random() < 0.5:
        outer, opening = rectangle(0, 0, w, h), rectangle(bar, bar, w - 2 * bar, h - 2 * bar)
    else:
        outer = rounded(0, 0, w, h, rng.uniform(3, 6))
        opening = rounded(bar, bar, w - 2 * bar, h - 2 * bar, rng.uniform(1.5, 3))
    whole = Piece("frame", outer, (opening,))
    room = min(w, h) - 2 * bar - 6
    inside = rng.choice(["picture", "hoop", "nothing"])
    if inside == "picture":
        side = room * rng.uniform(0.5, 0.95)
        corner = complex((w - side) / 2, (h - side) / 2)
        return whole, Piece("picture", rectangle(corner.real, corner.imag, side, side * 0.9))
    if inside == "hoop":
        radius = room * rng.uniform(0.35, 0.48)
        hole = circle(complex(w / 2, h / 2), radius - 3.6)
        return whole, Piece("hoop", circle(complex(w / 2, h / 2), radius), (hole,))
    return (whole,)


def lattice(rng: Random) -> Piece:
    """A floor grid or a window: many holes of one shape, bars between them."""
    columns, rows = rng.randint(3, 9), rng.randint(3, 8)
    size, bar, border = rng.uniform(3, 6), rng.uniform(1.2, 2.5), rng.uniform(4, 7)
    pitch = size + bar
    shape = rng.choice(["square", "diamond", "circle", "hexagon"])
    holes: list[Chain] = []
    for i in range(columns * rows):
        corner = complex(border + i % columns * pitch, border + i // columns * pitch)
        middle = corner + complex(size, size) / 2
        if shape == "square":
            holes.append(rectangle(corner.real, corner.imag, size, size))
        elif shape == "circle":
            holes.append(circle(middle, size / 2))
        else:
            sides = 4 if shape == "diamond" else 6
            turn = [cmath.rect(size / 2, 2 * math.pi * k / sides) for k in range(sides)]
            holes.append(ring_of(*(middle + z for z in turn)))
    wide, high = columns * pitch - bar + 2 * border, rows * pitch - bar + 2 * border
    return Piece("floor-grid", rectangle(0, 0, wide, high), tuple(holes))


def arch(rng: Random) -> Piece:
    """A proscenium: a wide block whose opening is an arch that stands on the ground."""
    w, h, pillar = rng.uniform(60, 100), rng.uniform(44, 70), rng.uniform(7, 12)
    inner = w - 2 * pillar
    spring = h - pillar - inner * 0.25
    rise = arc_between(complex(w - pillar, h - spring), complex(pillar, h - spring), -inner * 0.25)
    sides = (
        *polyline([0j, complex(w, 0), complex(w, h), complex(w - pillar, h), rise.start]),
        rise,
        *polyline([rise.end, complex(pillar, h), complex(0, h), 0j]),
    )
    return Piece("proscenium", sides)


def scallops(rng: Random) -> Piece:
    """A pelmet: a strip whose lower edge is a row of arcs."""
    count, wide, high = rng.randint(4, 14), rng.uniform(6, 12), rng.uniform(10, 18)
    long = count * wide
    edge = [
        arc_between(complex(x * wide, high), complex((x - 1) * wide, high), wide * 0.35)
        for x in range(count, 0, -1)
    ]
    start = polyline([0j, complex(long, 0), complex(long, high)])
    scores: tuple[Chain, ...] = ()
    if rng.random() < 0.6:
        scores = (inset(complex(0, high * 0.4), complex(long, high * 0.4), rng.choice([0, 1.0])),)
    return Piece("pelmet", (*start, *edge, Line(complex(0, high), 0j)), scores=scores)


def pennant(rng: Random) -> Piece:
    """A flag of the bunting: a triangle or a swallowtail under a folding strip."""
    w, h, strip = rng.uniform(16, 28), rng.uniform(20, 36), rng.uniform(6, 9)
    points = [0j, complex(w, 0), complex(w, strip)]
    if rng.random() < 0.5:
        points += [complex(w / 2, strip + h)]
    else:
        points += [complex(w, strip + h), complex(w / 2, strip + h * 0.7), complex(0, strip + h)]
    points.append(complex(0, strip))
    return Piece("flag", ring_of(*points), scores=(inset(points[2], points[-1], 0.2),))


def pillow(rng: Random) -> Piece:
    """A pillow box: two ends that curve in, each with a curved fold like it."""
    w, h, bulge = rng.uniform(40, 64), rng.uniform(36, 48), rng.uniform(5, 8)
    top = arc_between(0j, complex(w, 0), bulge)
    low = arc_between(complex(w, h), complex(0, h), bulge)
    outer = (top, Line(complex(w, 0), complex(w, h)), low, Line(complex(0, h), 0j))
    inner_top = arc_between(complex(0.6, 0.6), complex(w - 0.6, 0.6), -bulge)
    inner_low = arc_between(complex(0.6, h - 0.6), complex(w - 0.6, h - 0.6), bulge)
    middle = inset(complex(w / 2, bulge + 2), complex(w / 2, h - bulge - 2), 0)
    return Piece("pillow", outer, scores=((inner_top,), (inner_low,), middle))


def banner(rng: Random) -> Piece:
    """A waving banner: two cubic edges and cubic folds between them."""
    w, h, sway = rng.uniform(44, 80), rng.uniform(30, 44), rng.uniform(5, 9)

    def wave(y: float, left: float, right: float) -> Cubic:
        third = (right - left) / 3
        return Cubic(
            complex(left, y),
            complex(left + third, y - sway * 2),
            complex(left + 2 * third, y + sway * 2),
            complex(right, y),
        )

    outer: Chain = (
        wave(0, 0, w),
        Line(complex(w, 0), complex(w, h)),
        *backwards((wave(h, 0, w),)),
        Line(complex(0, h), 0j),
    )
    count = rng.randint(1, 3)
    folds = tuple((wave(h * (i + 1) / (count + 1), 1.0, w - 1.0),) for i in range(count))
    return Piece("banner", outer, scores=folds)


def cloud(rng: Random) -> Piece:
    """A cloud or a bush: a ring of arcs that bulge outwards."""
    count, radius = rng.randint(5, 11), rng.uniform(12, 22)
    corners = [
        cmath.rect(radius * (1 if i % 2 else 0.85), 2 * math.pi * i / count) for i in range(count)
    ]
    outer = tuple(
        arc_between(p, q, abs(q - p) * 0.22)
        for p, q in zip(corners, [*corners[1:], corners[0]], strict=True)
    )
    return Piece("cloud", outer)


def star(rng: Random) -> Piece:
    """A star with five to nine points, perhaps a hole for a thread."""
    count, radius = rng.randint(5, 9), rng.uniform(8, 16)
    points = [
        cmath.rect(radius * (0.55 if i % 2 else 1), math.pi * i / count) for i in range(2 * count)
    ]
    holes = (circle(0j, rng.uniform(0.8, 1.6)),) if rng.random() < 0.5 else ()
    return Piece("star", ring_of(*points), holes)


def footlight(rng: Random) -> Piece:
    """A small part, near the smallest that still cuts well: 4.6 to 8 mm across."""
    size = rng.uniform(4.6, 8)
    kind = rng.choice(["circle", "square", "hexagon", "tall"])
    if kind == "circle":
        return Piece("footlight", circle(0j, size / 2))
    if kind == "square":
        return Piece("footlight", rectangle(0, 0, size, size))
    if kind == "tall":
        return Piece("footlight", rounded(0, 0, size, size * 3, size * 0.3))
    corners = [cmath.rect(size / 2 / math.cos(math.pi / 6), math.pi / 3 * i) for i in range(6)]
    return Piece("footlight", ring_of(*corners))


def dumbbell(rng: Random) -> Piece:
    """A rod with broad ends: thin in the middle, but no piece that is thin throughout."""
    length, end, rod = rng.uniform(30, 60), rng.uniform(5, 9), rng.uniform(1.5, 2.5)
    y0, y1 = (end - rod) / 2, (end + rod) / 2
    points = [
        0j,
        complex(end, 0),
        complex(end, y0),
        complex(length - end, y0),
        complex(length - end, 0),
        complex(length, 0),
        complex(length, end),
        complex(length - end, end),
        complex(length - end, y1),
        complex(end, y1),
        complex(end, end),
        complex(0, end),
    ]
    return Piece("rod", ring_of(*points))


FLAT: tuple[Callable[[Random], Piece | tuple[Piece, ...]], ...] = (
    ring,
    disc,
    frame,
    lattice,
    arch,
    scallops,
    pennant,
    pillow,
    banner,
    cloud,
    star,
    footlight,
    dumbbell,
)
