"""The finished mats as files: named, in the order of cutting, each proven before any is written."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

from matready.lint.settings import Settings
from matready.lint.sheets.laid import Mat, Placement
from matready.lint.sheets.mat_svg import mat_svg
from matready.lint.sheets.order import in_walking_order
from matready.lint.sheets.prove import prove_mat
from matready.lint.stocks import STOCKS, Stock

if TYPE_CHECKING:
    from matready.lint.rule import Rule

_LONGEST_NAME = 60


@dataclass(frozen=True, eq=False, slots=True)
class MatFile:
    """A mat that is proven, as it is written; `cautions` are sentences about what only it has."""

    name: str
    mat: Mat
    text: str
    cautions: tuple[str, ...]


def mat_files(
    mats: Sequence[Mat],
    rules: Sequence[Rule],
    settings: Settings,
    own: Mapping[str, Settings],
    stocks: Mapping[str, Stock],
    on_done: Callable[[], None] | None = None,
) -> list[MatFile]:
    """All mats as files; raises Unproven for one that is not what it should be.

    Mats are read by `settings`; `own` are those of the files that parts came from, by
    FileParts.file, and `stocks` those that parts name, by name.
    """

    @cache
    def judged(file: str, stock: str) -> Settings:
        card = stocks.get(stock) or STOCKS[stock]
        return replace(own[file], stock=card, papers=())

    files = []
    for name, mat in zip(file_names(mats), map(_ordered, mats), strict=True):
        text = mat_svg(mat, name.removesuffix(".svg"), settings.read)
        said = prove_mat(text, mat, rules, settings, lambda part: judged(part.file, part.stock))
        files.append(MatFile(name, mat, text, said))
        if on_done:
            on_done()
    return files


def file_names(mats: Sequence[Mat]) -> list[str]:
    """A name for each mat: its number and its papers, such as 03-cream-card-vellum.svg."""
    digits = max(2, len(str(len(mats))))
    return [
        f"{mat.number:0{digits}d}-{_slug(paper.paper for paper in mat.papers)}.svg" for mat in mats
    ]


def _slug(papers: Iterable[str]) -> str:
    words = "-".join(dict.fromkeys(papers)).casefold()
    plain = re.sub(r"[\W_]+", "-", words).strip("-")
    return plain[:_LONGEST_NAME].rstrip("-") or "paper"


def _ordered(mat: Mat) -> Mat:
    """The mat with its parts in the order of cutting, pass by pass, sheet by sheet."""
    placements: list[Placement] = []
    for laid in (laid for together in mat.passes for laid in together):
        its = tuple(place for place in mat.placements if place.laid == laid)
        placements += in_walking_order(replace(mat, placements=its)).placements
    return replace(mat, placements=tuple(placements))
