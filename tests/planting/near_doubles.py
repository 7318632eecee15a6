"""Lines that are close, touch or cross, and yet are not cut twice."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import replace
from random import Random

from tests.planting.draft import Draft, NoPlaceError, Recipe
from tests.planting.marks import Manner, Mark, Sub
from tests.planting.pieces import Piece, rectangle
from tests.planting.plant_doubles import some_ring
from tests.planting.sheets import Cluster, turned
from tests.planting.strokes import (
    Line,
    arc_between,
    chain_length,
    circle,
    length,
    moved,
    polyline,
    shift,
)


def close_pair(make: Callable[[Random], Cluster]) -> Callable[[Draft], None]:
    """A near miss: pieces whose lines are close but not in the same place."""

    def plant(draft: Draft) -> None:
        outline = draft.rng.choice(["whole", "whole", "lines", "runs"])
        manner: Manner = replace(draft.manner, outline=outline)
        draft.add(turned(make(draft.rng), draft.rng), manner=manner)

    return plant


def parallel(rng: Random) -> Cluster:
    """Two panels 0.12 to 0.4 mm apart."""
    w, h, v = rng.uniform(12, 30), rng.uniform(12, 30), rng.uniform(12, 30)
    gap = rng.uniform(0.12, 0.4)
    if rng.random() < 0.3:  # curved edges that follow each other
        gap, bulge = gap + 0.08, h * 0.15
        edge = arc_between(complex(w, 0), complex(w, h), bulge)
        beside = moved((edge.reversed(),), shift(complex(gap, 0)))
        first = (edge, *polyline([complex(w, h), complex(0, h), 0j, complex(w, 0)]))
        far = [complex(w + gap, 0), complex(w + gap + v, 0), complex(w + gap + v, h)]
        second = (*polyline([*far, complex(w + gap, h)]), *beside)
        return Piece("panel", first), Piece("panel", second)
    return (
        Piece("panel", rectangle(0, 0, w, h)),
        Piece("panel", rectangle(w + gap, h * 0.1, v, h)),
    )


def close_slits(rng: Random) -> Cluster:
    """Two slits side by side, 0.12 to 0.3 mm apart, their ends staggered."""
    w, h, gap = rng.uniform(30, 44), rng.uniform(18, 30), rng.uniform(0.12, 0.3)
    y = h / 2
    one = polyline([complex(5, y), complex(w * 0.6, y)])
    two = polyline([complex(w * 0.35, y + gap), complex(w - 5, y + gap)])
    return (Piece("card", rectangle(0, 0, w, h), slits=(one, two)),)


def tangent(wide: bool) -> Callable[[Random], Cluster]:
    """Two discs that touch, or a disc that touches a panel.

    Discs this small are within 0.05 mm of each other for less than 1 mm; wide ones for more, yet
    no one would say that they run in the same place.
    """

    def make(rng: Random) -> Cluster:
        radius = rng.uniform(5, 12) if wide else rng.uniform(1.8, 4.5)
        disc = Piece("disc", circle(0j, radius, 4, rng.uniform(0, 1.5)))
        if rng.random() < 0.5:
            other = rng.uniform(5, 12) if wide else rng.uniform(1.8, 4.5)
            return disc, Piece("disc", circle(complex(radius + other, 0), other))
        radius = radius if wide else rng.uniform(1.8, 2.3)
        disc = Piece("disc", circle(0j, radius, 4, rng.uniform(0, 1.5)))
        return disc, Piece("panel", rectangle(radius, -radius - 4, 20, radius * 2 + 8))

    return make


def shallow_cross(rng: Random) -> Cluster:
    """Two slits that cross at a small angle (they part by 0.05 mm within half a millimetre)."""
    w, h = rng.uniform(36, 56), rng.uniform(24, 36)
    middle, angle = complex(w / 2, h / 2), math.radians(rng.uniform(7, 20))
    base, reach = rng.uniform(-0.3, 0.3), w * 0.3
    cuts = tuple(
        polyline([middle - cmath.rect(reach, t), middle + cmath.rect(reach, t)])
        for t in (base, base + angle)
    )
    return (Piece("card", rectangle(0, 0, w, h), slits=cuts),)


def short_run(rng: Random) -> Cluster:
    """Two panels whose edges share less than 0.8 mm."""
    w, h, run = rng.uniform(12, 24), rng.uniform(12, 24), rng.uniform(0.3, 0.75)
    return Piece("panel", rectangle(0, 0, w, h)), Piece("panel", rectangle(w, h - run, w, h))


def rings_apart(draft: Draft) -> None:
    """A near miss: two circles of one centre 0.3 mm apart; the hair-thin hoop is undersize."""
    radius = draft.rng.uniform(6, 14)
    holes = (circle(0j, radius - 0.3),)
    (index,) = draft.add((Piece("hoop", circle(0j, radius), holes),))
    draft.expect("undersize-piece", draft.sheet.pieces[index].polygon)


def cut_and_score(draft: Draft) -> None:
    """A near miss: a fold and a cut in the same place."""
    index, ring = some_ring(
        draft, lambda r: isinstance(max(r, key=length), Line) and chain_length(r) > 60
    )
    if draft.look.clue in ("colour", "rows") or not draft.sheet.pieces[index].scores:
        raise NoPlaceError
    side = max(ring, key=length)
    draft.marks.append(Mark("score", index, [Sub((side,), False)], "path", folds=1))
    draft.counted = False


def end_to_end(rng: Random) -> Cluster:
    """A slit of two lines, one after the other."""
    w, h = rng.uniform(30, 44), rng.uniform(18, 30)
    a, b = complex(6, h / 2), complex(w - 6, h * 0.6)
    middle = a + (b - a) * rng.uniform(0.3, 0.7)
    return (
        Piece("card", rectangle(0, 0, w, h), slits=(polyline([a, middle]), polyline([middle, b]))),
    )


RECIPES = (
    *(
        Recipe("double-cut", f"near: {name}", False, close_pair(make), filled=False)
        for name, make in (
            ("parallel", parallel),
            ("close slits", close_slits),
            ("tangent", tangent(False)),
            ("tangent, wide", tangent(True)),
            ("shallow crossing", shallow_cross),
            ("short run", short_run),
            ("end to end", end_to_end),
        )
    ),
    Recipe("double-cut", "near: rings 0.3 apart", False, rings_apart, filled=False),
    Recipe("double-cut", "near: cut and score", False, cut_and_score),
)
