"""Are two drawings the same? What the blade follows in each, wherever it lies on the page."""

from __future__ import annotations

import numpy as np

from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.roles import CUT, SCORE
from matready.lint.drawing import Floats

_COLUMNS = 10


def likeness_of(cutout: Cutout) -> Floats | None:
    """A row of numbers for each cut or score line, (m, 10); None for a drawing without any.

    Role, a tenth of the length (rounding adds up along a line), box, middle and two numbers for how
    the line lies in its box, all in mm, counted from the top left corner of all these lines.
    Neither the order of the lines nor the way they run shows in it; a mirror image does.
    """
    lines = np.flatnonzero((cutout.roles.role == CUT) | (cutout.roles.role == SCORE))
    if not len(lines):
        return None
    blade = blade_of(cutout.drawing, lines)
    corner = np.minimum(blade.a, blade.b).min(axis=0)
    a, b = blade.a - corner, blade.b - corner
    low = np.minimum.reduceat(np.minimum(a, b), blade.first)
    high = np.maximum.reduceat(np.maximum(a, b), blade.first)
    weight = (blade.length / blade.total[blade.line])[:, None]
    middle = np.add.reduceat((a + b) / 2 * weight, blade.first)
    u, v = ((a + b) / 2 - middle[blade.line]).T
    size = np.maximum((high - low).max(axis=1), 1e-9)[blade.line]
    bent = np.column_stack([u * v / size, u * u * v / size**2]) * weight
    return np.column_stack(
        [
            cutout.roles.role[lines] * 1e3,
            blade.total / 10,
            low,
            high,
            middle,
            np.add.reduceat(bent, blade.first),
        ]
    )


def drawers(likeness: Floats, same_mm: float) -> set[tuple[int, int]]:
    """Where to look for drawings like this one: two that are alike have a drawer in common."""
    mean = float(likeness[:, 1].mean())
    return {(len(likeness), int(place // 1)) for place in (mean - same_mm, mean + same_mm)}


def alike(one: Floats, other: Floats, same_mm: float) -> bool:
    """Whether two drawings hold the same lines, within a distance."""
    if one.shape != other.shape:
        return False
    off = np.abs(one.max(axis=0) - other.max(axis=0)).max()
    if off > same_mm or abs(one[:, 1].mean() - other[:, 1].mean()) > same_mm:
        return False
    both = np.vstack([one, other])
    steps = np.column_stack([_steps(both[:, column], same_mm) for column in range(_COLUMNS)])
    first, second = steps[: len(one)], steps[len(one) :]
    first, second = first[np.lexsort(first.T)], second[np.lexsort(second.T)]
    return bool((first == second).all())


def _steps(values: Floats, same_mm: float) -> Floats:
    """A number for each value, the same for values that lie within a distance of each other."""
    order = np.argsort(values)
    number = np.empty(len(values))
    number[order] = np.cumsum(np.diff(values[order], prepend=values[order[0]]) > same_mm)
    return number
