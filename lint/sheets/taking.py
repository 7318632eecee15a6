"""A drawing taken apart: its pieces as parts that can be moved, with all lines that lie in them."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np
import shapely

from matready.lint.allowances import ATTRIBUTE
from matready.lint.cutting import Cutout, Piece
from matready.lint.cutting.roles import NAMES, texts_of
from matready.lint.drawing import Drawing
from matready.lint.inspection import Inspection, not_checked
from matready.lint.repair.curves import Curve
from matready.lint.results import ALLOWING, LEFT_OUT, READING
from matready.lint.settings import Settings
from matready.lint.sheets.exact import Inexact, exact_lines
from matready.lint.sheets.order import in_order
from matready.lint.sheets.owners import find_owners, left_out, path_of
from matready.lint.sheets.parts import CUT, FileParts, Marks, Part, PartLine, Refusal
from matready.lint.sheets.refusing import refusals_of

_LEAST_MM = 0.001  # a shorter line is no line to a blade, and might vanish when it is written
_SLIVER_MM = 0.05  # half the width that a line past its card keeps free
_ON_EDGE_MM = 1e-3  # a line drawn to the edge may miss it by rounding
_LOOKS = 9  # places along a cut that are looked at to tell whether it is the outline
_BETWEEN = re.compile(r"[\s,]+")


def parts_of(inspection: Inspection, settings: Settings) -> FileParts:
    """Take a drawing apart that the rules have looked at; nothing of it is dropped in silence."""
    cutout = inspection.cutout
    file = cutout.drawing.source.name
    names = tuple(piece.name for piece in cutout.pieces)
    owners = find_owners(cutout, _LEAST_MM)
    refusals = refusals_of(inspection, settings, owners, file)
    parts: list[Part] = []
    try:
        if not any(refusal.whole for refusal in refusals):
            refused = {name for refusal in refusals for name in refusal.pieces}
            parts = _parts(inspection, owners.lines, refused)
    except Inexact as why:
        parts = []
        refusals = (Refusal(file, names, f"{why}; save it again as plain paths", whole=True),)
    said = (*left_out(cutout, owners), *(_unread(inspection) if parts else ()))
    return FileParts(file, names, tuple(parts), refusals, said)


def _unread(inspection: Inspection) -> list[str]:
    """What was not read, not looked at, or puts no line down: it may be missing on the mat."""
    said = []
    for one in not_checked(inspection):
        if one.rule == READING:
            said.append(f"not read: {one.reason}")
        elif one.rule == LEFT_OUT:
            said.append(one.reason)
        elif one.rule != ALLOWING:
            said.append(f"not checked by {one.rule}: {one.reason}")
    return said


def _parts(inspection: Inspection, lines: dict[int, list[int]], refused: set[str]) -> list[Part]:
    cutout = inspection.cutout
    found = frozenset(rule.name for rule, _ in (*inspection.findings(), *inspection.yielded))
    units: dict[int, list[Piece]] = {}
    for piece in cutout.pieces:
        units.setdefault(piece.unit, []).append(piece)
    curves = exact_lines(cutout.drawing)
    return [
        _part(cutout, pieces, lines[unit], curves, found)
        for unit, pieces in units.items()
        if refused.isdisjoint(piece.name for piece in pieces)
    ]


def _part(
    cutout: Cutout,
    pieces: list[Piece],
    lines: list[int],
    curves: list[tuple[Curve, ...]],
    found: frozenset[str],
) -> Part:
    cards = tuple(piece.card for piece in pieces)
    card = shapely.union_all(cards)
    edge = shapely.union_all([part.exterior for part in _polygons(card)])
    drawing = cutout.drawing
    nodes = {node for line in lines for node in drawing.ancestors(int(drawing.line_node[line]))}
    names = tuple(piece.name for piece in pieces)
    return Part(
        name=_called(names),
        file=drawing.source.name,
        pieces=names,
        cards=cards,
        scores=tuple(score_lines(cutout, piece) for piece in pieces),
        shape=_with_slivers(card, path_of(cutout, lines)),
        lines=in_order([_line(cutout, line, curves[line], edge) for line in lines]),
        marks=_marks(cutout, pieces),
        allowed=tuple(sorted(_allowed(drawing, nodes))),
        found=found,
    )


def score_lines(cutout: Cutout, piece: Piece) -> int:
    """How many score lines a piece has, each dash of a row for itself."""
    return sum(len(cutout.folds[fold].lines) for fold in piece.folds)


def _called(names: tuple[str, ...]) -> str:
    more = len(names) - 1
    return names[0] + (f" and {more} more" if more else "")


def _polygons(area: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in shapely.get_parts(area) if isinstance(part, shapely.Polygon)]


def _with_slivers(
    card: shapely.Geometry, lines: shapely.MultiLineString
) -> shapely.Polygon | shapely.MultiPolygon:
    """The card, and a thin strip along what of the lines reaches past it."""
    past = shapely.difference(lines, card.buffer(_ON_EDGE_MM, quad_segs=2))
    if not past.is_empty:
        card = shapely.union(card, past.buffer(_SLIVER_MM, quad_segs=2))
    polygons = _polygons(card)
    return polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)


def _line(cutout: Cutout, line: int, curves: tuple[Curve, ...], edge: shapely.Geometry) -> PartLine:
    drawing, geometry = cutout.drawing, cutout.drawing.geometry
    points = geometry.line(line)
    role = NAMES[int(cutout.roles.role[line])]
    whole = shapely.LineString(points)
    inner = False
    if role == CUT:
        looks = shapely.line_interpolate_point(
            whole, (np.arange(_LOOKS) + 0.5) / _LOOKS, normalized=True
        )
        on_edge = shapely.distance(looks, edge) <= cutout.distances.same_place_mm
        inner = bool(on_edge.sum() * 2 < _LOOKS)
    return PartLine(
        role=role,
        inner=inner,
        closed=bool(geometry.closed[line]),
        curves=curves,
        points=points,
        length_mm=float(whole.length),
        dashes_mm=_dashes_mm(drawing, int(drawing.line_node[line])),
    )


def _dashes_mm(drawing: Drawing, node: int) -> tuple[float, ...]:
    """The dashes that a line is shown with, in mm, by the mean of both scales."""
    dashes = drawing.nodes[node].style.dashes
    if not dashes:
        return ()
    a, b, c, d, _, _ = drawing.nodes[node].matrix
    scale = abs(a * d - b * c) ** 0.5
    return tuple(round(dash * scale, 3) for dash in dashes)


def _marks(cutout: Cutout, pieces: list[Piece]) -> Marks:
    drawing = cutout.drawing
    own = {node for piece in pieces for node in cutout.nodes(piece.own)}
    above = {node for one in own for node in drawing.ancestors(one)} - {0}
    groups = [node for node in above if drawing.nodes[node].kind in ("g", "svg", "symbol", "a")]
    fills = {drawing.nodes[node].style.fill for node in own}
    return Marks(
        ids=frozenset(_ids(drawing, above)),
        layers=frozenset(text for node in groups for text in texts_of(drawing, node)),
        fills=frozenset(fills - {"none", "url"}),
    )


def _ids(drawing: Drawing, nodes: Iterable[int]) -> set[str]:
    return {str(drawing.nodes[node].element.get("id", "")) for node in nodes} - {""}


def _allowed(drawing: Drawing, nodes: Iterable[int]) -> set[str]:
    """Rules that are silenced somewhere in a part."""
    texts = [str(drawing.nodes[node].element.get(ATTRIBUTE, "")) for node in nodes]
    return {name for text in texts for name in _BETWEEN.split(text) if name}
