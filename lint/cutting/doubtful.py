"""Folds that may be none: told by colour in a picture, or lines from edge to edge of the page."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.roles import BY_COLOUR

_EDGE_MM = 0.5  # a line that ends this near to the page's edge runs to it
_MOST_ODD = 1 / 3  # share of the folds of a drawing that are told so; more, and it is a picture


def believed(cutout: Cutout, odd: Iterable[int]) -> list[int]:
    """Those of some oddly lying folds (indices into Cutout.folds) that can be believed to be folds.

    A colour is the weakest clue: artwork has open lines of one colour too, that run along outlines
    of another or past them.
    """
    by_colour = [
        number
        for number, fold in enumerate(cutout.folds)
        if int(cutout.roles.clue[fold.lines[0]]) == BY_COLOUR
    ]
    told = sorted(set(odd))
    doubtful = set(by_colour)
    if sum(number in doubtful for number in told) <= _MOST_ODD * len(by_colour):
        return told
    return [number for number in told if number not in doubtful]


def is_guide(cutout: Cutout, fold: int) -> bool:
    """True for a single line from one edge of the page to another, with pieces on its way.

    A fold of a piece as large as the page is none: that piece holds all of it.
    """
    size, lines = cutout.drawing.page.size_mm, cutout.folds[fold].lines
    if size is None or len(lines) > 1:
        return False
    points = cutout.drawing.geometry.line(lines[0])
    ends, inner = points[[0, -1]], np.array(size) - _EDGE_MM
    if ((ends > _EDGE_MM) & (ends < inner)).all(axis=1).any():
        return False
    x0, y0, x1, y1 = cutout.box(lines)
    near = cutout.distances.hairline_mm
    boxes = [piece.box for piece in cutout.pieces if fold in piece.folds]
    return not any(
        a - near <= x0 and b - near <= y0 and c + near >= x1 and d + near >= y1
        for a, b, c, d in boxes
    )
