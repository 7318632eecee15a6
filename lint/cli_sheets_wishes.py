"""What the command `sheets` was asked for, checked, and what its files have in common."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from matready.lint.cli_report import check_page
from matready.lint.console import Trouble
from matready.lint.reports.as_text import lengths, shown
from matready.lint.settings import Settings
from matready.lint.sheets.mats import misfit
from matready.lint.sheets.outfolder import reason_against
from matready.lint.sheets.papers import Paper, Sheet, Turn, length_of, named_sheet, overlaid
from matready.lint.sheets.planning import Layout
from matready.lint.sizes import in_inches
from matready.lint.stocks import Stock

if TYPE_CHECKING:
    from matready.lint.settings import SettingsFinder

MOST_COPIES = 1000  # of one file; more is a slip
_LONGEST_S = 86_400  # of searching: a day


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the command asks for, as it was typed; None where the settings decide."""

    form: str
    out: Path | None
    page: Path | None
    opened: bool
    margin: str | None
    gap: str | None
    turn: Turn
    papers: tuple[str, ...]
    copies: tuple[str, ...]
    seconds: float
    seed: int
    mend: bool
    reshape: bool

    def check(self, paths: Sequence[Path]) -> None:
        """Raise Trouble where the wishes contradict each other or lead nowhere."""
        if not paths:
            raise Trouble("nothing to lay out; name an SVG file or a folder that holds some")
        if Path("-") in paths:
            raise Trouble("sheets reads files only, and - is standard input; save the drawing")
        if self.out is None:
            raise Trouble("say where the mats go: --out DIR")
        if self.reshape and not self.mend:
            raise Trouble("--reshape says how to fix; give --fix with it")
        if not self.seconds <= _LONGEST_S:  # "nan" and "inf" are numbers to Python
            raise Trouble(f"--time is a number of seconds, at most {_LONGEST_S} (a day)")
        if reason := reason_against(self.out, paths):
            raise Trouble(f"--out: {shown(str(self.out))} {reason}")
        check_page(self.page, self.opened, paths)
        if self.page is not None and _lies_in(self.page, self.out):
            raise Trouble(
                f"--report: {shown(str(self.page))} lies in the folder of the mats, which is "
                "replaced as a whole; name a place beside it"
            )

    def length(self, option: str, text: str | None, default_mm: float) -> float:
        """A length that was typed, else the default; raises Trouble."""
        try:
            return default_mm if text is None else length_of(text)
        except ValueError as error:
            raise Trouble(f"{option}: {error}") from None

    def sheets(self) -> list[tuple[str, Sheet]]:
        """What --paper names; raises Trouble."""
        try:
            return [named_sheet(text) for text in self.papers]
        except ValueError as error:
            raise Trouble(f"--paper: {error}") from None

    def copies_of(self, files: Sequence[Path]) -> dict[str, int]:
        """How often each of the files is wanted where that was said; raises Trouble."""
        found: dict[str, int] = {}
        for text in self.copies:
            name, _, number = text.rpartition("=")
            count = int(number) if number.strip().isdecimal() and len(number) < 10 else 0
            if not name or not 1 <= count <= MOST_COPIES:
                raise Trouble(
                    f'--copies: "{shown(text[:60])}" does not say FILE=COUNT with a count from 1 '
                    f"to {MOST_COPIES}, such as turret.svg=2"
                )
            file = _named(name.strip(), files)
            if file in found:
                raise Trouble(f"--copies: {shown(file)} is named twice; say it once")
            found[file] = count
        return found


def _lies_in(page: Path, folder: Path) -> bool:
    return Path(os.path.realpath(page)).is_relative_to(os.path.realpath(folder))


def _named(name: str, files: Sequence[Path]) -> str:
    """The one file of a name or path; raises Trouble."""
    tests = (
        lambda path: str(path) == str(Path(name)),
        lambda path: path.name == name,
        lambda path: path.stem == name,
    )
    for test in tests:
        alike = [path for path in files if test(path)]
        if len(alike) > 1:
            raise Trouble(
                f'--copies: {len(alike)} files are named "{shown(name[:60])}"; '
                "write the path of one, as it is reported"
            )
        if alike:
            return str(alike[0])
    raise Trouble(f'--copies: no file that is read is named "{shown(name[:60])}"; check its name')


@dataclass(frozen=True, slots=True)
class Common:
    """What one run stands on, the same for all of its files, and the `own` settings of each.

    `own` goes by the path of the file, `stocks` by name.
    """

    settings: Settings
    own: Mapping[str, Settings]
    stocks: Mapping[str, Stock]
    papers: tuple[Paper, ...]
    layout: Layout


def settings_of(sources: Sequence[Path], finder: SettingsFinder, wishes: Wishes) -> list[Settings]:
    """The settings of each file, with the papers of the command laid over theirs."""
    given = wishes.sheets()
    return [
        replace(settings, papers=overlaid(settings.papers, given))
        for settings in map(finder.for_file, sources)
    ]


def common_of(
    sources: Sequence[Path], settings: Sequence[Settings], finder: SettingsFinder, wishes: Wishes
) -> Common:
    """What all files have in common; raises Trouble where they do not."""
    base = finder.for_folder(sources[0].parent if sources else Path()).settings
    alike = [(of.mat, of.papers, of.on_mat) for of in settings]
    if any(one != alike[0] for one in alike):
        raise Trouble(
            "the drawings stand under settings that name different mats or papers; lay them out "
            "one folder at a time, or name the settings to use with --config"
        )
    mat, papers, on_mat = alike[0] if alike else (base.mat, (), base.on_mat)
    if mat is None:
        raise Trouble("say how large your mat is: --mat 12x12in, or mat in matready.toml")
    papers = papers or _one_each(settings)
    layout = Layout(
        mat=mat,
        margin_mm=wishes.length("--margin", wishes.margin, on_mat.margin_mm),
        gap_mm=wishes.length("--gap", wishes.gap, on_mat.gap_mm),
        flatten_mm=max([base.distances.flatten_mm, *(of.distances.flatten_mm for of in settings)]),
        turn=wishes.turn,
        seconds=wishes.seconds,
        seed=wishes.seed,
    )
    _check_gap(layout, max([base, *settings], key=lambda of: of.distances.same_place_mm))
    for paper in papers:
        _check_room(paper, layout)
    stocks = {of.stock.name: of.stock for of in settings}
    stocks |= {paper.stock.name: paper.stock for paper in papers if paper.stock}
    own = {str(path): its for path, its in zip(sources, settings, strict=True)}
    return Common(replace(base, mat=mat), own, stocks, papers, layout)


def _check_gap(layout: Layout, settings: Settings) -> None:
    """Raise Trouble for a gap so small that the cuts of two pieces could count as one cut twice."""
    least_mm = settings.distances.same_place_mm
    if layout.gap_mm <= least_mm:
        raise Trouble(
            f"a gap of {layout.gap_mm:g} mm lets two pieces share a cut, which is then made twice; "
            f"name a --gap of more than {least_mm:g} mm"
        )


def _check_room(paper: Paper, layout: Layout) -> None:
    """Raise Trouble for a paper that is larger than the mat, or where the margins leave nothing."""
    if size := misfit(paper, layout.mat):
        large, mat = _sides(size, layout.mat), _sides(layout.mat, layout.mat)
        raise Trouble(
            f"{paper.name} of {large} is larger than the mat of {mat}; trim it, or name the mat "
            "that it is cut on"
        )
    for sheet in paper.sheets or (Sheet(*layout.mat),):
        size = (sheet.width_mm, sheet.height_mm)
        if min(size) <= 2 * layout.margin_mm:
            raise Trouble(
                f"{paper.name} of {_sides(size, layout.mat)} is all margin; name "
                f"a smaller --margin than {layout.margin_mm:g} mm, or leave that size out"
            )


def _sides(size: tuple[float, float], mat: tuple[float, float]) -> str:
    return lengths(size, " × ", in_inches(mat), 3)


def _one_each(settings: Sequence[Settings]) -> tuple[Paper, ...]:
    """Where no paper is named: one for each stock, as large as the mat."""
    stocks = {of.stock.name: of.stock for of in settings}
    return tuple(Paper(name, (), stock) for name, stock in stocks.items())
