"""Lines in mm as path data of SVG, as short as exactness allows."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely

from matready.lint.drawing import Floats, Ints

FINE_MM = 0.005  # a bend less deep than this cannot be seen at a hundred times its size
_PER_MM = 1000  # decimals: a thousandth of a mm, so that a gap of 0.1 mm is drawn to 1 %


def path_of(lines: Sequence[Floats], within_mm: float = FINE_MM) -> str:
    """Path data of lines, (n, 2) each in mm; one that ends where it began is closed.

    Points that lie within a distance of the line without them are left out, ends never are.
    """
    lines = [line for line in lines if len(line) > 1]
    if not lines:
        return ""
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    drawn = shapely.linestrings(np.vstack(lines), indices=owner)
    thinned = shapely.simplify(drawn, within_mm, preserve_topology=False)
    points, owner = shapely.get_coordinates(thinned, return_index=True)
    steps = np.rint(points * _PER_MM).astype(np.int64)
    starts = np.flatnonzero(np.diff(owner, prepend=-1))
    return "".join(map(_sub_path, np.split(steps, starts[1:])))


def path_of_area(area: shapely.Polygon, within_mm: float = FINE_MM) -> str:
    """Path data of an area with its holes, to be filled by evenodd."""
    rings = [area.exterior, *area.interiors]
    return path_of([shapely.get_coordinates(ring) for ring in rings], within_mm)


def _sub_path(points: Ints) -> str:
    """One line in steps of a thousandth of a mm, each point told from the one before it.

    Steps are differences of rounded places, so that no error adds up along the line.
    """
    closed = len(points) > 2 and bool((points[0] == points[-1]).all())
    (x, y), steps = points[0].tolist(), np.diff(points[:-1] if closed else points, axis=0)
    moves = [number for step in steps.tolist() if any(step) for number in step]
    return f"M{_joined([x, y])}l{_joined(moves or [0, 0])}{'z' if closed else ''}"


def _joined(steps: Sequence[int]) -> str:
    """Numbers in mm with a separator only where one is needed."""
    parts: list[str] = []
    for step in steps:
        text = _step_text(step)
        parts.append(text if not parts or text[0] == "-" else f" {text}")
    return "".join(parts)


@lru_cache(maxsize=1 << 16)  # pieces of one kind have the same steps
def _step_text(step: int) -> str:
    return number_text(step / _PER_MM)


def number_text(value: float) -> str:
    """A number to three decimals in as few characters as SVG takes: 12, 0, .5, -.125."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    if text.startswith("0."):
        return text[1:]
    if text.startswith("-0"):
        return "-" + text[2:] if len(text) > 2 else "0"
    return text
