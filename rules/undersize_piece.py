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

In a drawing
    Wrong: a footlight of 2 mm across, cut out of card on its own.
    Right: a footlight of 5 mm; or a row of them that hang together on one strip.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, NamedTuple

import numpy as np
import shapely

from matready.lint.cutting import Cutout, Piece
from matready.lint.drawing import Bools
from matready.lint.finding import Box, Finding, Measured, Severity
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
            stock="piece_mm",
        ),
    ] = 3.0
    hole_mm: Annotated[
        float,
        Limit(
            "mm", "smallest waste of a hole across", "common practice, no source", stock="hole_mm"
        ),
    ] = 1.0


class _Part(NamedTuple):
    """A piece's card or the waste of one of its holes, and how wide it has to be."""

    piece: Piece
    shape: shapely.Polygon
    lines: tuple[int, ...]
    limit: float
    what: str


def _parts(cutout: Cutout, limits: Limits) -> Iterator[_Part]:
    for piece in cutout.pieces:
        yield _Part(piece, piece.card, piece.lines, limits.piece_mm, "this piece is")
        for hole in piece.holes:
            what = "the scrap of this hole is"
            yield _Part(piece, hole.waste, hole.lines, limits.hole_mm, what)


def _surely_wide(parts: list[_Part]) -> Bools:
    """Parts that need no closer look: without holes, and with a large area for their outline.

    The inradius of a region without holes is at least its area over its perimeter: R. Osserman,
    "Bonnesen-style isoperimetric inequalities", Amer. Math. Monthly 86 (1979); from memory.
    """
    shapes = np.array([part.shape for part in parts])
    limit = np.array([part.limit for part in parts])
    whole = shapely.get_num_interior_rings(shapes) == 0
    return np.asarray(whole & (2 * shapely.area(shapes) >= limit * shapely.length(shapes)))


def _is_roomy(shape: shapely.Polygon, across: float) -> bool:
    """True when one of a grid of places is far enough from every edge; False tells nothing."""
    x0, y0, x1, y1 = shape.bounds
    if min(x1 - x0, y1 - y0) < across:
        return False
    steps = (np.arange(_GRID) + 0.5) / _GRID
    x, y = np.repeat(x0 + (x1 - x0) * steps, _GRID), np.tile(y0 + (y1 - y0) * steps, _GRID)
    points = shapely.points(x, y)[shapely.contains_xy(shape, x, y)]
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


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece or hole that is too small."""
    parts = list(_parts(cutout, limits))
    if not parts:
        return
    wide = _surely_wide(parts).tolist()
    for part, sure in zip(parts, wide, strict=True):
        found = None if sure else _across(part.shape, part.limit, cutout.distances.flatten_mm)
        if found is None:
            continue
        diameter, x, y = found
        box: Box = part.shape.bounds
        yield Finding(
            message=f"{part.what} only {diameter:.2f} mm across at its widest "
            f"(at least {part.limit:g} mm): it will catch on the blade",
            at=(x, y),
            box=box,
            nodes=cutout.nodes(part.lines),
            piece=part.piece.name,
            measured=Measured(diameter, "mm", part.limit),
        )


RULE = Rule(
    "undersize-piece",
    Severity.FAULT,
    Limits,
    check,
    yields_to=("crossed-outline",),
    needs_size=True,
)
