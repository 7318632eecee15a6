"""Cuts that may end freely, and outlines whose ends meet though nothing says so."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from random import Random

from tests.planting.draft import Draft, NoPlaceError, Recipe
from tests.planting.marks import Mark, Sub
from tests.planting.pieces import Piece, rectangle
from tests.planting.sheets import Cluster
from tests.planting.strokes import Arc, Chain, Line, arc_between, circle, polyline, straight


def slits(kind: str) -> Callable[[Draft], None]:
    """A near miss: a piece with cuts that end freely inside it."""

    def plant(draft: Draft) -> None:
        draft.add(slit_host(kind, draft.rng))

    return plant


def slit_host(kind: str, rng: Random) -> Cluster:
    """A card or disc with slits, far from its edge unless they run in from there."""
    w, h = rng.uniform(36, 60), rng.uniform(30, 50)
    middle = complex(w / 2, h / 2) + complex(rng.uniform(-3, 3), rng.uniform(-3, 3))
    round_ = rng.random() < 0.3 and kind not in ("edge", "to a hole")
    outer = circle(middle, min(w, h) / 2) if round_ else rectangle(0, 0, w, h)
    reach = cmath.rect(rng.uniform(3, 9), rng.uniform(0, math.pi))
    cuts: list[Chain] = []
    if kind == "inside":
        bow = arc_between(middle - reach, middle + reach, abs(reach) * 0.4)
        cuts.append((bow,) if rng.random() < 0.5 else polyline([middle - reach, middle + reach]))
        if rng.random() < 0.4:
            aside = reach * 1j / abs(reach) * 3
            cuts.append(polyline([middle - reach + aside, middle + reach + aside]))
    elif kind == "edge":
        at = rng.uniform(8, w - 8)
        cuts.append(polyline([complex(at, 0), complex(at + rng.uniform(-3, 3), h * 0.4)]))
        if rng.random() < 0.5:
            end = complex(w * 0.6, h * 0.7)
            cuts.append((arc_between(complex(w, h * 0.7), end, rng.choice([2.0, -2.0])),))
    elif kind == "cross":
        turn = cmath.rect(1, rng.uniform(0.5, 2.5))
        cuts = [polyline([middle - z, middle + z]) for z in (reach, reach * turn)]
    elif kind == "flap":
        a, b = 7 * reach / abs(reach), 5j * reach / abs(reach)
        corners = [middle - a - b, middle - a + b, middle + a + b, middle + a - b]
        cuts.append(polyline(corners))
    elif kind == "to a hole":
        hole = rectangle(w * 0.3, h * 0.3, w * 0.2, h * 0.2)
        top, down = complex(w * 0.4, 0), complex(w * 0.4, h * 0.3)
        return (Piece("card", outer, (hole,), slits=(polyline([top, down]),)),)
    else:  # a rounded flap, three quarters of a circle
        cuts.append((Arc(middle, rng.uniform(3.5, 8), rng.uniform(0, 6), rng.uniform(3.2, 4.7)),))
    return (Piece("card", outer, slits=tuple(cuts)),)


def sloppy(draft: Draft) -> None:
    """A near miss: an outline of separate lines, each end up to 0.007 mm off its corner."""
    rng = draft.rng
    able = [
        i
        for i, piece in enumerate(draft.sheet.pieces)
        if piece.drawn is None and not piece.slits and not piece.holes and straight(piece.outer)
    ]
    if not able:
        raise NoPlaceError
    index = rng.choice(able)
    draft.forget_cuts(index)

    def off(z: complex) -> complex:
        return z + cmath.rect(0.007 * rng.random(), rng.uniform(0, 2 * math.pi))

    for side in draft.sheet.pieces[index].outer:
        line = Line(off(side.start), off(side.end))
        draft.marks.append(Mark("cut", index, [Sub((line,), False)], "line"))


SLITS = ("inside", "edge", "cross", "flap", "round flap", "to a hole")

RECIPES = (
    *(
        Recipe("open-outline", f"near: slit {kind}", False, slits(kind), filled=False)
        for kind in SLITS
    ),
    Recipe(
        "open-outline",
        "near: no z, ends meet",
        False,
        lambda draft: None,
        outlines=("unclosed",),
        filled=False,
    ),
    Recipe("hairline-gap", "near: sloppy joints", False, sloppy, filled=False),
)
