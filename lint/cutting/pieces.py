"""Pieces: what falls out of the card, with its holes, its folds and its name."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import shapely

from matready.lint.cutting.blade import Blade
from matready.lint.cutting.faces import Face
from matready.lint.cutting.folds import Fold
from matready.lint.cutting.naming import name_pieces
from matready.lint.cutting.near import components
from matready.lint.drawing import Drawing, Floats
from matready.lint.finding import Box


@dataclass(frozen=True, eq=False, slots=True)
class Hole:
    """The waste that drops out of a piece; `lines` (drawing numbers) run around it."""

    waste: shapely.Polygon
    lines: tuple[int, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """One piece: its card (holes left out) in mm, the lines of its outline, holes and folds.

    `folds` index Cutout.folds; `lines` number the drawing's lines. `own` are the lines that mostly
    run around this piece; the rest are stretches of a neighbour's. Pieces that hang on the same
    line can't be moved apart: they have one `unit`.
    """

    name: str
    card: shapely.Polygon
    lines: tuple[int, ...]
    own: tuple[int, ...]
    unit: int
    holes: tuple[Hole, ...]
    folds: tuple[int, ...]

    @property
    def box(self) -> Box:
        """x0, y0, x1, y1 in mm."""
        x0, y0, x1, y1 = self.card.bounds
        return x0, y0, x1, y1


_OWN_SHARE = 0.4  # a line is a piece's own when this much of it runs around the piece
_SHARE = 0.25  # a fold belongs to each piece that holds at least this much of it


def _reading_order(boxes: Floats) -> list[int]:
    """Rows from the top, each from the left: pieces whose middles overlap in height are one row."""
    rows: list[list[int]] = []
    bottom = -np.inf
    for k in np.argsort(boxes[:, 1], kind="stable").tolist():
        if (boxes[k, 1] + boxes[k, 3]) / 2 > bottom:
            rows.append([])
            bottom = boxes[k, 3]
        rows[-1].append(k)
    return [k for row in rows for k in sorted(row, key=lambda k: (boxes[k, 0], boxes[k, 1]))]


def _card_of(faces: list[Face], face: int, inside: dict[int, list[int]]) -> shapely.Polygon:
    """A face without the parts that lie inside it."""
    polygon = faces[face].polygon
    children = inside.get(face, [])
    if not children:
        return polygon
    by_part: dict[int, list[int]] = defaultdict(list)
    for child in children:
        by_part[faces[child].part].append(child)
    if all(len(part) == 1 for part in by_part.values()):
        rings = [*polygon.interiors, *(faces[child].polygon.exterior for child in children)]
        cut = shapely.polygons(polygon.exterior, holes=rings)
        if cut.is_valid:
            return cut
    rest = shapely.difference(polygon, shapely.union_all([faces[c].polygon for c in children]))
    parts = [p for p in shapely.get_parts(rest) if isinstance(p, shapely.Polygon)]
    return max(parts, key=lambda p: p.area, default=polygon)


def _holes(faces: list[Face], inside: dict[int, list[int]], blade: Blade) -> dict[int, list[Hole]]:
    """For each card face the waste that drops out of it."""
    holes: dict[int, list[Hole]] = defaultdict(list)
    card_by_line: dict[int, list[int]] = defaultdict(list)
    for k, face in enumerate(faces):
        for line in face.lines if face.card else ():
            card_by_line[line].append(k)
    for k, face in enumerate(faces):
        if face.card:
            continue
        owner = face.parent
        # Waste that shares an edge with card in its own part is a hole of that card.
        beside = [
            c for line in face.lines for c in card_by_line[line] if faces[c].part == face.part
        ]
        if beside:
            owner = max(beside, key=lambda c: faces[c].polygon.area)
        if owner >= 0 and faces[owner].card:
            lines = tuple(int(blade.source[line]) for line in face.lines)
            holes[owner].append(Hole(_card_of(faces, k, inside), lines))
    return holes


def find_pieces(
    drawing: Drawing, blade: Blade, faces: list[Face], folds: list[Fold]
) -> tuple[Piece, ...]:
    """All pieces in reading order."""
    inside: dict[int, list[int]] = defaultdict(list)
    for k, face in enumerate(faces):
        if face.parent >= 0:
            inside[face.parent].append(k)
    cards = [k for k, face in enumerate(faces) if face.card]
    if not cards:
        return ()
    shapes = [_card_of(faces, k, inside) for k in cards]
    order = _reading_order(shapely.bounds(np.array(shapes)))
    cards, shapes = [cards[k] for k in order], [shapes[k] for k in order]
    holes = _holes(faces, inside, blade)
    lines = [tuple(int(blade.source[line]) for line in faces[k].lines) for k in cards]
    own = [_own_lines(faces[k], blade) for k in cards]
    units = _units(lines)
    held = _folds_of(shapes, folds)
    names = name_pieces(drawing, own)
    return tuple(
        Piece(names[k], shapes[k], lines[k], own[k], units[k], tuple(holes[card]), tuple(held[k]))
        for k, card in enumerate(cards)
    )


def _own_lines(face: Face, blade: Blade) -> tuple[int, ...]:
    """The lines that mostly run around a face; all of its lines where it has none of its own."""
    mostly = [n for n, run in face.lines.items() if run >= _OWN_SHARE * blade.total[n]]
    return tuple(int(blade.source[line]) for line in mostly or face.lines)


def _units(around: list[tuple[int, ...]]) -> list[int]:
    """A number for each piece, the same for pieces that share a line, directly or in turn.

    `around` are the lines that run around each; one of them alone has a shared edge no more.
    """
    edges = [(k, line) for k, lines in enumerate(around) for line in lines]
    first: dict[int, int] = {}
    pairs = [(first.setdefault(line, k), k) for k, line in edges]
    i, j = np.array(pairs, np.int64).reshape(-1, 2).T
    return [int(unit) for unit in components(len(around), i, j)]


def _folds_of(shapes: list[shapely.Polygon], folds: list[Fold]) -> list[list[int]]:
    """For each piece the folds that lie in it."""
    held: list[list[int]] = [[] for _ in shapes]
    if not folds:
        return held
    owner = np.repeat(np.arange(len(folds)), [len(fold.samples) for fold in folds])
    points = shapely.points(np.vstack([fold.samples for fold in folds]))
    which, piece = shapely.STRtree(shapes).query(points, "intersects")
    pairs, count = np.unique(owner[which] * len(shapes) + piece, return_counts=True)
    for pair, n in zip(pairs.tolist(), count.tolist(), strict=True):
        fold, of = divmod(pair, len(shapes))
        if n >= _SHARE * len(folds[fold].samples):
            held[of].append(fold)
    return held
