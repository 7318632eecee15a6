"""A line is drawn so thick that it hides where the blade will run.

What it finds
    Cut and score lines whose stroke is wider on the page than the limit, whatever they are filled
    with.

Why it matters at the machine
    The blade follows the middle of a stroke. What is seen reaches half the stroke farther out on
    either side, so pieces come out smaller than they look, gaps are hidden and parts that seem to
    join lie apart. Some programs trace both sides of a thick line and cut it twice.

How to put it right
    Set the stroke to a hairline, about 0.1 mm, and look at the drawing again. Where the thick line
    itself is to be cut out, turn the stroke into an outline.

When to leave it
    When the drawing was checked by its outlines alone.

In a drawing
    Wrong: a pole drawn as one line with a stroke of 4 mm.
    Right: the pole is drawn as a closed outline 4 mm wide, with a stroke of 0.1 mm.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import CUT, SCORE
from matready.lint.drawing import Node
from matready.lint.finding import Finding, Measured, Severity
from matready.lint.reading.units import MM_PER_PX
from matready.lint.repeats import told_once
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """How thick a line may be drawn."""

    stroke_mm: Annotated[
        float,
        Limit(
            "mm",
            "widest stroke of a line that is cut or scored",
            "common practice, no source; published guides ask for hairlines up to 0.2 mm",
        ),
    ] = 1.0


def _keeps_its_width(node: Node) -> bool:
    """True for a stroke that no transform scales (SVG 2, 8.11: non-scaling-stroke)."""
    text = f"{node.element.get('vector-effect', '')};{node.element.get('style', '')}"
    return "non-scaling-stroke" in text


def _width_mm(node: Node) -> float:
    """The stroke's width on the page, the mean of both directions where they are scaled apart."""
    if node.style.stroke == "none":
        return 0.0
    if _keeps_its_width(node):
        return node.style.stroke_width * MM_PER_PX
    a, b, c, d, _, _ = node.matrix
    return node.style.stroke_width * sqrt(abs(a * d - b * c))


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for all lines of one width, or one for all of many widths."""
    drawing, limit = cutout.drawing, limits.stroke_mm
    width_of = {node: _width_mm(drawing.nodes[node]) for node in set(drawing.line_node.tolist())}
    groups: dict[float, list[int]] = defaultdict(list)
    for line, node in enumerate(drawing.line_node.tolist()):
        if round(width_of[node], 2) > limit and cutout.roles.role[line] in (CUT, SCORE):
            groups[round(width_of[node], 2)].append(line)
    found = []
    for width in sorted(groups, reverse=True):
        lines = groups[width]
        first = cutout.box(lines[:1])
        several = f"{len(lines)} lines are" if len(lines) > 1 else "this line is"
        found.append(
            Finding(
                message=f"{several} drawn {width:.2f} mm thick (at most {limit:g} mm): "
                f"the blade runs along the middle, {width / 2:.2f} mm inside what is seen",
                at=((first[0] + first[2]) / 2, (first[1] + first[3]) / 2),
                box=cutout.box(lines),
                nodes=cutout.nodes(lines),
                piece=cutout.piece_along(lines[:1]),
                measured=Measured(width, "mm", limit),
            )
        )
    count = sum(len(lines) for lines in groups.values())
    yield from told_once(
        found,
        lambda _: (
            f"{count} lines are drawn thicker than {limit:g} mm, up to {max(groups):.2f} mm: "
            "the blade runs along the middle, inside what is seen"
        ),
    )


RULE = Rule("thick-line", Severity.CAUTION, Limits, check, gathers=True, needs_size=True)
