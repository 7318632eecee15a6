"""An outline turns back in a point that is too sharp for a drag blade.

What it finds
    A point of card, on an outline or between holes, that is sharper than the limit, and one that
    ends in a bend of a smaller radius than the blade's offset. Square ends of tabs are fine, and so
    are the points of a star. The root of a notch and the point of a hole are no matter of this
    rule: what is sharp there is waste.

Why it matters at the machine
    The tip of a drag blade trails its axis by the offset, and in such a turn it swings round. A
    point of card is too narrow to resist: it curls up, tears off or comes out blunt. At the root
    of a notch the card all around the blade holds.

How to put it right
    Blunt the point or round the bend, by half a millimetre or more.

When to leave it
    When a ragged point does not show. Thin paper takes sharper points than card.

In a drawing
    Wrong: a wing that runs out in a point of 12 degrees.
    Right: the point is cut off where the wing is still half a millimetre wide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.tips import Tip, find_tips
from matready.lint.finding import Finding, Measured, Severity
from matready.lint.repeats import told_once
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """How sharply an edge may turn."""

    tip_deg: Annotated[
        float, Limit("degrees", "sharpest point of card", "common practice, no source")
    ] = 20.0
    radius_mm: Annotated[
        float,
        Limit(
            "mm",
            "smallest radius of a point's end",
            "the usual offset of a drag blade, common practice; blade makers name 0.175 to 1 mm",
        ),
    ] = 0.25


def _message(tips: Sequence[Tip], limits: Limits) -> str:
    first = tips[0]
    if len(tips) > 1:
        sharpest = f", the sharpest of {first.angle_deg:.1f} degrees" if first.sharp else ""
        return (
            f"this outline turns back in {len(tips)} tips{sharpest} "
            f"(at least {limits.tip_deg:g}): the card curls or tears there"
        )
    if first.sharp:
        return (
            f"this outline has a point of {first.angle_deg:.1f} degrees "
            f"(at least {limits.tip_deg:g}): the tip curls or tears as the blade turns"
        )
    return (
        f"this outline turns back in a bend of less than {limits.radius_mm:g} mm radius: "
        "the blade can't follow it"
    )


def _finding(
    cutout: Cutout, lines: tuple[int, ...], tips: Sequence[Tip], limits: Limits
) -> Finding:
    xs, ys = zip(*(tip.at for tip in tips), strict=True)
    first = tips[0]
    return Finding(
        message=_message(tips, limits),
        at=first.at,
        box=(min(xs), min(ys), max(xs), max(ys)),
        nodes=cutout.nodes(lines),
        piece=cutout.piece_along(lines),
        measured=Measured(first.angle_deg, "degrees", limits.tip_deg) if first.sharp else None,
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each outline with tips, or one for all of many outlines."""
    found = []
    for outline, tips in find_tips(cutout, limits.tip_deg, limits.radius_mm):
        ordered = sorted(tips, key=lambda tip: (not tip.sharp, tip.angle_deg))
        lines = tuple(cutout.blade.source[list(outline.lines)].tolist())
        found.append(_finding(cutout, lines, ordered, limits))
    yield from told_once(
        found,
        lambda count: (
            f"{count} outlines turn back in tips sharper than {limits.tip_deg:g} degrees "
            f"or in bends under {limits.radius_mm:g} mm radius: the card curls or tears there"
        ),
    )


RULE = Rule(
    "sharp-tip",
    Severity.TIDY,
    Limits,
    check,
    yields_to=("undersize-piece", "crossed-outline"),
    needs_size=True,
)
