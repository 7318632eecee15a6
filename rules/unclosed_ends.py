"""An outline comes back to where it began but is not closed.

What it finds
    A cut line whose two ends lie in one place, and which nothing closes: no Z at the end of its
    path, or a polyline in place of a polygon. By the standard it is still an open line (SVG 2,
    9.3.4). Slits, folds and outlines put together from several lines are fine.

Why it matters at the machine
    The cut itself comes out right. But a program that looks for closed outlines will not fill,
    offset or nest this one, and one that rounds its numbers pulls the two ends apart: then it is a
    gap.

How to put it right
    Close the path: join its two end points into one.

When to leave it
    When you only cut the file as it is and will not work on it further.

In a drawing
    Wrong: a panel's path "M20 20H80V80H20V20", which leads back to 20, 20 and just stops.
    Right: "M20 20H80V80H20Z": the same panel, closed; or a rect or polygon, which always is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint.acts import Fix, Seal
from matready.lint.cutting import Cutout
from matready.lint.cutting.unclosed import unclosed_lines
from matready.lint.finding import Finding, Grade, Measured, Severity
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """The limit is the distance `join_mm`, shared with other rules: see [distances]."""


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each such line of the file."""
    drawing = cutout.drawing
    found, apart = unclosed_lines(cutout)
    widest = dict(zip(found.tolist(), apart.tolist(), strict=True))
    drawn: dict[tuple[int, int], list[int]] = {}  # a use draws one line in several places
    for line in widest:
        element = drawing.nodes[int(drawing.line_node[line])].element
        first = drawing.nodes_of(element)[0]
        drawn.setdefault((first, int(drawing.geometry.subpath[line])), []).append(line)
    bounds = {line: piece.name for piece in cutout.pieces for line in piece.lines}
    for lot in drawn.values():
        x, y = drawing.geometry.points[drawing.geometry.offsets[lot[0]]].tolist()
        yield Finding(
            message="this outline comes back to its start but is not closed: programs take it for "
            "open",
            at=(x, y),
            box=cutout.box(lot),
            nodes=cutout.nodes(lot),
            piece=bounds.get(lot[0]),
            measured=Measured(max(widest[n] for n in lot), "mm", cutout.distances.join_mm),
            fix=Fix(Grade.SAFE, Seal(tuple(lot))),
        )


RULE = Rule("unclosed-ends", Severity.TIDY, Limits, check, Grade.SAFE)
