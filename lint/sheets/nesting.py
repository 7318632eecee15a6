"""Shapes into the holes of larger ones, before anything is laid on a sheet."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import shapely

from matready.lint.sheets.board import Ground
from matready.lint.sheets.filling import Filling, Kind
from matready.lint.sheets.forms import CELL_MM, Form
from matready.lint.sheets.growing import grow
from matready.lint.sheets.raster import Shape, around


class Inside(NamedTuple):
    """Where a shape lies in a hole of `host`: turned about (0, 0), then shifted, in mm as drawn."""

    host: int
    turn_deg: float
    dx: float
    dy: float


class _Hole(NamedTuple):
    """A hole as a small sheet, and its lowest x and y; `host` is the shape that it is in."""

    host: int
    filling: Filling
    low: tuple[float, float]


def into_holes(shapes: Sequence[Shape], forms: Sequence[Form], gap_mm: float) -> dict[int, Inside]:
    """The shapes that lie in a hole, by number; who holds another comes before it.

    The largest come first, each into the tightest hole that takes it: so frames go into frames,
    and the smallest fill what is left. On generated projects what lies in no hole then needs 1 to
    5 % more area than the bound says that it does at least.

    Args:
        shapes: in mm.
        forms: of these, in the turns that are allowed whatever the turn of the host.
        gap_mm: between any two shapes.
    """
    inside: dict[int, Inside] = {}
    holes: list[_Hole] = []
    least = min(form.area for form in forms)
    for n in sorted(range(len(shapes)), key=lambda n: -forms[n].area):
        hole = next((hole for hole in holes if hole.filling.add(n, forms[n])), None)
        if hole is not None:
            inside[n] = _where(hole)
        for new in _holes(shapes[n], n, gap_mm):
            if new.filling.board.room >= least:
                insort(holes, new, key=lambda hole: hole.filling.kind.area_mm2)
    return inside


def _holes(shape: Shape, host: int, gap_mm: float) -> Iterator[_Hole]:
    """What is free in a shape's holes, half the gap from it, as long as anything is."""
    if not any(part.interiors for part in shapely.get_parts(shape)):
        return
    grown = grow(shape, gap_mm / 2)
    for part in shapely.get_parts(grown):
        for ring in part.interiors:
            room = shapely.difference(shapely.Polygon(ring), grown)
            if room.area > 0:
                x0, y0, x1, y1 = room.bounds
                ground = Ground((x1 - x0) / CELL_MM, (y1 - y0) / CELL_MM)
                filling = Filling(Kind(host, room.area, ground, CELL_MM))
                filling.board.take(around(room, CELL_MM), 0)
                yield _Hole(host, filling, (x0, y0))


def _where(hole: _Hole) -> Inside:
    """The place of what was laid in a hole last."""
    put = hole.filling.puts[-1]
    y, x = divmod(put.corner, hole.filling.kind.ground.width)
    left, top = put.turned.low
    return Inside(
        hole.host,
        put.turned.turn_deg,
        hole.low[0] + x * CELL_MM - left,
        hole.low[1] + y * CELL_MM - top,
    )
