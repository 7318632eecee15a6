"""Lines that no one sees: shapes that are hidden, and drawn lines that do not show on the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from matready.lint.cutting.roles import DRAW
from matready.lint.drawing import Bools, Drawing, Floats, Ints, Style, Unseen
from matready.lint.finding import Box, Point
from matready.lint.reading.geometry import Geometry, read_geometry
from matready.lint.reading.units import MM_PER_PX

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.cutting.cutout import Cutout

NO_WIDTH, PAPER = "no-width", "paper"
"""Why a line that is drawn is not seen; reasons of others are in lint/drawing.py."""

_WHITE = "#ffffff"
_PAGE_MM = 0.5  # a background may miss the page's edge by this much
_NEAR_MM = 0.05  # paint that comes nearer than this touches


class Hidden(NamedTuple):
    """All shapes of a file that are not seen for one reason.

    `elements` are the shapes, or the uses that show them, `nodes` those that are drawn all the
    same; `removable` are the elements to take away, none where the shapes are drawn.
    """

    why: str
    elements: tuple[_Element, ...]
    nodes: tuple[int, ...]
    removable: tuple[_Element, ...]
    at: Point
    box: Box


def hidden_lines(cutout: Cutout) -> list[Hidden]:
    """What is not seen and may be cut, reason by reason."""
    drawing = cutout.drawing
    found = _shapes(drawing, cutout.distances.flatten_mm)
    for why, lines in ((NO_WIDTH, _without_width(drawing)), (PAPER, _like_paper(cutout))):
        if len(lines):
            geometry = drawing.geometry
            at, box = _place(geometry, lines)
            nodes = cutout.nodes(lines.tolist())
            elements = tuple(dict.fromkeys(drawing.shown(node) for node in nodes))
            found.append(Hidden(why, elements, nodes, (), at, box))
    return found


def hidden_boxes(drawing: Drawing, flatten_mm: float) -> np.ndarray:
    """Boxes around the shapes that are hidden, as polygons; a background of the page is none."""
    geometry = _unseen_geometry(drawing, flatten_mm)
    low, high = geometry.boxes()
    kept = ~_page_sized(drawing, geometry)
    return np.asarray(shapely.box(*low[kept].T, *high[kept].T))


def _unseen_geometry(drawing: Drawing, flatten_mm: float) -> Geometry:
    matrices = np.array([one.matrix for one in drawing.unseen]).reshape(-1, 6)
    return read_geometry([one.shape for one in drawing.unseen], matrices, flatten_mm)


def _shapes(drawing: Drawing, flatten_mm: float) -> list[Hidden]:
    """The shapes that are no lines of the drawing because they are hidden."""
    unseen = drawing.unseen
    if not unseen:
        return []
    geometry = _unseen_geometry(drawing, flatten_mm)
    kept = np.flatnonzero(~_page_sized(drawing, geometry))
    found = []
    for why in dict.fromkeys(one.why for one in unseen):
        lines = [k for k in kept.tolist() if unseen[geometry.owner[k]].why == why]
        if lines:
            at, box = _place(geometry, np.array(lines))
            shapes: Sequence[Unseen] = [unseen[owner] for owner in geometry.owner[lines]]
            elements = tuple(dict.fromkeys(one.element for one in shapes))
            removable = tuple(dict.fromkeys(one.hidden for one in shapes))
            found.append(Hidden(why, elements, (), removable, at, box))
    return found


def _place(geometry: Geometry, lines: Ints) -> tuple[Point, Box]:
    """A place on the first of some lines, and the box around all of them."""
    low, high = geometry.boxes()
    x, y = geometry.points[geometry.offsets[lines[0]]].tolist()
    x0, y0 = low[lines].min(axis=0).tolist()
    x1, y1 = high[lines].max(axis=0).tolist()
    return (x, y), (x0, y0, x1, y1)


def _page_sized(drawing: Drawing, geometry: Geometry) -> Bools:
    """Rectangles that go round the whole page: a background, which is not there to be cut."""
    page = drawing.page
    if not len(geometry.owner) or not page.width_px or not page.height_px:
        return np.zeros(len(geometry.owner), bool)
    size = np.array([page.width_px, page.height_px]) * MM_PER_PX
    low, high = geometry.boxes()
    covers = (low <= _PAGE_MM).all(axis=1) & (high >= size - _PAGE_MM).all(axis=1)
    return np.asarray(covers & (np.diff(geometry.offsets) == 5))


def _styles(drawing: Drawing) -> list[Style]:
    return [drawing.nodes[node].style for node in drawing.line_node.tolist()]


def _without_width(drawing: Drawing) -> Ints:
    """Lines whose stroke has no width, and that nothing fills."""
    nodes = drawing.nodes
    return np.flatnonzero(
        [
            style.stroke_width == 0
            and style.stroke != "none"
            and (style.fill == "none" or nodes[node].kind == "line")
            for style, node in zip(_styles(drawing), drawing.line_node.tolist(), strict=True)
        ]
    )


def _like_paper(cutout: Cutout) -> Ints:
    """Lines that are white on the white page, with no other paint that touches them.

    Where all lines are white, the page is meant to be of another colour.
    """
    drawing = cutout.drawing
    styles = _styles(drawing)
    paints = [{style.fill, style.stroke} - {"none"} for style in styles]
    white = np.array([paint == {_WHITE} for paint in paints], bool)
    white &= cutout.roles.role != DRAW
    dark = np.array([bool(paint - {_WHITE}) for paint in paints], bool)
    if not white.any() or not dark.any() or _has_background(drawing):
        return np.zeros(0, np.int64)
    candidates, others = np.flatnonzero(white), np.flatnonzero(dark)
    reach = _half_widths(drawing, styles)
    shapes = _outlines(drawing)
    areas = [_painted(shapes[k], styles[k], reach[k]) for k in others.tolist()]
    areas += [shapely.box(*sight.box) for sight in drawing.sights]
    own = shapely.buffer(shapes[candidates], reach[candidates] + _NEAR_MM)
    touched, _ = shapely.STRtree(areas).query(own, "intersects")
    return np.setdiff1d(candidates, candidates[np.unique(touched)])


def _has_background(drawing: Drawing) -> bool:
    """Whether the page itself is given a colour, by a style that only browsers follow."""
    root = drawing.source.root
    return "background" in str(root.get("style", "")) or b"background" in drawing.source.text


def _half_widths(drawing: Drawing, styles: Sequence[Style]) -> Floats:
    """Half the stroke of each line in mm, the wider way where it is scaled unevenly."""
    half = []
    for style, node in zip(styles, drawing.line_node.tolist(), strict=True):
        a, b, c, d, _, _ = drawing.nodes[node].matrix
        spread = max(np.hypot(a, b), np.hypot(c, d))
        half.append(style.stroke_width / 2 * spread if style.stroke != "none" else 0.0)
    return np.array(half)


def _outlines(drawing: Drawing) -> np.ndarray:
    geometry = drawing.geometry
    line = np.repeat(np.arange(len(geometry.closed)), np.diff(geometry.offsets))
    return np.asarray(shapely.linestrings(geometry.points, indices=line))


def _painted(outline: shapely.LineString, style: Style, half: float) -> shapely.Geometry:
    """About what a line paints; a filled one all inside it, whatever its fill rule."""
    if style.fill not in ("none", _WHITE) and shapely.get_num_points(outline) > 2:
        return shapely.convex_hull(outline).buffer(half)
    return outline.buffer(half) if half else outline
