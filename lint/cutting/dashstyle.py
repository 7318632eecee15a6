"""Score lines that only look dashed: one long line each, whose gaps are styling."""

from __future__ import annotations

from collections import defaultdict
from math import hypot, sqrt
from typing import NamedTuple

import numpy as np

from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.dashes import DASH_MM, GAP_MM
from matready.lint.cutting.roles import SCORE
from matready.lint.drawing import Drawing, Ints
from matready.lint.reading.units import parse_length

LEAST_DASH_MM = 0.3  # a shorter cut is a dot: the blade hardly enters; common practice, no source
_UNEVEN = 1e-4  # a transform that stretches by less than this share is even


class Look(NamedTuple):
    """A dash pattern as it is seen, in mm: dash, gap, and so on; whether real dashes can show it.

    `cuttable` is False for dots, for dashes or gaps too long to be told as one fold, and for lines
    whose dashes would not be the same line: filled ones, and those drawn unevenly or several times.
    """

    pattern: tuple[float, ...]
    cuttable: bool


def styled_lines(cutout: Cutout) -> dict[Look, list[int]]:
    """Lines of the role score that look dashed and are not, by how they look."""
    drawing, roles = cutout.drawing, cutout.roles
    in_row = np.zeros(len(roles.role), bool)
    in_row[[line for row in roles.rows for line in row]] = True
    lines = np.flatnonzero((roles.role == SCORE) & ~in_row)
    styles = [drawing.nodes[node].style for node in drawing.line_node[lines].tolist()]
    lines = lines[[style.dashes is not None and style.stroke != "none" for style in styles]]
    if not len(lines):
        return {}
    scales = {node: pattern_scale(drawing, node) for node in drawing.line_node[lines].tolist()}
    told = set(lines.tolist())
    found: dict[Look, list[int]] = defaultdict(list)
    for line, length in zip(lines.tolist(), blade_of(drawing, lines).total.tolist(), strict=True):
        node = int(drawing.line_node[line])
        pattern = tuple(round(size * scales[node], 3) for size in dashes_of(drawing, node))
        if length > pattern[0] and not cutout.mostly_on_cuts([line]):  # shorter is seen whole
            found[Look(pattern, _cuttable(drawing, node, pattern, told))].append(line)
    return dict(found)


def dashes_of(drawing: Drawing, node: int) -> tuple[float, ...]:
    """The dash pattern of a node, () for none."""
    return drawing.nodes[node].style.dashes or ()


def pattern_scale(drawing: Drawing, node: int) -> float:
    """Millimetres for one unit of a node's dash pattern (SVG 2, pathLength)."""
    a, b, c, d, _, _ = drawing.nodes[node].matrix
    scale = sqrt(abs(a * d - b * c))
    told = parse_length(str(drawing.nodes[node].element.get("pathLength", "")))
    if told is None or told.unit or told.number <= 0:
        return scale
    return float(blade_of(drawing, _lines_of(drawing, node)).total.sum()) / told.number


def _lines_of(drawing: Drawing, node: int) -> Ints:
    first, last = np.searchsorted(drawing.line_node, [node, node + 1]).tolist()
    return np.arange(first, last)


def _cuttable(drawing: Drawing, node: int, pattern: tuple[float, ...], told: set[int]) -> bool:
    cuts, gaps = pattern[::2], pattern[1::2]
    if min(cuts) < LEAST_DASH_MM or max(cuts) > DASH_MM or max(gaps) > GAP_MM:
        return False
    a, b, c, d, _, _ = drawing.nodes[node].matrix
    size = hypot(a, b)
    if abs(size - hypot(c, d)) > _UNEVEN * size or abs(a * c + b * d) > _UNEVEN * size * size:
        return False
    element = drawing.nodes[node].element
    if len(drawing.nodes_of(element)) > 1:
        return False
    lines = _lines_of(drawing, node)
    if not told.issuperset(lines.tolist()):
        return False
    return drawing.nodes[node].style.fill == "none" or all(
        is_straight(drawing, line) for line in lines.tolist()
    )


def is_straight(drawing: Drawing, line: int) -> bool:
    """Whether all of a line lies on one straight line, so that it bounds no area to be filled."""
    points = drawing.geometry.line(line)
    way, rest = points[-1] - points[0], points - points[0]
    return bool(np.abs(way[0] * rest[:, 1] - way[1] * rest[:, 0]).max() <= 1e-6)
