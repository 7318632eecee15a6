"""A piece, or the waste of a hole, is too narrow for the blade.

What it finds
    A piece of card, or the scrap that drops out of a hole, whose largest inscribed circle is
    smaller than the limit. A strip is as narrow as it is wide, however long. A drawing that is tiny
    altogether is left to wrong-scale.

Why it matters at the machine
    The blade turns on the spot at every corner and drags a small part along, so it lifts, folds
    over or jams under the blade. Slivers stay on the mat and spoil the next cut.

How to put it right
    Make the part larger or join it to its neighbour. For thin paper and a fine blade set smaller
    limits for the file.

When to leave it
    When you have cut such parts from this very paper before. Test-cut first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import shapely

from matready.lint import scale
from matready.lint.cutting import Cutout
from matready.lint.finding import Box, Finding, Measured, Severity, Unchecked
from matready.lint.rule import Limit, Rule

_GRID = 8  # places tried along each side before the exact circle is worked out
_STEP_MM = 0.005  # how exactly the circle is found


@dataclass(frozen=True, slots=True)
class Limits:
    """Diameters of the largest circle that fits inside; defaults for card stock."""

    piece_mm: Annotated[
        float,
        Limit(
            "mm",
            "smallest piece across",
            "common practice, no source; published knife-cutting services ask for 2 mm in vinyl",
        ),
    ] = 3.0
    hole_mm: Annotated[
        float,
        Limit("mm", "smallest waste of a hole across", "common practice, no source"),
    ] = 1.0


def _is_roomy(shape: shapely.Polygon, across: float) -> bool:
    """True when one of a grid of places is far enough from every edge; False tells nothing."""
    x0, y0, x1, y1 = shape.bounds
    if min(x1 - x0, y1 - y0) < across:
        return False
    steps = (np.arange(_GRID) + 0.5) / _GRID
    x, y = np.meshgrid(x0 + (x1 - x0) * steps, y0 + (y1 - y0) * steps)
    inside = shapely.contains_xy(shape, x.ravel(), y.ravel())
    points = shapely.points(x.ravel()[inside], y.ravel()[inside])
    return bool((shapely.distance(shape.boundary, points) >= across / 2).any())


def _across(
    shape: shapely.Polygon, limit: float, flatten: float
) -> tuple[float, float, float] | None:
    """Diameter and centre of the largest inscribed circle where it is under `limit` mm."""
    if _is_roomy(shape, limit):
        return None
    radius = shapely.maximum_inscribed_circle(shape, tolerance=_STEP_MM)
    diameter = 2 * float(shapely.length(radius))
    x, y = radius.coords[0]
    # Chords cut curves short and the search stops a step early: both make the circle look smaller.
    return (diameter, x, y) if diameter + 2 * (flatten + _STEP_MM) < limit else None


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding | Unchecked]:
    """One finding for each piece or hole that is too small."""
    doubt = scale.doubt_of(cutout)
    if doubt is not None:
        yield Unchecked(doubt)
        return
    for piece in cutout.pieces:
        parts = [(piece.card, piece.lines, limits.piece_mm, "this piece is")]
        parts += [
            (h.waste, h.lines, limits.hole_mm, "the scrap of this hole is") for h in piece.holes
        ]
        for shape, lines, limit, what in parts:
            found = _across(shape, limit, cutout.distances.flatten_mm)
            if found is None:
                continue
            diameter, x, y = found
            box: Box = shape.bounds
            yield Finding(
                message=f"{what} only {diameter:.2f} mm across at its widest "
                f"(at least {limit:g} mm): it will catch on the blade",
                at=(x, y),
                box=box,
                nodes=cutout.nodes(lines),
                piece=piece.name,
                measured=Measured(diameter, "mm", limit),
            )


RULE = Rule("undersize-piece", Severity.FAULT, Limits, check)
