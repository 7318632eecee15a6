"""Two cut ends that should meet stop a hair short of each other.

What it finds
    Ends of cut lines that are farther apart than one plotter step, and no farther than a gap could
    be meant: between `join_mm` and `hairline_mm`; and an end that stops so short of the middle of
    a line that it heads for. A drawing that is tiny altogether is left to wrong-scale.

Why it matters at the machine
    A thread of card is left uncut. The piece hangs on it, and the corner tears or frays when it is
    pulled out. On screen the gap is too small to be seen.

How to put it right
    Zoom in, select both end points and join them.

When to leave it
    When the gap is a hold-in tie that you mean to cut by hand: make it wider, so that it shows.

In a drawing
    Wrong: the four sides of a window drawn as four lines, one of which stops 0.1 mm before its
           corner.
    Right: the line ends on the very point where the next one begins, so the four are one outline.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint import scale
from matready.lint.acts import Fix, Join
from matready.lint.cutting import Cutout
from matready.lint.finding import Finding, Grade, Measured, Severity, Unchecked
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits are the distances `join_mm` and `hairline_mm`, shared: see [distances]."""


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding | Unchecked]:
    """One finding for each gap."""
    doubt = scale.tiny_doubt(cutout)
    if doubt is not None and cutout.gaps:
        yield Unchecked(doubt)
        return
    join = cutout.distances.join_mm
    for gap in cutout.gaps:
        (x0, y0), (x1, y1) = gap.ends.tolist()
        yield Finding(
            message=f"two cut ends stop {gap.width:.2f} mm short of each other "
            f"(at most {join:g} mm joins them): a thread of card holds the piece there",
            at=((x0 + x1) / 2, (y0 + y1) / 2),
            box=(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)),
            nodes=cutout.nodes(gap.lines),
            piece=cutout.piece_along(gap.lines),
            measured=Measured(gap.width, "mm", join),
            fix=Fix(Grade.SAFE, Join(gap)),
        )


RULE = Rule("hairline-gap", Severity.FAULT, Limits, check, Grade.SAFE, yields_to=("broken-path",))
