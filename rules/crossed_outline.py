"""An outline crosses itself, or another cut line crosses it.

What it finds
    A closed outline that crosses itself or another outline, a window that runs out over the edge of
    its piece, and an open cut line that runs from inside an outline to the outside. Touching lines,
    shared edges, grids of open lines and lines drawn a little past an edge are fine, and so is a
    narrow slot that is drawn a little past the edge.

Why it matters at the machine
    The blade follows every line to its end. Where outlines cross, it cuts both pieces apart: the
    part that they share falls out by itself, and a frame is open where its window crosses the edge.

How to put it right
    Move the pieces apart, or merge the outlines into one where they are meant to be one piece. Draw
    a slit only as far as the edge.

When to leave it
    When the parts are meant to fall out one by one, as in an ornament of overlapping rings.

In a drawing
    Wrong: a window drawn 1.5 mm out over the edge of its wall.
    Right: the window ends 5 mm inside the wall, or is part of its outline as a notch.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.crossings import Crossing, find_crossings
from matready.lint.finding import Finding, Severity
from matready.lint.repeats import told_once
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a line may run on."""

    overrun_mm: Annotated[
        float,
        Limit(
            "mm",
            "how far an open line or a narrow slot may be drawn past an outline",
            "common practice, no source: the habit of drawing lines past a corner",
        ),
    ] = 3.0


def _message(crossing: Crossing) -> str:
    times = "once" if crossing.count == 1 else f"{crossing.count} times"
    if crossing.kind == "itself":
        return "this outline crosses itself: the blade cuts the piece apart where it does"
    if crossing.kind == "opening":
        return (
            "an opening runs out over the edge of its piece, by a strip "
            f"{crossing.depth_mm:.2f} mm wide: the piece is cut open there"
        )
    if crossing.kind == "line":
        return (
            f"an open cut line crosses outlines {times} and goes on inside for up to "
            f"{crossing.depth_mm:.1f} mm: the blade cuts into a piece from outside"
        )
    return (
        f"two outlines cross {times} and share a part {crossing.depth_mm:.2f} mm wide: "
        "the blade cuts both pieces apart"
    )


def _together(count: int) -> str:
    return f"{count} times an outline crosses itself or another cut line: the blade cuts them apart"


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each pair of lines that cross, or one for all of many."""
    found = [
        Finding(
            message=_message(crossing),
            at=crossing.at,
            box=crossing.box,
            nodes=cutout.nodes(crossing.lines),
            piece=cutout.piece_along(crossing.lines),
        )
        for crossing in find_crossings(cutout, limits.overrun_mm)
    ]
    yield from told_once(found, _together)


# An open line that ends outside is told there; here it is told where it ends in other pieces.
RULE = Rule("crossed-outline", Severity.FAULT, Limits, check, yields_to=("open-outline",))
