"""A piece, or the waste of a hole, is too narrow for the blade.

What it finds
    A piece of card, or the scrap that drops out of a hole, whose largest inscribed circle is
    smaller than the limit. A strip is as narrow as it is wide, however long; a slot, a hole that is
    at least four times as long as wide, may be narrower than others. A drawing that is tiny
    altogether is left to wrong-scale.

Why it matters at the machine
    The blade turns on the spot at every corner and drags a small part along, so it lifts, folds
    over or jams under the blade. Slivers stay on the mat and spoil the next cut.

How to put it right
    Make the part larger or join it to its neighbour. For thin paper and a fine blade set smaller
    limits for the file.

When to leave it
    When you have cut such parts from this very paper before, such as letters with strokes of 2 to
    3 mm, whose length does not help: a narrow stroke is dragged along wherever it bends. Test-cut
    first.

In a drawing
    Wrong: a footlight of 2 mm across, cut out of card on its own.
    Right: a footlight of 5 mm; or a row of them that hang together on one strip.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, NamedTuple

import shapely

from matready.lint.cutting import Cutout, Piece
from matready.lint.cutting.breadth import Breadth, narrow
from matready.lint.finding import Finding, Measured, Severity
from matready.lint.rule import Limit, Rule

# On two edges that are this many times as long as the slot is wide, the tip of the blade has come
# round long before the next corner: around a slot of 0.5 mm it runs 5 mm, while 3.1 mm, the way
# around a hole of 1 mm, is the least on which a tip that trails by 0.25 mm settles at all.
_SLOT_TIMES = 4.0


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
    slot_mm: Annotated[
        float,
        Limit(
            "mm",
            f"narrowest waste of a slot, a hole at least {_SLOT_TIMES:g} times as long as wide",
            "common practice, no source; published for laser-cut paper: as wide as it is thick",
            stock="slot_mm",
        ),
    ] = 0.5


class _Part(NamedTuple):
    """A piece's card or the waste of one of its holes, and what its breadth is held to."""

    piece: Piece
    shape: shapely.Polygon
    lines: tuple[int, ...]
    waste: bool

    def reach_mm(self, limits: Limits) -> float:
        """The largest limit that it may be held to."""
        return max(limits.hole_mm, limits.slot_mm) if self.waste else limits.piece_mm

    def held_to(self, breadth: Breadth, limits: Limits) -> tuple[str, float]:
        """What it is, for the message, and its limit in mm."""
        if not self.waste:
            return "this piece is", limits.piece_mm
        if breadth.times >= _SLOT_TIMES:
            return "the scrap of this slot is", limits.slot_mm
        return "the scrap of this hole is", limits.hole_mm


def _parts(cutout: Cutout) -> Iterator[_Part]:
    for piece in cutout.pieces:
        yield _Part(piece, piece.card, piece.lines, waste=False)
        for hole in piece.holes:
            yield _Part(piece, hole.waste, hole.lines, waste=True)


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece, hole or slot that is too small."""
    parts = list(_parts(cutout))
    reach = [part.reach_mm(limits) for part in parts]
    found = narrow([part.shape for part in parts], reach, cutout.distances.flatten_mm)
    for part, breadth in zip(parts, found, strict=True):
        if breadth is None:
            continue
        what, limit_mm = part.held_to(breadth, limits)
        if breadth.at_most_mm >= limit_mm:
            continue
        yield Finding(
            message=f"{what} only {breadth.across_mm:.2f} mm across at its widest "
            f"(at least {limit_mm:g} mm): it will catch on the blade",
            at=breadth.at,
            box=part.shape.bounds,
            nodes=cutout.nodes(part.lines),
            piece=part.piece.name,
            measured=Measured(breadth.across_mm, "mm", limit_mm),
        )


RULE = Rule(
    "undersize-piece",
    Severity.FAULT,
    Limits,
    check,
    yields_to=("crossed-outline",),
    needs_size=True,
)
