"""A cut line that should enclose something stays open.

What it finds
    A cut line outside every piece that ends farther from any other cut line than a hairline. A
    slit, with both ends inside one piece or running in from its edge, is fine; so is a cut across
    the whole page, and a line drawn a little past a corner.

Why it matters at the machine
    The blade lifts where the line ends. The piece stays attached to the sheet there and tears when
    it is weeded, and many programs will not fill or offset an open outline at all.

How to put it right
    Join the two ends, or draw the missing side, and close the path.

When to leave it
    When the sheet is only to be slit there, and nothing should fall out; or when the gap is a
    hold-in tie that you mean to cut by hand.

In a drawing
    Wrong: a puppet drawn from its foot all the way round, that ends 3 mm beside where it began.
    Right: the line comes back to the point where it began, and the path ends there with a Z.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint.acts import Close, Fix
from matready.lint.cutting import Cutout
from matready.lint.finding import Finding, Grade, Measured, Severity
from matready.lint.rule import Rule

_STRAIGHT = 0.95  # ends this far apart, as a share of the way along the line: nothing to close


@dataclass(frozen=True, slots=True)
class Limits:
    """The limit is the distance `hairline_mm`, shared with hairline-gap: see [distances]."""


def _message(width: float, length: float, hairline: float) -> str:
    if width == 0.0:
        return "a cut line ends here without meeting another: nothing is cut out"
    if width > _STRAIGHT * length:
        return f"this cut line of {length:.1f} mm meets no other: nothing is cut out"
    return (
        f"the outline is open: its ends are {width:.2f} mm apart "
        f"(more than {hairline:g} mm), so the piece stays attached there"
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each opening."""
    hairline = cutout.distances.hairline_mm
    for opening in cutout.openings:
        (x0, y0), (x1, y1) = opening.ends.tolist()
        length = sum(cutout.length(line) for line in opening.lines)
        closable = 0.0 < opening.width <= _STRAIGHT * length
        yield Finding(
            message=_message(opening.width, length, hairline),
            at=((x0 + x1) / 2, (y0 + y1) / 2),
            box=(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)),
            nodes=cutout.nodes(opening.lines),
            piece=cutout.piece_along(opening.lines),
            measured=Measured(opening.width, "mm", hairline) if opening.width else None,
            fix=Fix(Grade.RESHAPING, Close(opening)) if closable else None,
        )


RULE = Rule(
    "open-outline", Severity.FAULT, Limits, check, Grade.RESHAPING, yields_to=("broken-path",)
)
