"""A perforated fold tears where it should bend, or will not bend.

What it finds
    Folds drawn dash by dash of which more than 80 % is cut, or less than 50 %; ties (the card left
    between two dashes) under 0.5 mm; and places where a tie is missing: where the fold comes to an
    edge of its piece, and where it crosses another fold. A tie at a slanting edge is measured along
    the fold, and a third of it has to be left beside the dash. Where your machine presses scores
    in, say so with `scores = "scored"` under [read]: then this rule keeps quiet.

Why it matters at the machine
    Ties are all that holds the card together along a fold. With too little of them it tears, and
    it begins to tear at its open ends; with too much of them it buckles beside the fold.

How to put it right
    Cut 3 mm and leave 1 mm, begin and end with a tie at the edge, and let folds cross in a tie.

When to leave it
    When the line is a perforation to be torn off, or the card is so thin that it bends anywhere.

In a drawing
    Wrong: a fold of the stage box with dashes of 5 mm and ties of 1 mm, cut out to both edges.
    Right: dashes of 3 mm and ties of 1 mm, with a tie at each edge.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from matready.lint.acts import Fix, Redash
from matready.lint.cutting import Cutout
from matready.lint.cutting.perforation import Perforation, perforations
from matready.lint.finding import Finding, Grade, Measured, Severity
from matready.lint.rule import Limit, Rule

_ROUNDING = 0.002  # of a share, and of a tie in mm: numbers in files are rounded


@dataclass(frozen=True, slots=True)
class Limits:
    """How much of a fold may be cut, and how wide its ties are."""

    most_cut_share: Annotated[
        float,
        Limit(
            "share",
            "a fold of which more is cut tears",
            "cut to tie 4 to 1, the usual perforation of forms: line-printer manuals",
            stock="most_cut_share",
        ),
    ] = 0.80
    least_cut_share: Annotated[
        float,
        Limit(
            "share",
            "a fold of which less is cut does not bend",
            "common practice, no source",
            stock="least_cut_share",
        ),
    ] = 0.50
    tie_mm: Annotated[
        float,
        Limit(
            "mm",
            "a narrower tie tears",
            "ties of standard perforating rule, from 0.020 in: a rule maker's table",
            stock="tie_mm",
        ),
    ] = 0.5


def _percent(share: float) -> str:
    return f"{100 * share:.0f}\N{NO-BREAK SPACE}%"


def _wrong(rows: Sequence[Perforation], limits: Limits) -> tuple[list[str], Measured | None]:
    """What is wrong with the folds of a piece, in words, and the first thing that was measured."""
    words, measured = [], []
    shares = [row.cut_share for row in rows]
    its, most, least = (
        ("its", "", "only") if len(rows) == 1 else ("their", "up to ", "as little as")
    )
    if max(shares) > limits.most_cut_share + _ROUNDING:
        words.append(
            f"{most}{_percent(max(shares))} of {its} length is cut "
            f"(at most {_percent(limits.most_cut_share)})"
        )
        measured.append(Measured(max(shares), "share", limits.most_cut_share))
    if min(shares) < limits.least_cut_share - _ROUNDING:
        words.append(
            f"{least} {_percent(min(shares))} of {its} length is cut "
            f"(at least {_percent(limits.least_cut_share)})"
        )
        measured.append(Measured(min(shares), "share", limits.least_cut_share))
    tie = min(row.tie_mm for row in rows)
    if tie < limits.tie_mm - _ROUNDING:
        words.append(f"a tie is {tie:.2f} mm wide (at least {limits.tie_mm:g} mm)")
        measured.append(Measured(tie, "mm", limits.tie_mm))
    for places, where in (("at_edge", "at an edge of the piece"), ("crossing", "at a crossing")):
        count = sum(len(getattr(row, places)) for row in rows)
        if count:
            words.append(f"no tie of {limits.tie_mm:g} mm is left {where} ({count}×)")
    return words, measured[0] if measured else None


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece with folds that will not fold well."""
    if not cutout.perforated:
        return
    by_piece: dict[int, list[Perforation]] = defaultdict(list)
    for row in perforations(cutout, limits.tie_mm):
        if _wrong([row], limits)[0]:
            by_piece[row.piece].append(row)
    for piece, rows in by_piece.items():
        words, measured = _wrong(rows, limits)
        lines = [line for row in rows for line in cutout.folds[row.fold].lines]
        spots = np.vstack([*(row.crossing for row in rows), *(row.at_edge for row in rows)])
        x, y = spots[0] if len(spots) else cutout.folds[rows[0].fold].samples[0]
        several = f"{len(rows)} perforated folds" if len(rows) > 1 else "a perforated fold"
        straight = all(row.line is not None for row in rows)
        yield Finding(
            message=f"{several} of this piece will not fold well: {', '.join(words)}",
            at=(float(x), float(y)),
            box=cutout.box(lines),
            nodes=cutout.nodes(lines),
            piece=cutout.pieces[piece].name,
            measured=measured,
            fix=Fix(Grade.RESHAPING, Redash(tuple(row.fold for row in rows))) if straight else None,
            # An edge that only comes of pieces over each other is no edge to leave a tie at.
            rests_on=() if measured else cutout.nodes(cutout.pieces[piece].lines),
        )


RULE = Rule(
    "weak-fold",
    Severity.CAUTION,
    Limits,
    check,
    Grade.RESHAPING,
    yields_to=("crossed-outline",),
    needs_size=True,
)
