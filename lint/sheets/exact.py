"""The exact curves of a drawing's lines, in mm: none is flattened.

The file is walked as the reader walks it, so that `use`, symbols, CSS sizes and percentages mean
here what they mean there. Points are complex numbers x + iy.
"""

from __future__ import annotations

from cmath import phase
from itertools import pairwise
from math import ceil, degrees, pi, tan

import numpy as np

from matready.lint.drawing import Drawing
from matready.lint.reading.faults import path_up_to_fault, points_up_to_fault
from matready.lint.reading.flatten import Placed, place
from matready.lint.reading.pathdata import draw_path
from matready.lint.reading.shapes import PathShape, PolyShape, Shape, draw_basic
from matready.lint.reading.strokes import ARC, CLOSE, LINE, MOVE, Strokes
from matready.lint.reading.walk import walk_tree
from matready.lint.repair.curves import Arc, Bezier, Curve

_ROUNDING_MM = 1e-9  # the reader's: steps as short as this are none
_SAME_MM = 1e-6
# Past this, and most of all near a half turn, the last digit of an end that is written would move
# an arc by far more than itself. On flat ellipses, tiny and enormous ones it does so anyway: cubic
# curves draw those. By thirty degrees a cubic is within 4e-7 of its radius of the arc.
_MOST_SWEEP = 2 * pi / 3
_FLATTEST = 10.0
_LEAST_RADIUS_MM, _MOST_RADIUS_MM = 0.01, 1e4
_CUBIC_SWEEP = pi / 6


class Inexact(Exception):
    """The curves of a drawing cannot be told; str() is one plain clause."""


def exact_lines(drawing: Drawing) -> list[tuple[Curve, ...]]:
    """The curves of each of the drawing's lines; raises Inexact."""
    walked = walk_tree(drawing.source)
    strokes = Strokes()
    for shape in walked.shapes:
        _draw(shape, strokes)
        strokes.end_shape()
    found: dict[tuple[int, int], tuple[Curve, ...]] = {}
    if strokes.kinds:
        matrices = np.array(walked.matrices, np.float64).reshape(-1, 6)
        with np.errstate(all="ignore"):  # what overflows was left out by the reader: no line has it
            placed = place(strokes, matrices)
        found = _by_sub_path(placed, np.array(strokes.segment_ends))
    geometry = drawing.geometry
    lines = []
    for line, key in enumerate(
        zip(geometry.owner.tolist(), geometry.subpath.tolist(), strict=True)
    ):
        points = geometry.line(line)
        curves = found.get(key, ())
        ends = [complex(*points[0]), complex(*points[-1])]
        if not curves or _apart(curves[0].start, ends[0]) or _apart(curves[-1].end, ends[1]):
            raise Inexact("its curves cannot be told to the last digit")
        lines.append(curves)
    return lines


def _apart(one: complex, other: complex) -> bool:
    return not abs(one - other) <= _SAME_MM  # true of what is no number, too


def _draw(shape: Shape, strokes: Strokes) -> None:
    if isinstance(shape, PathShape):
        draw_path(path_up_to_fault(shape.d).commands, strokes)
    elif isinstance(shape, PolyShape):
        draw_path(points_up_to_fault(shape.points, shape.closed).commands, strokes)
    else:
        draw_basic(shape, strokes)


def _by_sub_path(
    placed: Placed, segment_ends: np.ndarray
) -> dict[tuple[int, int], tuple[Curve, ...]]:
    """The curves of each sub-path, by the shape's number and its own in the shape."""
    sweeps = dict(zip(placed.arcs.tolist(), placed.sweeps.tolist(), strict=True))
    points, ends = placed.points.tolist(), placed.ends.tolist()
    kinds = placed.kinds.tolist()
    found: dict[tuple[int, int], tuple[Curve, ...]] = {}
    bounds = segment_ends.tolist()
    for owner, (first, after) in enumerate(pairwise(bounds)):
        number = -1
        curves: list[Curve] = []
        for segment in range(first, after):
            end, kind = ends[segment], kinds[segment]
            if kind == MOVE:
                number += 1
                curves = []
                found[owner, number] = ()
                continue
            before = points[ends[segment - 1]]
            if kind in (LINE, CLOSE):
                curves += _straight(before, points[end])
            elif kind == ARC:
                u, v = points[end - 2 : end]
                curves += arcs_of(before, u, v, sweeps[segment], points[end])
            else:
                curves.append(Bezier((before, *points[end - 2 : end + 1])))
            found[owner, number] = tuple(curves)
    return found


def _straight(start: complex, end: complex) -> list[Curve]:
    return [Bezier((start, end))] if abs(end - start) > _ROUNDING_MM else []


def arcs_of(start: complex, u: complex, v: complex, sweep: float, end: complex) -> list[Curve]:
    """The arc of `reading.arcs` as arcs of path data, or as cubic curves where it is too flat."""
    matrix = np.array([[u.real, v.real], [u.imag, v.imag]])
    axes, (rx, ry), _ = np.linalg.svd(matrix)
    flat = rx > _FLATTEST * ry or ry < _LEAST_RADIUS_MM or rx > _MOST_RADIUS_MM
    count = max(1, ceil(sweep / (_CUBIC_SWEEP if flat else _MOST_SWEEP) - 1e-9))
    angles = [sweep * n / count for n in range(count + 1)]
    places = [start + np.sin(t) * v - 2 * np.sin(t / 2) ** 2 * u for t in angles]
    places[0], places[-1] = start, end
    if flat:
        reach = 4 / 3 * tan(sweep / count / 4)
        ways = [reach * (np.cos(t) * v - np.sin(t) * u) for t in angles]
        return [
            Bezier((places[n], places[n] + ways[n], places[n + 1] - ways[n + 1], places[n + 1]))
            for n in range(count)
        ]
    rotation = degrees(phase(complex(axes[0, 0], axes[1, 0]))) % 180
    forward = bool(np.linalg.det(matrix) > 0)
    return [
        Arc(places[n], float(rx), float(ry), rotation, False, forward, places[n + 1])
        for n in range(count)
    ]
