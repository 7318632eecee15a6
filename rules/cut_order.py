"""An outline is cut before the holes and scores inside it.

What it finds
    A piece whose outline stands in the file before lines that lie inside it: holes, or scores.
    Only separate elements count. Within one path the outline mostly comes first, as drawing
    programs write it, and machine programs sort those lines themselves.

Why it matters at the machine
    Lines are cut in the order in which they are drawn. Once its outline is cut the piece is held by
    the mat alone, and the blade that still works inside it may lift or shift it. Score first, then
    holes, then the outline: common practice, and published by makers of cutting machines.

How to put it right
    Move the outline to the end of its group, behind its scores and holes. Where it is filled, it
    would hide them then: take the fill off, or give cuts and scores a pass each.

When to leave it
    When your machine's program sorts the lines from the inside out, or has scores and cuts done one
    after the other anyway. The fix leaves an outline where the move would be seen: a filled one, or
    one that touches folds of another colour.

In a drawing
    Wrong: a group "wall" that holds the wall's outline, then its window, then its fold.
    Right: the same group with the fold first, then the window, and the outline last.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint.acts import Fix, PutBehind
from matready.lint.cutting import Cutout
from matready.lint.cutting.order import Late, Order
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """A line is drawn sooner or later than another: there is no limit to set."""


def _message(late: Late) -> str:
    counts = [(len(late.holes), "hole"), (len(late.folds), "score")]
    what = " and ".join(f"{count} {name}{'s' * (count > 1)}" for count, name in counts if count)
    many = len(late.holes) + len(late.folds) > 1
    return (
        f"this outline comes before {what} inside it: the piece is loose when "
        f"{'they are' if many else 'it is'} made and may shift"
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece that comes free too early."""
    points, offsets = cutout.drawing.geometry.points, cutout.drawing.geometry.offsets
    order = Order(cutout)
    for late in order.late():
        moves = order.moves(late)
        x, y = points[offsets[late.lines[0]]].tolist()
        yield Finding(
            message=_message(late),
            at=(x, y),
            box=late.piece.box,
            nodes=(late.last, *cutout.nodes(late.lines)),
            piece=late.piece.name,
            fix=Fix(Grade.SAFE, PutBehind(tuple(moves))) if moves else None,
        )


RULE = Rule(
    "cut-order",
    Severity.TIDY,
    Limits,
    check,
    Grade.SAFE,
    yields_to=("score-on-cut", "crossed-outline"),
)
