"""What stands on the page of the mats, as plain data and in plain words; no markup."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf
from pathlib import PurePath

from matready.lint.figures.mats import MatPicture
from matready.lint.reports.as_text import lengths, many, name_as_text, shown
from matready.lint.reports.html_words import sentence
from matready.lint.reports.list_as_markdown import counted, duration
from matready.lint.sheets.cutting_list import (
    CuttingList,
    LaidRecord,
    MatRecord,
    RefusedRecord,
    passes_of,
)

_LISTS = ((12, "few"), (26, "some"), (44, "many"), (inf, "most"))
_SAME_MM = 0.01  # sides this near are the same: inches are rounded


@dataclass(frozen=True, slots=True)
class PaperView:
    """A sheet of paper on a mat: what to lay where; the numbers are for its picture, in mm."""

    name: str
    size: str
    place: str
    used: str
    at_mm: tuple[float, float]
    size_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class PartView:
    """A line of a mat's list; `copy` and `paper` are empty where they tell nothing."""

    number: int
    pieces: str
    file: str
    copy: str
    paper: str


@dataclass(frozen=True, slots=True)
class MatView:
    """One mat: `brief` for beside its small picture, `lay` and `facts` for beside the large one.

    `list` says how long its list is, so that all of it goes on one printed page.
    """

    number: int
    file: str
    title: str
    brief: tuple[str, ...]
    lay: str
    facts: tuple[str, ...]
    warning: str
    papers: tuple[PaperView, ...]
    parts: tuple[PartView, ...]
    list: str
    picture: MatPicture


@dataclass(frozen=True, slots=True)
class RefusedView:
    """Pieces that are on no mat; `reason` says why and what to do."""

    file: str
    pieces: str
    reason: str


def mat_views(record: CuttingList, pictures: Sequence[MatPicture]) -> list[MatView]:
    """The mats in the order to load them, each with its picture."""
    names = _short_names(record)
    copied = {part.file for mat in record.mats for part in mat.parts if part.copy > 1}
    return [
        _mat(mat, picture, record.speed_mm_s, names, copied)
        for mat, picture in zip(record.mats, pictures, strict=True)
    ]


def _mat(
    mat: MatRecord, picture: MatPicture, speed_mm_s: float, names: dict[str, str], copied: set[str]
) -> MatView:
    in_inches = picture.unit == "in"
    papers = tuple(_paper(laid, in_inches) for laid in mat.papers)
    several = len({laid.paper for laid in mat.papers}) > 1
    pieces = many(sum(len(part.pieces) for part in mat.parts), "piece")
    return MatView(
        number=mat.number,
        file=shown(mat.file),
        title=f"Mat {mat.number}: {', '.join(dict.fromkeys(shown(p.paper) for p in mat.papers))}",
        brief=("; ".join(paper.name for paper in papers), f"{pieces}, {duration(mat.blade_s)}"),
        lay=_how_to_lay(mat, papers, in_inches),
        facts=(pieces, *_work(mat, speed_mm_s), *_used(papers)),
        warning=_two_stocks(mat),
        papers=papers,
        parts=tuple(
            PartView(
                number=number,
                pieces=", ".join(map(shown, part.pieces)),
                file=names[part.file],
                copy=str(part.copy) if part.file in copied else "",
                paper=shown(part.paper) if several else "",
            )
            for number, part in enumerate(mat.parts, 1)
        ),
        list=next(word for most, word in _LISTS if len(mat.parts) <= most),
        picture=picture,
    )


def _paper(laid: LaidRecord, in_inches: bool) -> PaperView:
    return PaperView(
        name=f"{shown(laid.paper)}, sheet {laid.sheet}",
        size=lengths(laid.size_mm, " × ", in_inches),
        place=_place(laid, in_inches),
        used=f"{100 * laid.used_share:.0f}\u00a0%",
        at_mm=laid.at_mm,
        size_mm=laid.size_mm,
    )


def _place(laid: LaidRecord, in_inches: bool) -> str:
    if laid.at_mm == (0.0, 0.0):
        return "in the mat's top-left corner"
    left, top = (lengths([value], "", in_inches) for value in laid.at_mm)
    return f"{left} from the left and {top} from the top"


def _how_to_lay(mat: MatRecord, papers: Sequence[PaperView], in_inches: bool) -> str:
    size = lengths(mat.size_mm, " × ", in_inches)
    if len(papers) == 1 and _covers(mat.papers[0], mat):
        return f"Lay {papers[0].name}. It covers the mat of {size}."
    which = "this sheet" if len(papers) == 1 else f"these {len(papers)} sheets"
    return f"Lay {which} on the mat of {size}, measured from its top-left corner to the paper's:"


def _covers(laid: LaidRecord, mat: MatRecord) -> bool:
    return all(abs(a - b) < _SAME_MM for a, b in zip(laid.size_mm, mat.size_mm, strict=True))


def _work(mat: MatRecord, speed_mm_s: float) -> Iterator[str]:
    """How much there is to do on a mat, and how long it takes."""
    yield f"{_metres(mat.cut_mm)} to cut"
    if mat.score_mm:
        yield f"{_metres(mat.score_mm)} to score"
    if mat.draw_mm:
        yield f"{_metres(mat.draw_mm)} to draw"
    yield f"about {duration(mat.blade_s)} at {speed_mm_s:g} mm/s"


def _used(papers: Sequence[PaperView]) -> list[str]:
    """How much of the paper is used; of several it is told one by one, where they are listed."""
    return [f"{papers[0].used} of the paper used"] if len(papers) == 1 else []


def _metres(length_mm: float) -> str:
    return f"{length_mm / 1000:.1f} m" if length_mm >= 950 else f"{length_mm:.0f} mm"


def _two_stocks(mat: MatRecord) -> str:
    passes = passes_of(mat)
    if len(passes) < 2:
        return ""
    told = "; ".join(
        f"{k}. {shown(' and '.join(one.papers))} (no. {_numbers(one.numbers)})"
        for k, one in enumerate(passes, 1)
    )
    return (
        "Papers of different stocks lie on this mat: set blade and pressure for one, cut what "
        f"lies on it, then for the next; lift nothing out between. Passes, in order: {told}."
    )


def _numbers(numbers: Sequence[int]) -> str:
    """Numbers in order; those that follow each other by the first and the last of them."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def _short_names(record: CuttingList) -> dict[str, str]:
    """Each file's name without its folder, or with it where another file is named alike."""
    files = {part.file for mat in record.mats for part in mat.parts}
    files |= {one.file for one in record.refused} | {one.file for one in record.left_out}
    bare: dict[str, int] = {}
    for file in files:
        bare[PurePath(file).name] = bare.get(PurePath(file).name, 0) + 1
    return {
        file: name_as_text(PurePath(file).name if bare[PurePath(file).name] == 1 else file)
        for file in files
    }


def refused_views(record: CuttingList) -> list[RefusedView]:
    """What is on no mat, each piece once with how often it was wanted."""
    names = _short_names(record)
    return [
        RefusedView(names[one.file], _who(one), sentence(shown(one.reason)))
        for one in record.refused
    ]


def _who(one: RefusedRecord) -> str:
    pieces = ", ".join(map(shown, counted(one.pieces)))
    return f"the whole file: {pieces}" if one.whole and pieces else pieces or "the whole file"


def left_out_views(record: CuttingList) -> list[tuple[str, str]]:
    """What is on no mat though it was not refused, by file."""
    names = _short_names(record)
    return [(names[one.file], sentence(shown(one.what))) for one in record.left_out]


def verdict_of_mats(record: CuttingList) -> str:
    """The headline: how many pieces are on how many mats, and how good that is."""
    totals = record.totals
    if not record.mats:
        return f"No piece is on a mat: {many(totals.refused, 'piece')} refused."
    refused = f", {totals.refused} refused" if totals.refused else ""
    fewest = f"fewer than {totals.least} by area" if totals.mats > totals.least else "fewer"
    return (
        f"{many(totals.placed, 'piece')} on {many(totals.mats, 'mat')}{refused}; "
        f"no layout of these can use {fewest}."
    )


def totals_of_mats(record: CuttingList) -> str:
    """The sums of the run."""
    totals = record.totals
    parts = [f"{many(totals.pieces, 'piece')} of {many(totals.files, 'file')}"]
    if record.mats:
        parts += [f"{_metres(totals.cut_mm)} to cut"]
        parts += [f"{_metres(totals.score_mm)} to score"] if totals.score_mm else []
        parts += [f"about {duration(totals.blade_s)} at {record.speed_mm_s:g} mm/s"]
    return " · ".join(parts)


def notes_of_mats(record: CuttingList) -> list[str]:
    """What else is to be known before cutting."""
    notes = [sentence(shown(note)) for note in record.notes]
    if record.mats:
        notes.append(
            "Times are estimates for the lines alone, without lifting, turning and loading."
        )
    if not record.complete:
        notes.insert(0, "The search was ended early; with more --time it may find fewer mats.")
    return notes
