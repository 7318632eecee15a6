"""Parts of a pocket puppet theatre, each at most 42 mm wide and high, its corner near the origin.

Outlines run clockwise on the page. Folds stop inside the outline or on it.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from tests.planting.pieces import Piece, inset, pairs, rectangle, ring_of, tab
from tests.planting.strokes import (
    Arc,
    Chain,
    Cubic,
    Line,
    Matrix,
    Point,
    Segment,
    arc_between,
    circle,
)

__all__ = ["ROUND", "STRAIGHT", "Piece", "any_part", "box_of", "panel"]


def _between(start: Point, end: Point, rng: Random) -> Chain:
    """A fold from one edge to another, on them or short of them."""
    return inset(start, end, rng.choice([0.0, 0.4, 1.5]))


def door(rng: Random) -> Piece:
    """A door with a hinge fold and perhaps a window."""
    w, h = rng.uniform(18, 30), rng.uniform(26, 40)
    hinge = rng.uniform(4, 7)
    holes: list[Chain] = []
    if rng.random() < 0.5:
        holes.append(circle(complex(w * 0.65, h * 0.3), rng.uniform(2, 3.5)))
    elif rng.random() < 0.5:
        holes.append(rectangle(w * 0.5, h * 0.2, w * 0.3, h * 0.25))
    fold = _between(complex(hinge, 0), complex(hinge, h), rng)
    return Piece("door", rectangle(0, 0, w, h), tuple(holes), (fold,))


def flag(rng: Random) -> Piece:
    """A swallow-tailed flag with a fold at its pole."""
    w, h, tail = rng.uniform(26, 40), rng.uniform(16, 26), rng.uniform(4, 10)
    outer = ring_of(0j, complex(w, 0), complex(w - tail, h / 2), complex(w, h), complex(0, h))
    pole = rng.uniform(4, 8)
    return Piece("flag", outer, scores=(_between(complex(pole, 0), complex(pole, h), rng),))


def arch(rng: Random) -> Piece:
    """A round-headed arch on a base, the head an arc or a cubic; one or two folds across."""
    w, h = rng.uniform(20, 34), rng.uniform(14, 20)
    left, right = complex(0, w / 2), complex(w, w / 2)
    head: Segment
    if rng.random() < 0.5:
        head = arc_between(left, right, w / 2 * rng.uniform(0.6, 0.98))
    else:
        lift = complex(0, -w * 0.6)
        head = Cubic(left, left + lift, right + lift, right)
    feet = complex(w, w / 2 + h), complex(0, w / 2 + h)
    outer = (head, Line(right, feet[0]), Line(feet[0], feet[1]), Line(feet[1], left))
    levels = rng.sample([0.25, 0.5, 0.75], rng.choice([1, 2]))
    folds = [_between(left + 1j * h * k, right + 1j * h * k, rng) for k in levels]
    return Piece("arch", outer, scores=tuple(folds))


def wing(rng: Random) -> Piece:
    """A side wing: smooth cubics, or quadratics, down one side."""
    h, w = rng.uniform(30, 40), rng.uniform(14, 20)
    top, middle, foot = complex(w, 0), complex(w, h / 2), complex(w, h)
    swing = rng.uniform(3, 6)
    side: tuple[Segment, ...]
    if rng.random() < 0.5:
        side = (
            Cubic(top, top + complex(swing, h / 6), middle + complex(-swing, -h / 6), middle),
            Cubic(middle, middle + complex(swing, h / 6), foot + complex(-swing, -h / 6), foot),
        )
    else:
        bend = complex(w + swing, h / 4)
        side = (quadratic(top, bend, middle), quadratic(middle, 2 * middle - bend, foot))
    outer = (Line(0j, top), *side, Line(foot, complex(0, h)), Line(complex(0, h), 0j))
    fold = rng.uniform(4, 7)
    return Piece("wing", outer, scores=(_between(complex(fold, 0), complex(fold, h), rng),))


def stage_box(rng: Random) -> Piece:
    """A flat box with four glue tabs, each with its fold."""
    w, h, wide = rng.uniform(20, 28), rng.uniform(16, 26), rng.uniform(5, 6.5)
    corners = [0j, complex(w, 0), complex(w, h), complex(0, h)]
    points: list[Point] = []
    folds: list[Chain] = []
    for p, q in zip(corners, [*corners[1:], corners[0]], strict=True):
        points += [p, *tab(p, q, wide)]
        folds.append(inset(p, q, rng.choice([0.0, 0.6])))
    return Piece("stage-box", ring_of(*points), scores=tuple(folds))


def moon(rng: Random) -> Piece:
    """A disc with a fold through it."""
    radius = rng.uniform(9, 16)
    centre = complex(radius, radius)
    outer = circle(centre, radius, rng.choice([2, 3, 4]), rng.uniform(0, 6))
    fold = inset(centre - radius * 0.98, centre + radius * 0.98, rng.choice([0.0, 2.0]))
    return Piece("moon", outer, scores=(fold,))


def panel(rng: Random, wide: float, high: float, name: str = "panel") -> Piece:
    """A plain rectangle with one fold across."""
    at = high * rng.uniform(0.3, 0.7)
    return Piece(
        name,
        rectangle(0, 0, wide, high),
        scores=(_between(complex(0, at), complex(wide, at), rng),),
    )


def quadratic(start: Point, control: Point, end: Point) -> Cubic:
    """A quadratic curve as the cubic that it is."""
    return Cubic(start, start + (control - start) * 2 / 3, end + (control - end) * 2 / 3, end)


STRAIGHT: tuple[Callable[[Random], Piece], ...] = (door, flag, stage_box)
ROUND: tuple[Callable[[Random], Piece], ...] = (arch, wing, moon)


def any_part(rng: Random) -> Piece:
    """One part, its middle at the origin."""
    return centred(rng.choice([*STRAIGHT, *ROUND])(rng))


def centred(piece: Piece) -> Piece:
    """The piece with the middle of its box at the origin."""
    left, top, right, bottom = piece.box
    return piece.moved(Matrix(e=-(left + right) / 2, f=-(top + bottom) / 2))


def box_of(*chains: Chain) -> tuple[float, float, float, float]:
    """The box round chains: left, top, right, bottom."""
    points = [point for chain in chains for point in pairs(chain)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def has_arcs(chain: Chain) -> bool:
    """Whether a chain has circular arcs, which no skew leaves circular."""
    return any(isinstance(segment, Arc) for segment in chain)
