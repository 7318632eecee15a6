"""Where and how each finding of a file is best seen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely

from matready.lint import acts
from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import SCORE
from matready.lint.drawing import Floats
from matready.lint.figures.blocks import boxes_named
from matready.lint.figures.figure import lines_of, stretches_in
from matready.lint.figures.paths import path_of, path_of_area
from matready.lint.figures.records import (
    ALIKE,
    MOVED,
    SIZE,
    SPOT,
    THROUGH,
    TWICE,
    Moving,
    Spot,
)
from matready.lint.figures.windows import Window, times_to_fit, window_around, window_at
from matready.lint.finding import Box, Finding, Point, box_around
from matready.lint.results import FindingRecord

if TYPE_CHECKING:
    from matready.lint.results import FixedRecord

# What a fix does decides how its finding is seen; whatever is not named here is seen as it lies.
_SIGHTS: dict[type[acts.Act], str] = {
    acts.Gather: MOVED,
    acts.Drop: TWICE,
    acts.Resize: SIZE,
    acts.Perforate: THROUGH,
    acts.Entitle: ALIKE,
    acts.PutBehind: ALIKE,
    acts.Purge: ALIKE,
    acts.WriteOut: ALIKE,
    acts.Split: ALIKE,
}
_BESIDE_MM = 0.6  # lines of a finding are lit up so far around its box
_HALO_MM = 0.02  # a halo is wider than it has to be exact
_FEW_MM = 12.0  # what is told of many is looked at so closely that so much is seen
_SHIFT = 0.16  # a piece that is moved goes so far, as a share of its longer side


def spot_of(cutout: Cutout, found: Finding, gathers: bool = False) -> Spot:
    """Where and how a finding is seen; one that `gathers` may be about many things."""
    sight = _SIGHTS.get(type(found.fix.act), SPOT) if found.fix else SPOT
    halo = "" if sight == SIZE else path_of(_named_lines(cutout, found), _HALO_MM)
    if found.fix and isinstance(found.fix.act, acts.Gather):
        moving, box = _moving(cutout, found, found.fix.act.unit)
        middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        return Spot(halo, sight, window_around(box, middle, calm=0.96), moving)
    window = _window(cutout, found, sight)
    return Spot(halo, sight, window, places=_gathered(cutout, found) if gathers else ())


def _gathered(cutout: Cutout, found: Finding) -> tuple[Point, ...]:
    """The places of all texts, pictures or pieces that a finding is about, its own among them.

    None where they are known already, or where it is about something else in the same elements.
    """
    boxes, nodes = boxes_named(cutout, found.elements), set(found.nodes)
    middles = [((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in boxes]
    inner = (
        piece.card.representative_point()
        for piece in cutout.pieces
        if nodes and nodes.issuperset(cutout.nodes(piece.own))
    )
    places = [*middles, *((point.x, point.y) for point in inner)]
    if found.places or found.at not in places:
        return ()
    return tuple((round(x, 3), round(y, 3)) for x, y in places)


def _named_lines(cutout: Cutout, found: Finding) -> list[Floats]:
    """The stretches of the lines that a finding names, in and around its box.

    What draws no line, such as a text, is seen by the box around it, and so are lines none of which
    is drawn.
    """
    if found.box is None:
        return []
    owner = cutout.drawing.line_node
    lines = np.flatnonzero(np.isin(owner, found.nodes)).tolist()
    x0, y0, x1, y1 = found.box
    around = x0 - _BESIDE_MM, y0 - _BESIDE_MM, x1 + _BESIDE_MM, y1 + _BESIDE_MM
    stretches = stretches_in(around, lines_of(cutout, lines))
    boxes = boxes_named(cutout, found.elements) or [found.box]
    return stretches or [shapely.get_coordinates(shapely.box(*box)) for box in boxes]


def _window(cutout: Cutout, found: Finding, sight: str) -> Window | None:
    """The close-up of a finding, None where there is nothing to be seen closer."""
    at, box = found.at, found.box
    if at is None or box is None:
        return None
    if sight == SIZE:
        page = cutout.drawing.page.size_mm or (box[2], box[3])
        return window_at((page[0] / 2, page[1] / 2), times_to_fit([page]))
    if sight == THROUGH or len(found.places) > 1:
        if sight == ALIKE:
            return None
        half = _FEW_MM / 2
        box = at[0] - half, at[1] - half, at[0] + half, at[1] + half
    measured = found.measured
    width = measured.value if measured and measured.unit == "mm" else None
    return window_around(box, at, width)


def _moving(cutout: Cutout, found: Finding, unit: int) -> tuple[Moving, Box]:
    """The pieces of a unit on the move, and the box around where they were and where they go."""
    pieces = [piece for piece in cutout.pieces if piece.unit == unit]
    box = box_around(piece.box for piece in pieces)
    far = _SHIFT * max(box[2] - box[0], box[3] - box[1])
    by = round(far, 3), round(-far, 3)
    named = set(np.flatnonzero(np.isin(cutout.drawing.line_node, found.nodes)).tolist())
    folds = {line for piece in pieces for k in piece.folds for line in cutout.folds[k].lines}
    left = {line for line in folds & named if cutout.roles.role[line] == SCORE}
    edges = {
        line
        for piece in pieces
        for part in (piece.own, *(hole.lines for hole in piece.holes))
        for line in part
    }
    return Moving(
        by_mm=by,
        card="".join(path_of_area(piece.card) for piece in pieces),
        cut=_drawn(cutout, edges),
        score=_drawn(cutout, folds - left),
        left=_drawn(cutout, left),
    ), (box[0], box[1] + by[1], box[2] + by[0], box[3])


def _drawn(cutout: Cutout, lines: Iterable[int]) -> str:
    return path_of(lines_of(cutout, sorted(lines)))


def matched(
    records: Sequence[FindingRecord], each: Sequence[tuple[FindingRecord, Finding]]
) -> list[Finding]:
    """For each record the finding that it was made of, the telling one where it stands for many."""
    known = {key_of(record): found for record, found in reversed(each)}
    return [known[key_of(record)] for record in records]


def key_of(record: FindingRecord | FixedRecord) -> tuple[object, ...]:
    """What a finding and the record of its fix have in common."""
    whole = isinstance(record, FindingRecord) and record.of_whole_page
    return record.rule, record.message, None if whole else record.at_mm
