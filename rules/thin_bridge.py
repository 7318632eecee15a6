"""Two cuts of one piece leave only a thin bridge of card between them.

What it finds
    A neck of card that is narrower than the limit and joins two parts of a piece, or closes a frame
    around a window: between an outline and a hole, two holes, two slits, or where the outline
    itself draws in. A point, a corner and a strip that ends free are no bridges.

Why it matters at the machine
    The blade drags the card along as it turns. A bridge about as wide as the card is thick tears
    off, or the part that hangs on it lifts under the blade.

How to put it right
    Move the two cuts apart, or make the bridge wider. Scale the drawing up where it is full of
    fine bars.

When to leave it
    When you have cut such bars from this very card before, with a fresh blade. Test-cut first.

In a drawing
    Wrong: two windows of a wall with a bar of 0.6 mm between them.
    Right: the windows stand 2 mm apart, or are one window.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.necks import Neck, necks_of
from matready.lint.finding import Finding, Measured, Severity, box_around
from matready.lint.repeats import told_once
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """How thin a bridge may be."""

    bridge_mm: Annotated[
        float,
        Limit(
            "mm",
            "narrowest bridge of card between two cuts",
            "common practice, no source; published knife-cutting services ask for 1.3 to 2 mm, "
            "and strokes of 0.46 mm were dragged off in a published test",
            stock="bridge_mm",
        ),
    ] = 1.0


def _message(necks: Sequence[Neck], limit: float) -> str:
    first = necks[0]
    if len(necks) > 1:
        return (
            f"this piece hangs together by {len(necks)} bridges under {limit:g} mm, the narrowest "
            f"{first.width_mm:.2f} mm wide: they tear as the blade passes"
        )
    long = f" over {first.length_mm:.1f} mm" if first.length_mm >= 1 else ""
    return (
        f"a bridge of this piece is only {first.width_mm:.2f} mm wide{long} "
        f"(at least {limit:g} mm): it tears as the blade passes"
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each piece with thin bridges, or one for all of many pieces."""
    limit = limits.bridge_mm
    found = []
    for piece, necks in necks_of(cutout, limit):
        box = box_around(neck.box for neck in necks)
        found.append(
            Finding(
                message=_message(necks, limit),
                at=necks[0].at,
                box=box,
                nodes=cutout.nodes((*piece.lines, *(n for h in piece.holes for n in h.lines))),
                piece=piece.name,
                measured=Measured(necks[0].width_mm, "mm", limit),
                rests_on=cutout.nodes(cutout.cuts_in(box)),
            )
        )
    found.sort(key=lambda finding: finding.measured.value if finding.measured else 0.0)
    narrowest = found[0].measured.value if found and found[0].measured else 0.0
    yield from told_once(
        found,
        lambda count: (
            f"{count} pieces hang together by bridges under {limit:g} mm, the narrowest "
            f"{narrowest:.2f} mm wide: they tear as the blade passes"
        ),
    )


RULE = Rule(
    "thin-bridge",
    Severity.CAUTION,
    Limits,
    check,
    yields_to=(
        "crossed-outline",
        "undersize-piece",
        "open-outline",
        "hairline-gap",
        "broken-path",
    ),
    needs_size=True,
)
