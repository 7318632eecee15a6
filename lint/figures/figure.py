"""The picture of a drawing: its lines by what the machine does with them, and its pieces."""

from __future__ import annotations

import numpy as np

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import DRAW, SCORE
from matready.lint.drawing import Bools, Floats
from matready.lint.figures.paths import FINE_MM, path_of, path_of_area
from matready.lint.figures.records import Box, Card, Figure

# A picture of more characters than this is drawn coarser, so that a page of many stays small.
_ENOUGH = 400_000
_COARSER = (FINE_MM, 0.02, 0.08)
_EMPTY_MM = 100.0  # the side of what is shown where a file has neither page nor line
_AROUND_MM = 2.0  # of bare table around a drawing without a page


def figure_of(cutout: Cutout) -> Figure:
    """The picture of a cutout."""
    for within_mm in _COARSER:
        figure = _drawn(cutout, within_mm)
        texts = (figure.cut, figure.score, figure.seeming, figure.dashes, figure.draw)
        if sum(map(len, texts)) <= _ENOUGH:
            break
    return figure


def _drawn(cutout: Cutout, within_mm: float) -> Figure:
    score, dashes, seeming, draw = _kinds(cutout)
    return Figure(
        window_mm=_window(cutout),
        page_mm=_page(cutout),
        cut=path_of(_lines(cutout, ~(score | dashes | seeming | draw)), within_mm),
        score=path_of(_lines(cutout, score), within_mm),
        seeming=path_of(_lines(cutout, seeming), within_mm),
        dashes=path_of(_lines(cutout, dashes), within_mm),
        draw=path_of(_lines(cutout, draw), within_mm),
        cards=tuple(
            Card(piece.name, path_of_area(piece.card, within_mm)) for piece in cutout.pieces
        ),
        within_mm=within_mm,
    )


def _kinds(cutout: Cutout) -> tuple[Bools, Bools, Bools, Bools]:
    """Which lines are whole scores, dashes, scores that only look dashed, and drawn lines."""
    role, drawing = cutout.roles.role, cutout.drawing
    dashes = np.zeros(len(role), bool)
    dashes[[line for row in cutout.roles.rows for line in row]] = True
    styled = np.array([drawing.nodes[n].style.dashes is not None for n in drawing.line_node], bool)
    score = role == SCORE
    return score & ~dashes & ~styled, score & dashes, score & ~dashes & styled, role == DRAW


def lines_of(cutout: Cutout, lines: list[int]) -> list[Floats]:
    """The points (n, 2) in mm of some lines of the drawing."""
    geometry = cutout.drawing.geometry
    return [geometry.points[geometry.offsets[k] : geometry.offsets[k + 1]] for k in lines]


def _lines(cutout: Cutout, which: Bools) -> list[Floats]:
    return lines_of(cutout, np.flatnonzero(which).tolist())


def _page(cutout: Cutout) -> tuple[float, float] | None:
    size = cutout.drawing.page.size_mm
    return None if size is None else (round(float(size[0]), 3), round(float(size[1]), 3))


def _window(cutout: Cutout) -> Box:
    """The page with what lies beside it, up to a page's width off: farther away all is a dot."""
    page, geometry = cutout.drawing.page.size_mm, cutout.drawing.geometry
    if not len(geometry.points):
        width, height = page or (_EMPTY_MM, _EMPTY_MM)
        return 0.0, 0.0, round(width, 3), round(height, 3)
    low, high = geometry.points.min(axis=0), geometry.points.max(axis=0)
    if page is None:
        low, high = low - _AROUND_MM, high + _AROUND_MM
    else:
        size = np.array(page)
        low = np.minimum(np.maximum(low - _AROUND_MM, -size), 0.0)
        high = np.maximum(np.minimum(high + _AROUND_MM, 2 * size), size)
    x0, y0, x1, y1 = (round(float(value), 3) for value in (*low, *high))
    return x0, y0, x1, y1
