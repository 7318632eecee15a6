"""Two pieces lie so near each other that the strip of card between them tears.

What it finds
    Two pieces, or a piece and the edge of a hole that it lies in, that are nearer than the limit
    and do not share an edge.

Why it matters at the machine
    The strip between two cuts has nothing to hold it. It lifts under the blade, tears, and takes
    the edge of a finished piece along.

How to put it right
    Move the pieces apart, or let them share one cut.

When to leave it
    When the strip is wanted, and you have cut as narrow a one from this card before.

In a drawing
    Wrong: five flags of a bunting laid out 1 mm from each other.
    Right: the flags lie 3 mm apart, or each shares its edge with the next.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import numpy.typing as npt
import shapely

from matready.lint.cutting import Cutout
from matready.lint.drawing import Bools
from matready.lint.finding import Finding, Measured, Severity
from matready.lint.repeats import told_once
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """How near two pieces may lie."""

    apart_mm: Annotated[
        float,
        Limit(
            "mm",
            "least room between two pieces",
            "published knife-cutting services ask for 2 mm between cuts on a sheet",
        ),
    ] = 2.0


def _pairs(cutout: Cutout, apart_mm: float) -> list[tuple[float, int, int]]:
    """Pairs of pieces nearer than a distance, with that distance, the nearest pair first.

    Edges in the same place to the blade are one cut, and pieces that share a cut are one unit.
    """
    cards = np.array([piece.card for piece in cutout.pieces])
    unit = np.array([piece.unit for piece in cutout.pieces])
    if len(cards) < 2:
        return []
    one, other = shapely.STRtree(cards).query(cards, "dwithin", distance=apart_mm)
    apart = (one < other) & (unit[one] != unit[other])
    one, other = one[apart], other[apart]
    away = shapely.distance(cards[one], cards[other])
    # Chords cut curves short, which makes pieces look farther apart than they are, never nearer.
    keep = (away > 2 * cutout.distances.same_place_mm) & (np.round(away, 2) < apart_mm)
    maybe = _maybe_holes(cutout, cards)
    keep &= ~(maybe[one] & maybe[other])
    rows = zip(away[keep].tolist(), one[keep].tolist(), other[keep].tolist(), strict=True)
    return sorted(rows)


def _maybe_holes(cutout: Cutout, cards: npt.NDArray[np.object_]) -> Bools:
    """Pieces that lie within the box of an open outline: once that is closed they are its holes."""
    boxes = [shapely.box(*cutout.box(o.lines)) for o in (*cutout.openings, *cutout.gaps)]
    inside = np.zeros(len(cards), bool)
    if boxes:
        inside[shapely.STRtree(boxes).query(cards, "covered_by")[0]] = True
    return inside


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each pair of pieces, or one for all of many."""
    found = []
    for away, one, other in _pairs(cutout, limits.apart_mm):
        first, second = cutout.pieces[one], cutout.pieces[other]
        ends = shapely.get_coordinates(shapely.shortest_line(first.card, second.card))
        (x0, y0), (x1, y1) = ends.tolist()
        found.append(
            Finding(
                message=f"this piece lies only {away:.2f} mm from {second.name} "
                f"(at least {limits.apart_mm:g} mm): the strip between them tears",
                at=((x0 + x1) / 2, (y0 + y1) / 2),
                box=(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)),
                nodes=cutout.nodes((*first.own, *second.own)),
                piece=first.name,
                measured=Measured(away, "mm", limits.apart_mm),
            )
        )
    nearest = found[0].measured.value if found and found[0].measured else 0.0
    yield from told_once(
        found,
        lambda count: (
            f"{count} pairs of pieces lie nearer to each other than {limits.apart_mm:g} "
            f"mm, the nearest {nearest:.2f} mm: the strips between them tear"
        ),
    )


RULE = Rule(
    "crowded-cuts",
    Severity.CAUTION,
    Limits,
    check,
    yields_to=("double-cut", "undersize-piece"),
    needs_size=True,
)
