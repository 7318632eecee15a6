"""A fold line is dashed by styling only: the blade follows the whole line.

What it finds
    Score lines drawn as one line whose gaps are mere styling (stroke-dasharray, of their own, from
    a class or from a group). Folds drawn dash by dash are fine, and so are dashed lines that are
    only drawn. Where your machine presses scores in, or cuts them part of the way, say so with
    `scores = "scored"` under [read]: then this rule keeps quiet.

Why it matters at the machine
    The blade knows no styling. It cuts the fold through from end to end, and the card comes off in
    two parts where it was to bend.

How to put it right
    Draw each dash as a line of its own, or set these lines to be scored at the machine.

When to leave it
    When the machine is set to score these lines, and not to cut them.

In a drawing
    Wrong: a fold of the stage box, one line of 80 mm that is only shown dashed.
    Right: the same fold as twenty short lines of 3 mm, with 1 mm of card left between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from matready.lint.acts import Fix, Perforate
from matready.lint.cutting import Cutout
from matready.lint.cutting.dashstyle import Look, styled_lines
from matready.lint.cutting.folds import samples_of
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.rule import Rule

_NAMED = 3  # of more pieces only the number is told


@dataclass(frozen=True, slots=True)
class Limits:
    """This rule measures nothing: a dash is drawn as a line or it is only shown."""


def _pieces_of(cutout: Cutout, lines: Sequence[int]) -> list[str]:
    wanted = set(lines)
    return [
        piece.name
        for piece in cutout.pieces
        if any(not wanted.isdisjoint(cutout.folds[fold].lines) for fold in piece.folds)
    ]


def _message(cutout: Cutout, lines: Sequence[int], look: Look) -> str:
    several = len(lines) > 1
    what = f"{len(lines)} fold lines are" if several else "this fold line is"
    sizes = [f"{size:.2f}".rstrip("0").rstrip(".") for size in look.pattern]
    if sizes[: len(sizes) // 2] == sizes[len(sizes) // 2 :]:
        sizes = sizes[: len(sizes) // 2] if len(sizes) > 2 else sizes
    pieces = _pieces_of(cutout, lines)
    where = ""
    if several and 0 < len(pieces) <= _NAMED:
        where = f" in {', '.join(pieces)}"
    elif several and pieces:
        where = f" in {len(pieces)} pieces"
    return (
        f"{what} dashed by styling only (dashes and gaps of {', '.join(sizes)} mm){where}: "
        f"the blade follows {'each' if several else 'it'} from end to end and cuts the fold through"
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for all lines of one dash pattern, apart for those that no fix can help."""
    if not cutout.perforated:
        return
    folds = [k for piece in cutout.pieces for k in piece.folds]
    if not cutout.pieces:
        folds = list(range(len(cutout.folds)))  # an outline may be open yet
    held = {line for fold in folds for line in cutout.folds[fold].lines}
    for look, styled in styled_lines(cutout).items():
        lines = [line for line in styled if line in held]  # others, such as a key's, fold nothing
        if not lines:
            continue
        pieces = _pieces_of(cutout, lines)
        ((x, y),) = samples_of(cutout.drawing, np.array(lines[:1]), 1)[0].tolist()
        yield Finding(
            message=_message(cutout, lines, look),
            at=(x, y),
            box=cutout.box(lines),
            nodes=cutout.nodes(lines),
            piece=pieces[0] if len(pieces) == 1 else None,
            fix=Fix(Grade.SAFE, Perforate(tuple(lines))) if look.cuttable else None,
        )


RULE = Rule("dash-styled-line", Severity.FAULT, Limits, check, Grade.SAFE, gathers=True)
