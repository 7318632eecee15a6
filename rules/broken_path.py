"""The data of a line breaks off, so part of the drawing is missing.

What it finds
    Path data, or a list of points, that stops making sense: a number or a command is missing, a
    letter is none of SVG's, an arc's flag is neither 0 nor 1, a number is far too large or is none
    at all. What stands before that place is drawn and checked, what follows is not (SVG 2, 9.5.4).

Why it matters at the machine
    Programs disagree on such data: some draw the part before the break, some leave out the whole
    line, some make up what is missing. A piece is cut open, wrong or not at all.

How to put it right
    Export the drawing again from the program that made it. Where that is gone, draw the line anew:
    what is missing is in the file no more.

When to leave it
    Never; where nothing is missing in what you see, delete the rest of the data.

In a drawing
    Wrong: a wing whose data ends in "L 50 60 L 20": the last point has lost a number.
    Right: the same wing exported anew, ending in "L 50 60 L 20 80 Z".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from matready.lint.cutting import Cutout
from matready.lint.drawing import Broken
from matready.lint.finding import Finding, Severity
from matready.lint.repeats import told_once
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """No limits: data is by the grammar of SVG 2, 9.3.9, or it is not."""


def _message(broken: Broken) -> str:
    if not broken.what:
        return f"this shape is left out ({broken.reason}): it will not be cut"
    if not broken.before:
        return f"the {broken.what} breaks off at once ({broken.reason}): nothing of it is cut"
    start = f'the {broken.what} breaks off after "{broken.before}" ({broken.reason}): '
    if not broken.kept:
        return f"{start}nothing of it is cut"
    kept = "1 segment is" if broken.kept == 1 else f"{broken.kept} segments are"
    return f"{start}{kept} kept, what follows will not be cut"


def _finding(cutout: Cutout, broken: Broken) -> Finding:
    lines = np.flatnonzero(cutout.drawing.line_node == broken.node).tolist()
    at = box = None
    if lines:
        geometry = cutout.drawing.geometry
        x, y = geometry.points[geometry.offsets[lines[-1] + 1] - 1].tolist()
        at, box = (x, y), cutout.box(lines)
    return Finding(_message(broken), at, box, (broken.node,), cutout.piece_along(lines))


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each element whose data breaks off."""
    found = [_finding(cutout, broken) for broken in cutout.drawing.broken]
    return told_once(
        found,
        lambda count: (
            f"the data of {count} shapes breaks off, and what follows will not be cut; "
            f'the first one stops after "{cutout.drawing.broken[0].before}"'
        ),
    )


RULE = Rule("broken-path", Severity.FAULT, Limits, check)
