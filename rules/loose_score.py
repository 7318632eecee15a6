"""A score line is not grouped with the piece it lies in.

What it finds
    A piece with fold lines where a fold shares no group with the piece's outline. The group must
    hold that one piece: a layer, or a group of several pieces, does not keep a fold in place.

Why it matters at the machine
    Score lines are objects of their own on the layout page. Move, turn or copy the piece there and
    the folds stay behind: the card is scored in the wrong place, or not at all.

How to put it right
    Select the piece's outline, its holes and its folds together and group them, one group for each
    piece, before the file is saved.

When to leave it
    When the file is cut exactly as it lies, alone on its mat, and nothing is ever moved.

In a drawing
    Wrong: a wing's outline in one group, its fold in a layer with the folds of all other pieces.
    Right: one group named "wing" that holds the outline and the fold, and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from matready.lint.acts import Fix, Gather
from matready.lint.cutting import Cutout, Piece
from matready.lint.cutting.doubtful import is_guide
from matready.lint.cutting.grouping import holders_of, owners_in
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """This rule measures nothing: a fold is in the piece's group or it is not."""


def _loose_folds(cutout: Cutout, piece: Piece, holders: list[int]) -> list[int]:
    kept = set(holders)
    return [
        fold
        for fold in piece.folds
        if not is_guide(cutout, fold)
        and not cutout.mostly_on_cuts(cutout.folds[fold].lines)  # score-on-cut tells that
        and any(
            kept.isdisjoint(cutout.drawing.ancestors(node))
            for node in cutout.nodes(cutout.folds[fold].lines)
        )
    ]


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece with loose folds."""
    outlines = [cutout.nodes(piece.own) for piece in cutout.pieces]
    copies_of = cutout.copies()
    copies = [
        cutout.nodes(copy for line in piece.own for copy in copies_of.get(line, ()))
        for piece in cutout.pieces
    ]
    owners = owners_in(cutout)
    for number, piece in enumerate(cutout.pieces):
        if not piece.folds:
            continue
        # Where the whole piece is drawn twice, its copy keeps the copy's folds.
        holders = [
            holder
            for outline in (outlines[number], *((copy,) for copy in copies[number]))
            for holder in holders_of(cutout.drawing, owners, outline, piece.unit)
        ]
        loose = _loose_folds(cutout, piece, holders)
        if not loose:
            continue
        lines = [line for fold in loose for line in cutout.folds[fold].lines]
        samples = cutout.folds[loose[0]].samples
        here = samples[shapely.intersects_xy(piece.card, samples)]
        x, y = here[len(here) // 2].tolist()
        several = len(loose) > 1
        yield Finding(
            message=f"{len(loose)} fold line{'s' if several else ''} of this piece "
            f"{'are' if several else 'is'} not grouped with its outline: "
            f"move the piece and {'they stay' if several else 'it stays'} behind",
            at=(x, y),
            box=cutout.box(lines),
            nodes=(*cutout.nodes(lines), *outlines[number]),
            piece=piece.name,
            fix=Fix(Grade.SAFE, Gather(piece.unit)),
        )


# Where pieces lie over each other a fold may be in the group of the other one.
RULE = Rule(
    "loose-score", Severity.FAULT, Limits, check, Grade.SAFE, yields_to=("crossed-outline",)
)
