"""Parts to mats: each paper packed by itself, then its sheets laid on mats."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import ceil

from matready.lint.sheets.laid import Mat, Placement
from matready.lint.sheets.mats import Filled, lay, prove_papers, share
from matready.lint.sheets.packing import Packing, pack
from matready.lint.sheets.papers import Paper, Sheet, Turn
from matready.lint.sheets.parts import Part, Refusal
from matready.lint.sheets.room import room_of
from matready.lint.sheets.verify import verify
from matready.lint.sizes import MM_PER_INCH, in_inches

OnProgress = Callable[[str, int, int], None]
"""Called with the paper's name, the rounds done, and how many there are."""

TURNS_DEG: dict[Turn, tuple[float, ...] | None] = {
    "any": None,
    "quarter": (0.0, 90.0, 180.0, 270.0),
    "half": (0.0, 180.0),
    "none": (0.0,),
}

# Drawings are rounded, to a thousandth of a px as a rule: what is larger by this fits all the same.
_ROUNDED_MM = 0.001
_MOST_DECIMALS = 4
_HAIR = 1e-9  # a share of a sheet: sums of areas are rounded


@dataclass(frozen=True, slots=True)
class Layout:
    """How to lay pieces: the mat and the distances in mm, how long to search, and the seed.

    `flatten_mm` is how far the shapes of parts may be off their curves.
    """

    mat: tuple[float, float]
    margin_mm: float
    gap_mm: float
    flatten_mm: float
    turn: Turn
    seconds: float
    seed: int


@dataclass(frozen=True, eq=False, slots=True)
class Plan:
    """What is on which mat, and what is on none.

    No layout can use fewer mats than `least`. `complete` is False where the search was ended by the
    clock or by an interrupt.
    """

    mats: tuple[Mat, ...]
    refusals: tuple[Refusal, ...]
    least: int
    complete: bool
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Work:
    """One paper with its parts, and what came of packing them."""

    paper: Paper
    parts: list[Part] = field(default_factory=list)
    packing: Packing | None = None


def plan(
    parts: Sequence[Part],
    papers: Sequence[Paper],
    layout: Layout,
    on_progress: OnProgress | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """Lay parts, each once and on the paper that it names, on the fewest mats.

    Papers without any sheets are as large as the mat. Raises ValueError for a layout that fails its
    proof.
    """
    whole = [_with_sheets(paper, layout.mat) for paper in papers]
    works = {paper.name: _Work(paper) for paper in whole}
    for part in parts:
        works[part.paper].parts.append(part)
    busy = [work for work in works.values() if work.parts]
    _pack(busy, layout, on_progress, stop)
    sheets = [sheet for work in busy for sheet in _filled(work)]
    mats = lay(sheets, whole, layout.mat, layout.gap_mm)
    for mat in mats:
        prove_papers(mat)
    refusals = tuple(refusal for work in busy for refusal in _not_placed(work, layout))
    return Plan(
        mats=mats,
        refusals=refusals,
        least=_least(busy, layout),
        complete=all(work.packing.complete for work in busy if work.packing),
        notes=tuple(note for work in busy for note in _grain_notes(work)),
    )


def _with_sheets(paper: Paper, mat: tuple[float, float]) -> Paper:
    return paper if paper.sheets else replace(paper, sheets=(Sheet(*mat),))


def _pack(
    works: Sequence[_Work],
    layout: Layout,
    on_progress: OnProgress | None,
    stop: Callable[[], bool] | None,
) -> None:
    """Pack one paper after the other, each for its share of the time, and prove each exactly.

    The shares follow from the parts alone: how long another paper took must not change the layout.
    """
    parts = sum(len(work.parts) for work in works)
    for work in works:
        shapes = [room_of(part, layout.flatten_mm) for part in work.parts]
        sheets = [_a_hair_larger(sheet) for sheet in work.paper.sheets]
        work.packing = pack(
            shapes,
            sheets,
            gap_mm=layout.gap_mm,
            margin_mm=layout.margin_mm,
            turns_deg=TURNS_DEG[work.paper.turn(layout.turn)],
            seed=layout.seed,
            seconds=layout.seconds * len(work.parts) / parts,
            on_progress=_for_paper(on_progress, work.paper.name),
            stop=stop,
        )
        verify(
            shapes,
            sheets,
            work.packing,
            gap_mm=layout.gap_mm,
            margin_mm=layout.margin_mm,
            names=[part.name for part in work.parts],
        )


def _a_hair_larger(sheet: Sheet) -> Sheet:
    return replace(
        sheet, width_mm=sheet.width_mm + _ROUNDED_MM, height_mm=sheet.height_mm + _ROUNDED_MM
    )


def _for_paper(on_progress: OnProgress | None, name: str) -> Callable[[int, int], None] | None:
    if on_progress is None:
        return None
    return lambda done, rounds: on_progress(name, done, rounds)


def _filled(work: _Work) -> Iterator[Filled]:
    """The used sheets of a paper with their parts."""
    assert work.packing is not None
    on: list[list[Placement]] = [[] for _ in work.packing.used]
    for part, place in zip(work.parts, work.packing.places, strict=True):
        if place is not None:
            on[place.sheet].append(Placement(part, place.turn_deg, place.dx, place.dy))
    for number, (used, placements) in enumerate(zip(work.packing.used, on, strict=True), start=1):
        sheet = work.paper.sheets[used.given]
        yield Filled(work.paper, number, sheet.width_mm, sheet.height_mm, tuple(placements))


def _not_placed(work: _Work, layout: Layout) -> Iterator[Refusal]:
    assert work.packing is not None
    for index in work.packing.too_big:
        part = work.parts[index]
        yield Refusal(part.file, part.pieces, _too_big(part, work.paper, layout))
    for index in work.packing.without_room:
        part = work.parts[index]
        yield Refusal(
            part.file,
            part.pieces,
            f"all sheets of {work.paper.name} at hand are used; add to its count, or another size",
        )


def _too_big(part: Part, paper: Paper, layout: Layout) -> str:
    """What is said of a part that fits nowhere, in as many decimals as show that it does not."""
    room = max(paper.sheets, key=lambda sheet: sheet.width_mm * sheet.height_mm)
    space = (room.width_mm - 2 * layout.margin_mm, room.height_mm - 2 * layout.margin_mm)
    x0, y0, x1, y1 = room_of(part, layout.flatten_mm).bounds
    size = (x1 - x0, y1 - y0)
    ways = [size, size[::-1]] if paper.turn(layout.turn) in ("any", "quarter") else [size]
    decimals = next(d for d in range(1, _MOST_DECIMALS + 1) if not _seems_to_fit(ways, space, d))
    sides, sides_of_space = (_sides(of, decimals, layout.mat) for of in (size, space))
    return (
        f"it is {sides} and fits in no turn that is allowed: the largest space on {paper.name} is "
        f"{sides_of_space}, margins taken off"
    )


def _sides(size: tuple[float, float], decimals: int, mat: tuple[float, float]) -> str:
    """Width and height, in inches beside where the mat is told in inches."""
    text = " × ".join(f"{side:.{decimals}f}" for side in size) + " mm"
    if in_inches(mat):
        text += f" ({' × '.join(f'{side / MM_PER_INCH:.{decimals + 1}f}' for side in size)} in)"
    return text


def _seems_to_fit(
    ways: Iterable[tuple[float, float]], space: tuple[float, float], decimals: int
) -> bool:
    """Whether sides that are told so roughly look as if they fitted."""
    if decimals == _MOST_DECIMALS:
        return False
    return any(
        all(round(a, decimals) <= round(b, decimals) for a, b in zip(way, space, strict=True))
        for way in ways
    )


def _least(works: Sequence[_Work], layout: Layout) -> int:
    """So many mats any layout of the parts that are placed needs.

    Sheets beside which no other has room count each; of others, which may share a mat, only the
    area does, and so it does where parts are left over: the packing's own bound is for those, too.
    """
    alone, area = 0, 0.0
    others = [sheet for work in works for sheet in work.paper.sheets]
    for work in works:
        if work.packing is None:
            continue
        placed = zip(work.parts, work.packing.places, strict=True)
        own = sum(part.shape.area for part, place in placed if place is not None)
        if any(share(one, other, layout.mat) for one in work.paper.sheets for other in others):
            area += own
        elif work.packing.without_room:
            alone += _times(own, max(one.width_mm * one.height_mm for one in work.paper.sheets))
        else:
            alone += work.packing.bound
    return alone + _times(area, layout.mat[0] * layout.mat[1])


def _times(area: float, room: float) -> int:
    """How many rooms of one size an area needs."""
    return ceil(area / room - _HAIR)


def _grain_notes(work: _Work) -> Iterator[str]:
    """How folds run to the grain: pieces are not turned across it, so this is as it was drawn."""
    paper = work.paper
    if paper.grain is None:
        return
    along = across = 0.0
    for line in (line for part in work.parts for line in part.lines if line.role == "score"):
        way = line.end - line.start
        if (abs(way.real) >= abs(way.imag)) == (paper.grain == "x"):
            along += line.length_mm
        else:
            across += line.length_mm
    if along + across > 0:
        cracks = f", and {across:.0f} mm across it, where thick card may crack" if across else ""
        yield (
            f"{paper.name}: {along:.0f} mm of its score lines run along the grain, where a fold is "
            f"crispest{cracks}"
        )
