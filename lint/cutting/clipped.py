"""Clips, masks, filters and patterns on what is cut: where they make it look otherwise."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import shapely

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.roles import CUT, SCORE
from matready.lint.drawing import Area, Drawing, Effect, Ints, Node
from matready.lint.finding import Box, Point
from matready.lint.reading.declarations import parse_style
from matready.lint.reading.geometry import Geometry, read_geometry
from matready.lint.reading.transforms import Matrix, multiply
from matready.lint.reading.units import MM_PER_PX
from matready.lint.source import local_name

_SLACK_MM = 0.05  # a line on the very edge of a clip is seen
_WHITE = "#ffffff"
# Filter primitives that change colours and leave every edge where it is (Filter Effects 1).
_COLOURING = frozenset(
    ("feColorMatrix", "feComponentTransfer", "feFlood", "feMerge", "feBlend", "feComposite")
)
_HARMLESS_FILTER = re.compile(
    r"(?:\s*(?:brightness|contrast|grayscale|hue-rotate|invert|opacity|saturate|sepia)\([^()]*\))+"
)
_NO_INSET = re.compile(r"inset\(\s*0(?:px|%)?(?:\s+0(?:px|%)?)*\s*\)")


class Altered(NamedTuple):
    """An effect on lines that are cut or scored: `lines` are those, or what of them is hidden.

    `hidden_mm` is how much of them a clip, mask or viewport hides, None where it cannot be told
    or nothing is hidden.
    """

    effect: Effect
    lines: tuple[int, ...]
    hidden_mm: float | None
    at: Point
    box: Box


def altered_lines(cutout: Cutout) -> Iterator[Altered]:
    """Each effect of the drawing that shows what is not cut, or hides what is."""
    drawing = cutout.drawing
    if not drawing.effects:
        return
    ends = _subtree_ends(drawing)
    for effect in drawing.effects:
        inside = _lines_between(drawing, effect.node, int(ends[effect.node]))
        lines = inside[np.isin(cutout.roles.role[inside], (CUT, SCORE))]
        if not len(lines):
            continue
        if effect.kind in ("filter", "pattern"):
            if _shows_more(effect):
                yield _whole(cutout, effect, lines)
        elif effect.area is None and effect.box is None:
            if "(" in effect.text and not _NO_INSET.fullmatch(effect.text.strip()):
                yield _whole(cutout, effect, lines)
        else:
            found = _partly(cutout, effect, inside, lines)
            if found is not None:
                yield found


def _subtree_ends(drawing: Drawing) -> Ints:
    """For each node the number after its last descendant."""
    ends = np.arange(1, len(drawing.nodes) + 1)
    for number in range(len(drawing.nodes) - 1, 0, -1):
        parent = drawing.nodes[number].parent
        ends[parent] = max(ends[parent], ends[number])
    return ends


def _lines_between(drawing: Drawing, first: int, end: int) -> Ints:
    low, high = np.searchsorted(drawing.line_node, (first, end))
    return np.arange(int(low), int(high))


def _shows_more(effect: Effect) -> bool:
    """Whether a filter or pattern shows edges where no line runs."""
    area = effect.area
    if area is None:
        return _HARMLESS_FILTER.fullmatch(effect.text.strip().lower()) is None
    if effect.kind == "pattern":
        return bool(area.shapes)
    steps = {local_name(child) for child in area.element.iterchildren("*")}
    return not steps or not steps <= _COLOURING


def _whole(cutout: Cutout, effect: Effect, lines: Ints) -> Altered:
    geometry = cutout.drawing.geometry
    x, y = geometry.points[geometry.offsets[lines[0]]].tolist()
    numbers = tuple(lines.tolist())
    return Altered(effect, numbers, None, (x, y), cutout.box(numbers))


def _partly(cutout: Cutout, effect: Effect, inside: Ints, lines: Ints) -> Altered | None:
    """The part of some lines on the page that a clip, mask or viewport hides; None for none."""
    drawing = cutout.drawing
    region = _region(drawing, effect, inside, cutout.distances.flatten_mm)
    room = region.buffer(_SLACK_MM)
    shapely.prepare(room)
    shapes = np.array([_outline(drawing.geometry, line) for line in lines.tolist()])
    cut_off = ~shapely.covers(room, shapes)
    if not cut_off.any():
        return None
    hidden = shapely.difference(shapes[cut_off], room)
    page = drawing.page
    if page.width_px and page.height_px:  # what lies beside the page is another matter
        size = page.width_px * MM_PER_PX, page.height_px * MM_PER_PX
        hidden = shapely.intersection(hidden, shapely.box(0, 0, *size))
    length = shapely.length(hidden)
    if not length.any():
        return None
    x0, y0, x1, y1 = shapely.total_bounds(hidden).tolist()
    place = hidden[int(length.argmax())].point_on_surface()
    numbers = tuple(lines[cut_off][length > 0].tolist())
    return Altered(effect, numbers, float(length.sum()), (place.x, place.y), (x0, y0, x1, y1))


def _outline(geometry: Geometry, line: int) -> shapely.LineString:
    return shapely.LineString(geometry.line(line))


def _region(drawing: Drawing, effect: Effect, inside: Ints, flatten_mm: float) -> shapely.Geometry:
    """What of the page an effect lets see, in mm."""
    if effect.box is not None:
        x0, y0, x1, y1 = effect.box
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        return _filled([np.array([_mapped(effect.matrix, *corner) for corner in corners])], False)
    area = effect.area
    assert area is not None
    matrix = effect.matrix
    if area.by_box:
        matrix = multiply(matrix, _box_matrix(drawing, matrix, inside))
    matrices = [multiply(matrix, own) for own in area.matrices]
    geometry = read_geometry(area.shapes, np.array(matrices, np.float64).reshape(-1, 6), flatten_mm)
    rings: list[list[np.ndarray]] = [[] for _ in area.shapes]
    for line, owner in enumerate(geometry.owner.tolist()):
        rings[owner].append(geometry.line(line))
    region: shapely.Geometry = shapely.Polygon()
    for node, parts in zip(area.nodes, rings, strict=True):
        region = _painted_over(region, effect.kind, area, node, parts)
    return region


def _painted_over(
    region: shapely.Geometry, kind: str, area: Area, node: Node, rings: list[np.ndarray]
) -> shapely.Geometry:
    """What is let see once one more shape of a clip or mask is drawn (CSS Masking 1)."""
    rule = "clip-rule" if kind == "clip-path" else "fill-rule"
    fill = node.style.fill
    if kind == "mask" and fill == "none":
        return region
    shape = _filled(rings, _declared(node, area, rule) == "evenodd")
    by_alpha = area.element.get("mask-type") == "alpha"
    if kind == "clip-path" or fill == _WHITE or by_alpha:
        return region.union(shape)
    return region.difference(shape)  # only white lets all of it through


def _declared(node: Node, area: Area, name: str) -> str:
    """An inherited property of a shape in an area, as the elements themselves tell it."""
    for element in (node.element, *node.element.iterancestors()):
        style = {one.name: one.value for one in parse_style(str(element.get("style", "")))}
        found = style.get(name, element.get(name))
        if found is not None:
            return str(found)
        if element is area.element:
            break
    return ""


def _filled(rings: list[np.ndarray], even_odd: bool) -> shapely.Geometry:
    """What some rings fill; one that runs the other way round than the first is a hole in it."""
    polygons = [shapely.Polygon(ring) for ring in rings if len(ring) > 2]
    polygons.sort(key=lambda polygon: -polygon.area)
    filled: shapely.Geometry = shapely.Polygon()
    for polygon in polygons:
        part = polygon if polygon.is_valid else shapely.make_valid(polygon)
        if even_odd:
            filled = filled.symmetric_difference(part)
        elif polygon.exterior.is_ccw == polygons[0].exterior.is_ccw:
            filled = filled.union(part)
        else:
            filled = filled.difference(part)
    return filled


def _mapped(matrix: Matrix, x: float, y: float) -> Point:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


def _box_matrix(drawing: Drawing, matrix: Matrix, inside: Ints) -> Matrix:
    """From shares of the box around some lines, in the units of `matrix`, to these units."""
    a, b, c, d, e, f = matrix
    geometry = drawing.geometry
    low, high = geometry.offsets[inside[0]], geometry.offsets[inside[-1] + 1]
    undone = np.linalg.inv(np.array([[a, c], [b, d]]))
    points = (geometry.points[low:high] - (e, f)) @ undone.T
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return (x1 - x0, 0.0, 0.0, y1 - y0, x0, y0)
