"""A score line runs along a cut line.

What it finds
    A stretch of a score that lies in the same place as a cut: a fold drawn once more on the edge of
    its piece, on a slit, or on the edge of a window. Dashes count by what of them lies there. A
    fold that ends on a cut or crosses one is fine.

Why it matters at the machine
    Where the card is cut there is nothing left to fold. The blade goes over that edge twice and
    tears it, and a flap that was to bend there comes off.

How to put it right
    Delete the score where it lies on the cut; or delete the cut, if the card is to bend there.

When to leave it
    Never: one of the two is too many.

In a drawing
    Wrong: the side of a wing drawn as its outline, and once more dashed on top of it.
    Right: the outline alone; the dashed line stays where the wing is to bend, inside the card.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from matready.lint.acts import Fix, Shorten
from matready.lint.cutting import Cutout
from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.doubtful import believed
from matready.lint.finding import Finding, Grade, Measured, Severity
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """How near counts as the same place is the distance `same_place_mm`: see [distances]."""

    overlap_mm: Annotated[
        float,
        Limit(
            "mm",
            "a fold that lies on cuts for no longer than this is left alone",
            "common practice, no source",
        ),
    ] = 1.0


Stretch = tuple[int, float, float]


def _groups(cutout: Cutout, overlap_mm: float) -> dict[str | None, list[tuple[Stretch, int]]]:
    """Stretches with the cut lines that they lie on, by the piece that these run around."""
    owner = {fold: piece.name for piece in cutout.pieces for fold in piece.folds}
    runs_of = {}
    for number, fold in enumerate(cutout.folds):
        runs = [
            ((line, run.start, run.end), run.other)
            for line in fold.lines
            for run in cutout.on_cuts.get(line, ())
        ]
        if sum(end - start for (_, start, end), _ in runs) > overlap_mm:
            runs_of[number] = runs
    groups: dict[str | None, list[tuple[Stretch, int]]] = {}
    for number in believed(cutout, runs_of):
        runs = runs_of[number]
        piece = cutout.piece_along(other for _, other in runs) or owner.get(number)
        groups.setdefault(piece, []).extend(runs)
    return groups


def _finding(
    cutout: Cutout, piece: str | None, runs: Sequence[tuple[Stretch, int]], limits: Limits
) -> Finding:
    stretches = [stretch for stretch, _ in runs]
    lines = list(dict.fromkeys(line for line, _, _ in stretches))
    blade = blade_of(cutout.drawing, np.array(lines))
    row = {line: k for k, line in enumerate(lines)}
    points = np.vstack([blade.part(row[line], a, b) for line, a, b in stretches])
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    line, a, b = max(stretches, key=lambda stretch: stretch[2] - stretch[1])
    ((x, y),) = blade.locate(np.array([row[line]]), np.array([(a + b) / 2])).tolist()
    length = sum(end - start for _, start, end in stretches)
    return Finding(
        message=f"a score runs along a cut for {length:.1f} mm in all: "
        "the card is cut off there, so that nothing is left to fold",
        at=(x, y),
        box=(x0, y0, x1, y1),
        nodes=cutout.nodes([*lines, *(other for _, other in runs)]),
        piece=piece,
        measured=Measured(length, "mm", limits.overlap_mm),
        fix=Fix(Grade.SAFE, Shorten(tuple(stretches), on_cuts=True)),
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece on whose edges scores lie."""
    if cutout.on_cuts:
        for piece, runs in _groups(cutout, limits.overlap_mm).items():
            yield _finding(cutout, piece, runs, limits)


RULE = Rule("score-on-cut", Severity.FAULT, Limits, check, Grade.SAFE)
