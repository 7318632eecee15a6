"""Outlines whose ends coincide although nothing closes them: open by SVG, closed to the eye."""

from __future__ import annotations

import numpy as np

from matready.lint.cutting.cutout import Cutout
from matready.lint.drawing import Floats, Ints


def unclosed_lines(cutout: Cutout) -> tuple[Ints, Floats]:
    """Cut lines that come back to where they began but are not closed, and how far they miss.

    "If a subpath's ends coincide it is still open unless closed by a closepath": SVG 2, 9.3.4. A
    line that runs back on itself encloses nothing and is none. Distances in mm, at most `join_mm`.
    """
    blade = cutout.blade
    if not len(blade.first):
        return np.zeros(0, np.int64), np.zeros(0)
    start, end = blade.a[blade.first], blade.b[blade.last]
    apart = np.hypot(*(end - start).T)
    # The area by the surveyor's formula, from each line's own start: small numbers stay exact.
    a, b = blade.a - start[blade.line], blade.b - start[blade.line]
    twice = np.abs(np.add.reduceat(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], blade.first))
    encloses = twice > cutout.distances.same_place_mm * blade.total
    found = ~blade.closed & (apart <= cutout.distances.join_mm) & encloses
    return blade.source[found], apart[found]
