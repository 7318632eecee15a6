"""A line has far more points than its shape needs.

What it finds
    A cut or score line of many short straight steps, such as a traced or converted curve, of which
    most could go without the line moving by more than two steps of a plotter. A curve drawn as a
    curve counts once, however finely a machine follows it; a line full of real detail keeps it.

Why it matters at the machine
    At each point the blade slows down, or turns. Steps shorter than the blade's offset leave it no
    way to swing round: it stutters, the edge gets rough, and large files may be refused. Cutting
    services ask for as few points as possible.

How to put it right
    Simplify the path, or draw the curve as a curve. Points where other lines meet this one must
    stay where they are.

When to leave it
    When the roughness is meant, such as grass along the foot of a hill.

In a drawing
    Wrong: a footlight of 20 mm across as a polygon of 600 points, a tenth of a millimetre apart.
    Right: the same footlight as a circle, or as a polygon of 45 points: no eye sees a corner.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from matready.lint.acts import Fix, Thin
from matready.lint.cutting import Cutout
from matready.lint.cutting.points import crowded_lines
from matready.lint.finding import Finding, Grade, Measured, Severity
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """A line must be past all three to count."""

    points_count: Annotated[
        float,
        Limit("count", "lines of no more points are fine", "common practice, no source"),
    ] = 100
    step_mm: Annotated[
        float,
        Limit(
            "mm",
            "lines are fine where half the points are this far apart",
            "the usual offset of a drag blade, published by blade makers as 0.175 to 1 mm",
        ),
    ] = 0.25
    spare_share: Annotated[
        float,
        Limit("share", "this share of points may be spare", "common practice, no source"),
    ] = 0.75


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each such line of the file."""
    drawing, near = cutout.drawing, cutout.distances.same_place_mm
    crowded = crowded_lines(cutout, limits.points_count, limits.step_mm, limits.spare_share)
    for found in crowded:
        line = found.lines[0]
        x, y = drawing.geometry.points[drawing.geometry.offsets[line]].tolist()
        fix = Fix(Grade.SAFE, Thin(line)) if found.straight and len(found.lines) == 1 else None
        yield Finding(
            message=f"this line has {found.count} points, mostly {found.step_mm:.2f} mm apart, "
            f"where {found.needed} would do within {near:g} mm: the blade stutters",
            at=(x, y),
            box=cutout.box(found.lines),
            nodes=cutout.nodes(found.lines),
            piece=cutout.piece_along(found.lines),
            measured=Measured(found.step_mm, "mm", limits.step_mm),
            fix=fix,
        )


RULE = Rule("too-many-points", Severity.CAUTION, Limits, check, Grade.SAFE, gathers=True)
