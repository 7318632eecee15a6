"""A score line runs past its piece, across a hole, or on the bare sheet.

What it finds
    Folds that go on where there is no card of theirs: past the outline, over a window, or on the
    bare sheet. A fold from edge to edge is fine, and so is one that crosses a slit or runs on into
    the neighbour over an edge that both share; a row of dashes is looked at as one fold. Where its
    outline is open or hidden, where nothing falls out at all, and of a line from one edge of the
    page to another, this rule keeps quiet.

Why it matters at the machine
    The blade scores on into the waste or into the piece beside it, lifts the edge that it crosses,
    and takes its time. On the bare sheet it is often a fold that was left behind by its piece.

How to put it right
    End the fold at the edge. Move a fold that lies beside its piece back, or delete it.

When to leave it
    When it is a sample in a key of lines, or a mark that you mean to be scored into the waste.

In a drawing
    Wrong: a fold of a curtain drawn 3 mm too long, so that it ends in the curtain beside it.
    Right: the fold begins and ends on the curtain's own edges.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from matready.lint.acts import Fix, Shorten
from matready.lint.cutting import Cutout
from matready.lint.cutting.strays import Stray, find_strays
from matready.lint.finding import Finding, Grade, Measured, Severity
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """The limit is the distance `hairline_mm`: see [distances]."""


def _message(strays: Sequence[Stray], past_mm: float, hairline_mm: float) -> str:
    count = len(strays)
    fold, verb = ("fold lines", "") if count > 1 else ("fold line", "s")
    if strays[0].piece < 0:
        be, it = ("lie", "they are") if count > 1 else ("lies", "it is")
        lines = "score lines" if count > 1 else "score line"
        return f"{count} {lines} {be} outside every piece: {it} scored into the bare sheet"
    upto = f"up to {past_mm:.1f} mm" if count > 1 else f"{past_mm:.1f} mm"
    limit = f"at most {hairline_mm:g} mm is left alone"
    if strays[0].in_hole:
        return f"{count} {fold} run{verb} across a hole for {upto} ({limit}): there is no card"
    return f"{count} {fold} run{verb} {upto} past the edge of this piece ({limit})"


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece and kind of stray, and one for all on the bare sheet."""
    hairline = cutout.distances.hairline_mm
    groups: dict[tuple[int, bool], list[Stray]] = defaultdict(list)
    for stray in find_strays(cutout):
        groups[stray.piece, stray.in_hole and stray.piece >= 0].append(stray)
    for (piece, _), strays in groups.items():
        worst = max(strays, key=lambda stray: stray.past_mm)
        lines = [line for stray in strays for line in cutout.folds[stray.fold].lines]
        stretches = tuple(each for stray in strays for each in stray.stretches)
        yield Finding(
            message=_message(strays, worst.past_mm, hairline),
            at=worst.at,
            box=cutout.box(lines),
            nodes=cutout.nodes(lines),
            piece=cutout.pieces[piece].name if piece >= 0 else None,
            measured=Measured(worst.past_mm, "mm", hairline),
            fix=Fix(Grade.RESHAPING, Shorten(stretches, on_cuts=False)) if piece >= 0 else None,
        )


RULE = Rule("stray-score", Severity.CAUTION, Limits, check, Grade.RESHAPING, yields_to=("off-mat",))
