"""Lines of far more points than their shape needs: how many they have, and how many would do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.roles import DRAW
from matready.lint.drawing import Node
from matready.lint.reading.faults import spelled_path

_STRAIGHT = frozenset("MmLlHhVvZz")


@dataclass(frozen=True, slots=True)
class Crowded:
    """A line drawn by `count` segments, where `needed` straight ones run in the same place.

    `lines` are all places where a `use` draws it. `step_mm` is the length of the middle segment in
    order of length, of curves the mean; `straight` says that none of the segments bends.
    """

    lines: tuple[int, ...]
    count: int
    needed: int
    step_mm: float
    straight: bool


def crowded_lines(
    cutout: Cutout, fewest: float, step_mm: float, spare_share: float
) -> Iterator[Crowded]:
    """Lines cut or scored of more than `fewest` segments, most of them shorter than a step.

    More than `spare_share` of the segments could go, and no place of the line would move by more
    than `same_place_mm`. A curve counts as one segment, however finely it is followed.
    """
    drawing, geometry = cutout.drawing, cutout.drawing.geometry
    if not len(geometry.closed):
        return
    counts = np.diff(geometry.offsets) - 1
    many = (counts > fewest) & (cutout.roles.role != DRAW)
    known: dict[int, list[str]] = {}
    drawn: dict[tuple[int, int], list[int]] = {}
    for line in np.flatnonzero(many).tolist():
        first = drawing.nodes_of(drawing.nodes[int(drawing.line_node[line])].element)[0]
        drawn.setdefault((first, int(geometry.subpath[line])), []).append(line)
    for (first, subpath), lines in drawn.items():
        begin, end = geometry.offsets[lines[0] : lines[0] + 2].tolist()
        points = geometry.points[begin:end]
        step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
        if step >= step_mm:
            continue  # following curves only adds points
        if first not in known:
            known[first] = _letters(drawing.nodes[first])
        letters = known[first][subpath] if subpath < len(known[first]) else ""
        straight = _STRAIGHT.issuperset(letters)
        count = len(letters) or (len(points) - 1 if _has_points(drawing.nodes[first]) else 0)
        if not straight:
            step = cutout.length(lines[0]) / max(count, 1)
        if count <= fewest or step >= step_mm:
            continue
        line = shapely.LineString(points)
        thinner = line.simplify(cutout.distances.same_place_mm, preserve_topology=False)
        needed = len(thinner.coords) - 1
        if needed < (1 - spare_share) * count:
            yield Crowded(tuple(lines), count, needed, step, straight)


def _has_points(node: Node) -> bool:
    return node.kind in ("polyline", "polygon")


def _letters(node: Node) -> list[str]:
    """The letters of the segments of each sub-path of a path, numbered as in Geometry.subpath."""
    if node.kind != "path":
        return []
    try:
        spelled = spelled_path(str(node.element.get("d", "")))
    except ValueError:
        return []
    rows: list[list[str]] = []
    closed = True
    for each in spelled:
        if each.letter in "Mm" or (closed and each.letter not in "Zz"):
            rows.append([])
        closed = each.letter in "Zz"
        if each.letter not in "Mm" and rows:
            rows[-1].append(each.letter)
    return ["".join(row) for row in rows]
