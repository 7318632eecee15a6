"""Stretches of folds beside every piece: past an edge, across a hole, on the bare sheet."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.doubtful import believed, is_guide
from matready.lint.cutting.unseen import hidden_boxes
from matready.lint.drawing import Ints

_ALL_OVER = 0.9  # a score as long as this share of the page is a line across the sheet, no fold
_ROUNDING_MM = 1e-3
_TOGETHER_MM = 3.0  # folds of one piece come this near to each other at its corners, tie and tie
_QUARTER = 4  # steps of a quarter turn around what is made wider


class Stray(NamedTuple):
    """A fold (index into Cutout.folds) that strays, and where.

    `piece` is the index of the piece that holds most of it, -1 for none. `stretches` are (line,
    from, to) in mm along the line; `past_mm` is the longest one, `at` its middle; `in_hole` tells
    that this one crosses a hole.
    """

    fold: int
    piece: int
    stretches: tuple[tuple[int, float, float], ...]
    past_mm: float
    at: tuple[float, float]
    in_hole: bool


def find_strays(cutout: Cutout) -> list[Stray]:
    """Folds that stray by more than a hairline; none where nothing falls out at all."""
    lines = np.array([line for fold in cutout.folds for line in fold.lines], np.int64)
    if not len(lines) or not cutout.pieces:
        return []
    paths = _paths(cutout, lines)
    cards = np.array([piece.card for piece in cutout.pieces])
    tree = shapely.STRtree(cards)
    # Folds drawn to the edge may miss it by the last digit of a number, so the second look is wide.
    inside = np.zeros(len(lines), bool)
    inside[tree.query(paths, "covered_by")[0]] = True
    doubtful = set(lines[~inside].tolist())
    path_of = dict(zip(lines.tolist(), paths, strict=True))
    unfinished = _unfinished(cutout)
    found, known = [], list[shapely.Geometry]()
    for number, fold in enumerate(cutout.folds):
        if doubtful.isdisjoint(fold.lines) or cutout.mostly_on_cuts(fold.lines):
            continue
        whole = shapely.multilinestrings([path_of[line] for line in fold.lines])
        near = tree.query(whole, "dwithin", distance=cutout.distances.hairline_mm)
        around = cards[np.sort(near)]
        past = _past(cutout, whole, around)
        if past.intersects(unfinished):
            known.append(whole)
        elif not past.is_empty and (stray := _stray(cutout, number, whole, around)) is not None:
            found.append(stray)
    kept = set(believed(cutout, (stray.fold for stray in found)))
    return _unexplained(cutout, [stray for stray in found if stray.fold in kept], known)


def _past(cutout: Cutout, whole: shapely.Geometry, cards: np.ndarray) -> shapely.Geometry:
    """What of a fold lies farther than a hairline from all card."""
    card = shapely.union_all(cards)
    return whole.difference(card.buffer(cutout.distances.hairline_mm, quad_segs=_QUARTER))


def _stray(cutout: Cutout, number: int, whole: shapely.Geometry, cards: np.ndarray) -> Stray | None:
    hairline, card = cutout.distances.hairline_mm, shapely.union_all(cards)
    roomy = card.buffer(_ROUNDING_MM, quad_segs=_QUARTER)
    stretches, parts = [], []
    for line in cutout.folds[number].lines:
        (path,) = _paths(cutout, np.array([line]))
        for part in shapely.get_parts(shapely.difference(path, card)):
            if not roomy.covers(part):
                half, at = part.length / 2, path.project(part.interpolate(0.5, normalized=True))
                stretches.append((line, max(at - half, 0.0), min(at + half, path.length)))
                parts.append(part)
    within = whole.length - sum(part.length for part in parts)
    if is_guide(cutout, number) or (within <= hairline and _spans_the_sheet(cutout, whole)):
        return None
    longest = max(parts, key=lambda part: part.length)
    middle = longest.interpolate(0.5, normalized=True)
    return Stray(
        number,
        -1 if within <= hairline else _owner(cutout, whole),
        tuple(stretches),
        longest.length,
        (middle.x, middle.y),
        any(shapely.Polygon(one.exterior).contains(middle) for one in cards),
    )


def _owner(cutout: Cutout, whole: shapely.Geometry) -> int:
    shares = [
        whole.intersection(piece.card).length if whole.intersects(piece.card) else 0.0
        for piece in cutout.pieces
    ]
    return int(np.argmax(shares))


def _spans_the_sheet(cutout: Cutout, whole: shapely.Geometry) -> bool:
    """True for a frame around pieces, or a line across the page: marks, and no fold of anything."""
    x0, y0, x1, y1 = whole.bounds
    size = cutout.drawing.page.size_mm
    if size is not None and max(x1 - x0, y1 - y0) >= _ALL_OVER * min(size):
        return True
    return any(shapely.box(x0, y0, x1, y1).contains(piece.card) for piece in cutout.pieces)


def _unfinished(cutout: Cutout) -> shapely.Geometry:
    """The boxes in which pieces would lie whose outlines are still open."""
    boxes = [
        shapely.box(*cutout.box(opening.lines)) for opening in cutout.openings if opening.lines
    ]
    return shapely.union_all(boxes).buffer(cutout.distances.hairline_mm)


def _unexplained(cutout: Cutout, strays: list[Stray], known: list[shapely.Geometry]) -> list[Stray]:
    """Strays but for those on bare sheet whose piece is missing for a reason that is told.

    Its outline is hidden, or it is open and they lie together with folds that are `known` to be
    its own.
    """
    left = [stray for stray in strays if stray.piece < 0]
    kept = [stray for stray in strays if stray.piece >= 0]
    if not left or not (known or cutout.drawing.unseen):
        return strays
    hidden = _hidden(cutout)
    paths = {stray.fold: _whole(cutout, stray.fold) for stray in left}
    left = [stray for stray in left if not hidden.covers(paths[stray.fold])]
    while near := {
        stray.fold
        for stray in left
        if known and shapely.dwithin(paths[stray.fold], shapely.union_all(known), _TOGETHER_MM)
    }:
        known = [paths[fold] for fold in near]
        left = [stray for stray in left if stray.fold not in near]
    return sorted((*kept, *left), key=lambda stray: stray.fold)


def _hidden(cutout: Cutout) -> shapely.Geometry:
    """Where pieces would lie whose outlines are hidden; a frame around others is no outline."""
    boxes = hidden_boxes(cutout.drawing, cutout.distances.flatten_mm)
    tree = shapely.STRtree([piece.card for piece in cutout.pieces])
    frames = tree.query(boxes, "contains")[0]
    missing = shapely.union_all(np.delete(boxes, frames))
    return missing.buffer(cutout.distances.hairline_mm)


def _whole(cutout: Cutout, fold: int) -> shapely.Geometry:
    return shapely.multilinestrings(_paths(cutout, np.array(cutout.folds[fold].lines)))


def _paths(cutout: Cutout, lines: Ints) -> np.ndarray:
    points = [cutout.drawing.geometry.line(line) for line in lines.tolist()]
    ends = np.cumsum([0, *map(len, points)])
    index = np.repeat(np.arange(len(lines)), [b - a for a, b in pairwise(ends)])
    return np.asarray(shapely.linestrings(np.vstack(points), indices=index))
