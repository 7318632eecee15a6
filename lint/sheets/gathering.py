"""One file to its parts: read, mended first where that was asked for, checked as its papers ask."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from matready.lint import cutting
from matready.lint.inspection import Inspection, inspect_cutout, inspect_source
from matready.lint.reading import read_drawing
from matready.lint.results import UnreadableFile
from matready.lint.runner import own_mistakes_in_words
from matready.lint.settings import Settings
from matready.lint.sheets.choosing import NO_PAPER, paper_for
from matready.lint.sheets.parts import FileParts, Part, Refusal
from matready.lint.sheets.taking import parts_of
from matready.lint.source import Unreadable, bytes_of, read_source
from matready.lint.stocks import Stock

if TYPE_CHECKING:
    from matready.lint.cutting import Cutout
    from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Mending:
    """Whether a drawing is mended in memory first, and whether its shape may change."""

    wanted: bool = False
    reshape: bool = False


def gather(
    path: Path, rules: Sequence[Rule], settings: Settings, mending: Mending
) -> FileParts | UnreadableFile:
    """The parts of one file, each with its paper and stock.

    A file that can't be read is a result too.
    """
    # The page says nothing about the mat here: its pieces are laid anew.
    settings = replace(settings, mat=None)
    try:
        with own_mistakes_in_words():
            cutout = _cutout(path, rules, settings, mending)
            return _with_papers(_by_stock(cutout, rules, settings), settings)
    except Unreadable as error:
        return UnreadableFile(str(path), str(error))


def _cutout(path: Path, rules: Sequence[Rule], settings: Settings, mending: Mending) -> Cutout:
    """The file, read and cut, or the mended copy of it, which the repair has cut already."""
    source = read_source(bytes_of(path), str(path))
    if mending.wanted:
        from matready.lint.repair import mend  # slow to load, and seldom asked for

        first = inspect_source(source, rules, settings)
        return mend(first, rules, settings, mending.reshape).copy.cutout
    return cutting.cut(read_drawing(source, settings.distances.flatten_mm), settings)


def _by_stock(cutout: Cutout, rules: Sequence[Rule], settings: Settings) -> FileParts:
    """The parts and refusals, each piece checked for the stock of the paper it is cut from."""
    if all(paper.stock in (None, settings.stock) for paper in settings.papers):
        return _checked(cutout, rules, settings, settings.stock)
    # Which paper a part is cut from is told by the drawing alone, whatever the rules say of it.
    bare = parts_of(Inspection(cutout, ()), settings)
    wanted = {piece: _stock_of(part, settings) for part in bare.parts for piece in part.pieces}
    stocks = sorted(set(wanted.values()), key=lambda stock: stock.name) or [settings.stock]
    parts: list[Part] = []
    refusals: list[Refusal] = []
    for stock in stocks:
        found = _checked(cutout, rules, settings, stock)
        # What no rule has to look at to be refused is told with the first.
        mine = {piece for piece in found.pieces if wanted.get(piece, stocks[0]) == stock}
        parts += [part for part in found.parts if mine.issuperset(part.pieces)]
        refusals += _of_these(found.refusals, mine, with_rest=stock is stocks[0])
    order = {piece: number for number, piece in enumerate(bare.pieces)}
    parts.sort(key=lambda part: order[part.pieces[0]])
    return replace(bare, parts=tuple(parts), refusals=tuple(refusals))


def _with_papers(found: FileParts, settings: Settings) -> FileParts:
    """Each part with the paper that it is cut from; where none is named, that is its stock."""
    if not settings.papers:
        return replace(found, parts=tuple(replace(part, paper=part.stock) for part in found.parts))
    parts: list[Part] = []
    refusals = list(found.refusals)
    for part in found.parts:
        paper = paper_for(part, settings.papers)
        if paper is None:
            refusals.append(Refusal(part.file, part.pieces, NO_PAPER))
        else:
            parts.append(replace(part, paper=paper.name))
    return replace(found, parts=tuple(parts), refusals=tuple(refusals))


def _stock_of(part: Part, settings: Settings) -> Stock:
    paper = paper_for(part, settings.papers)
    return settings.stock if paper is None or paper.stock is None else paper.stock


def _checked(cutout: Cutout, rules: Sequence[Rule], settings: Settings, stock: Stock) -> FileParts:
    its = replace(settings, stock=stock)
    found = parts_of(inspect_cutout(cutout, rules, its), its)
    return replace(found, parts=tuple(replace(part, stock=stock.name) for part in found.parts))


def _of_these(refusals: Sequence[Refusal], mine: set[str], *, with_rest: bool) -> Iterator[Refusal]:
    """The refusals as far as they are about some pieces; `with_rest`: also those about none."""
    for refusal in refusals:
        pieces = tuple(piece for piece in refusal.pieces if piece in mine)
        if pieces or (with_rest and not refusal.pieces):
            yield replace(refusal, pieces=pieces)
