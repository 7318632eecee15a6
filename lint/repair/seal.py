"""Closes outlines whose two ends lie in one place already."""

from __future__ import annotations

import numpy as np

from matready.lint.cutting import Cutout
from matready.lint.repair.edits import Edits
from matready.lint.repair.pathtext import MoveEnds
from matready.lint.repair.plan import Plan


def plan_seal(cutout: Cutout, lines: tuple[int, ...]) -> Plan:
    """How to close a line in all places where it is drawn: its end goes to its start, Z follows."""
    drawing, geometry = cutout.drawing, cutout.drawing.geometry
    first, last = geometry.offsets[list(lines)], geometry.offsets[np.add(lines, 1)] - 1
    apart = np.hypot(*(geometry.points[first] - geometry.points[last]).T)

    def enter(edits: Edits) -> None:
        for line in lines:
            element = drawing.nodes[int(drawing.line_node[line])].element
            edits.change(element, int(geometry.subpath[line]), MoveEnds(close=True))

    return Plan(
        frozenset(lines), "its ends were joined and the outline closed", enter, float(apart.max())
    )
