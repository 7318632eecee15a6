"""The picture of a drawing: its lines by what the machine does with them, and its pieces."""

from __future__ import annotations

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import DRAW, SCORE
from matready.lint.drawing import Bools, Floats
from matready.lint.figures.blocks import blocks_of, seen_sights
from matready.lint.figures.paths import FINE_MM, path_of, path_of_area
from matready.lint.figures.records import Card, Figure
from matready.lint.finding import Box

# A picture of more characters than this is drawn coarser, so that a page of many stays small.
_ENOUGH = 600_000
_COARSER = (FINE_MM, 0.02, 0.08)
_EMPTY_MM = 100.0  # the side of what is shown where a file has neither page nor line
_LEAST_MM = 0.1  # a page smaller than this is a slip
_OFF_MM = 0.01  # a line on the edge of the page lies on the page
_SLIMMEST = 6.0  # a picture is at most so many times as long as wide
_AROUND_MM = 2.0  # of bare table around a drawing without a page


def figure_of(cutout: Cutout, only_mm: Box | None = None) -> Figure:
    """The picture of a cutout, or of what of it lies in a box."""
    for within_mm in _COARSER:
        figure = _drawn(cutout, within_mm, only_mm)
        texts = [figure.cut, figure.score, figure.seeming, figure.dashes, figure.draw]
        texts += [card.path for card in figure.cards]
        if sum(map(len, texts)) <= _ENOUGH:
            break
    return figure


def _drawn(cutout: Cutout, within_mm: float, only_mm: Box | None) -> Figure:
    score, dashes, seeming, draw = _kinds(cutout)

    def drawn(which: Bools) -> str:
        lines = lines_of(cutout, np.flatnonzero(which).tolist())
        return path_of(lines if only_mm is None else stretches_in(only_mm, lines), within_mm)

    return Figure(
        window_mm=only_mm or _window(cutout),
        page_mm=_page(cutout),
        cut=drawn(~(score | dashes | seeming | draw)),
        score=drawn(score),
        seeming=drawn(seeming),
        dashes=drawn(dashes),
        draw=drawn(draw),
        cards=tuple(
            Card(piece.name, path_of_area(part, within_mm))
            for piece in cutout.pieces
            for part in ([piece.card] if only_mm is None else _parts_in(only_mm, piece.card))
        ),
        within_mm=within_mm,
        blocks=tuple(blocks_of(cutout, only_mm)),
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
    return [geometry.line(k) for k in lines]


def stretches_in(box: Box, lines: list[Floats]) -> list[Floats]:
    """What of some lines (n, 2) runs through a box."""
    found = []
    for line in lines:
        low, high = line.min(axis=0), line.max(axis=0)
        if (low >= box[:2]).all() and (high <= box[2:]).all():
            found.append(line)
        elif (low <= box[2:]).all() and (high >= box[:2]).all():
            clipped = shapely.get_parts(shapely.clip_by_rect(shapely.LineString(line), *box))
            found += [shapely.get_coordinates(part) for part in clipped]
    return found


def _parts_in(box: Box, card: shapely.Polygon) -> list[shapely.Polygon]:
    """What of a piece lies in a box."""
    x0, y0, x1, y1 = card.bounds
    if x0 > box[2] or y0 > box[3] or x1 < box[0] or y1 < box[1]:
        return []
    parts = shapely.get_parts(shapely.intersection(card, shapely.box(*box)))
    return [part for part in parts if isinstance(part, shapely.Polygon)]


def _page(cutout: Cutout) -> tuple[float, float] | None:
    """The size of the page; None for one that cannot be seen either."""
    size = cutout.drawing.page.size_mm
    if size is None or min(size) < _LEAST_MM:
        return None
    return round(float(size[0]), 3), round(float(size[1]), 3)


def _window(cutout: Cutout) -> Box:
    """The page with what lies beside it, up to a page's width off: farther away all is a dot."""
    page, corners = _page(cutout), [sight.box for sight in seen_sights(cutout)]
    points = np.vstack([cutout.drawing.geometry.points, np.array(corners).reshape(-1, 2)])
    if not len(points):
        low, high = np.zeros(2), np.array(page or (_EMPTY_MM, _EMPTY_MM))
    elif page is None:
        low, high = points.min(axis=0) - _AROUND_MM, points.max(axis=0) + _AROUND_MM
    else:
        size = np.array(page)
        low, high = points.min(axis=0), points.max(axis=0)
        low = np.where(low < -_OFF_MM, np.maximum(low - _AROUND_MM, -size), 0.0)
        high = np.where(high > size + _OFF_MM, np.minimum(high + _AROUND_MM, 2 * size), size)
    # A strip gets some table beside it, or it would be a thread on a screen.
    beside = np.maximum((high - low).max() / _SLIMMEST - (high - low), 0.0) / 2
    x0, y0, x1, y1 = (round(float(value), 3) for value in (*(low - beside), *(high + beside)))
    return x0, y0, x1, y1
