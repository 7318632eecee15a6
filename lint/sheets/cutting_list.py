"""The cutting list: mat by mat what to lay where, which pieces come of it, how long it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Annotated, NamedTuple

from msgspec import Meta, Struct

from matready.lint.earlier import MATS_SCHEMA
from matready.lint.results import Count, Length, Ordinal
from matready.lint.sheets.laid import Mat, Placement
from matready.lint.sheets.parts import CUT, DRAW, SCORE, Refusal
from matready.lint.sheets.turning import Motion

Share = Annotated[float, Meta(ge=0)]


class LaidRecord(Struct, frozen=True):
    """A sheet of paper to lay on the mat, its corner and size in mm; `sheet` counts from 1.

    `in_pass` tells, from 1, in which pass of the blade it is cut: papers of one stock share one.
    `used_share` is the share of it that the pieces are.
    """

    paper: str
    stock: str
    sheet: Ordinal
    in_pass: Ordinal
    at_mm: tuple[float, float]
    size_mm: tuple[Length, Length]
    used_share: Share


class PartRecord(Struct, frozen=True):
    """What moves as one on the mat: a piece, or several that share a cut.

    `pieces` are their names in `file`, `copy` counts from 1. It is turned by `turn_deg`, from x to
    y, and lies in `box_mm` (x0, y0, x1, y1 on the mat).
    """

    name: str
    file: str
    pieces: tuple[str, ...]
    copy: Ordinal
    paper: str
    turn_deg: float
    box_mm: tuple[float, float, float, float]
    cut_mm: Length
    score_mm: Length


class MatRecord(Struct, frozen=True):
    """One mat; `number` is its place in the order to load, `file` what it is cut from.

    `blade_s` is the time on the lines alone; `travel_mm` is how far the blade goes between them.
    """

    number: Ordinal
    file: str
    size_mm: tuple[Length, Length]
    papers: tuple[LaidRecord, ...]
    parts: tuple[PartRecord, ...]
    cut_mm: Length
    score_mm: Length
    draw_mm: Length
    travel_mm: Length
    blade_s: Length


class RefusedRecord(Struct, frozen=True):
    """Pieces that are on no mat for one reason, each as often as it was wanted.

    `whole` where all of the file is refused.
    """

    file: str
    pieces: tuple[str, ...]
    whole: bool
    reason: str


class LeftOutRecord(Struct, frozen=True):
    """What of a file is on no mat: it belongs to no piece, is hidden, or could not be read."""

    file: str
    what: str


class Pass(NamedTuple):
    """One pass of the blade over a mat: papers of one stock, and the numbers of its parts."""

    stock: str
    papers: tuple[str, ...]
    numbers: tuple[int, ...]


class SheetsTotals(Struct, frozen=True):
    """Sums of the run; no layout can use fewer mats than `least`."""

    files: Count
    pieces: Count
    placed: Count
    refused: Count
    mats: Count
    least: Count
    cut_mm: Length
    score_mm: Length
    blade_s: Length


class CuttingList(Struct, frozen=True):
    """All that a run of `sheets` made; `complete` is False where its search was ended early."""

    schema: str
    mats: tuple[MatRecord, ...]
    refused: tuple[RefusedRecord, ...]
    left_out: tuple[LeftOutRecord, ...]
    notes: tuple[str, ...]
    speed_mm_s: Annotated[float, Meta(gt=0)]
    complete: bool
    totals: SheetsTotals


def cutting_list(
    mats: Mapping[str, Mat],
    refusals: Sequence[Refusal],
    left_out: Iterable[tuple[str, str]],
    *,
    files: int,
    least: int,
    speed_mm_s: float,
    complete: bool = True,
    notes: Sequence[str] = (),
) -> CuttingList:
    """The records of a run; `mats` by the names of their files, in the order to load them.

    `refusals` name each piece as often as it was wanted. `left_out` are pairs of a file and what
    of it is left out.
    """
    records = tuple(mat_record(name, mat, speed_mm_s) for name, mat in mats.items())
    placed = sum(len(part.pieces) for mat in records for part in mat.parts)
    refused = sum(len(refusal.pieces) for refusal in refusals)
    return CuttingList(
        schema=MATS_SCHEMA,
        mats=records,
        refused=_merged(refusals),
        left_out=tuple(LeftOutRecord(*pair) for pair in left_out),
        notes=tuple(notes),
        speed_mm_s=speed_mm_s,
        complete=complete,
        totals=SheetsTotals(
            files=files,
            pieces=placed + refused,
            placed=placed,
            refused=refused,
            mats=len(records),
            least=least,
            cut_mm=_rounded(sum(mat.cut_mm for mat in records)),
            score_mm=_rounded(sum(mat.score_mm for mat in records)),
            blade_s=_rounded(sum(mat.blade_s for mat in records)),
        ),
    )


def _merged(refusals: Iterable[Refusal]) -> tuple[RefusedRecord, ...]:
    """One record for each file and reason, in the order in which they were met."""
    pieces: dict[tuple[str, bool, str], list[str]] = {}
    for one in refusals:
        pieces.setdefault((one.file, one.whole, one.reason), []).extend(one.pieces)
    return tuple(
        RefusedRecord(file, tuple(of), whole, reason)
        for (file, whole, reason), of in pieces.items()
    )


def mat_record(file: str, mat: Mat, speed_mm_s: float) -> MatRecord:
    """One mat as plain data; its parts in the order in which they are cut."""
    cut, score, draw = (
        sum(place.part.length_mm(role) for place in mat.placements) for role in (CUT, SCORE, DRAW)
    )
    return MatRecord(
        number=mat.number,
        file=file,
        size_mm=(_rounded(mat.width_mm), _rounded(mat.height_mm)),
        papers=tuple(_laid_record(mat, k) for k in range(len(mat.papers))),
        parts=tuple(_part_record(mat, place) for place in mat.placements),
        cut_mm=_rounded(cut),
        score_mm=_rounded(score),
        draw_mm=_rounded(draw),
        travel_mm=_rounded(travel_mm(mat)),
        blade_s=_rounded((cut + score + draw) / speed_mm_s),
    )


def _laid_record(mat: Mat, number: int) -> LaidRecord:
    laid = mat.papers[number]
    used = sum(
        card.area for place in mat.placements if place.laid == number for card in place.part.cards
    )
    return LaidRecord(
        paper=laid.paper,
        stock=laid.stock,
        sheet=laid.sheet,
        in_pass=next(k for k, papers in enumerate(mat.passes, 1) if number in papers),
        at_mm=(_rounded(laid.x_mm), _rounded(laid.y_mm)),
        size_mm=(_rounded(laid.width_mm), _rounded(laid.height_mm)),
        used_share=round(used / (laid.width_mm * laid.height_mm), 4),
    )


def _part_record(mat: Mat, place: Placement) -> PartRecord:
    part = place.part
    x0, y0, x1, y1 = map(_rounded, Motion.of(place).area(part.shape).bounds)
    return PartRecord(
        name=part.name,
        file=part.file,
        pieces=part.pieces,
        copy=part.copy,
        paper=mat.papers[place.laid].paper,
        turn_deg=round(place.turn_deg % 360, 3),
        box_mm=(x0, y0, x1, y1),
        cut_mm=_rounded(part.length_mm(CUT)),
        score_mm=_rounded(part.length_mm(SCORE)),
    )


def passes_of(mat: MatRecord) -> list[Pass]:
    """The passes over a mat in their order; its parts are numbered from 1."""
    passes = []
    for number in sorted({laid.in_pass for laid in mat.papers}):
        its = [laid for laid in mat.papers if laid.in_pass == number]
        papers = tuple(dict.fromkeys(laid.paper for laid in its))
        parts = [k for k, part in enumerate(mat.parts, 1) if part.paper in papers]
        passes.append(Pass(its[0].stock, papers, tuple(parts)))
    return passes


def travel_mm(mat: Mat) -> float:
    """How far the blade goes lifted: from the top-left corner to the first line, and on."""
    ends = [0j]
    for place in mat.placements:
        motion = Motion.of(place)
        for line in place.part.lines:
            ends += (motion.point(line.start), motion.point(line.end))
    return float(sum(abs(b - a) for a, b in list(pairwise(ends))[::2]))


def _rounded(value: float) -> float:
    return round(float(value), 3) + 0.0
