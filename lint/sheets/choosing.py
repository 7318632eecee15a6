"""Which paper a part is cut from: the first that names its file, layer, id or fill."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from fnmatch import fnmatchcase
from pathlib import Path

from matready.lint.patterns import fits, steps_to
from matready.lint.sheets.papers import Paper, Picks
from matready.lint.sheets.parts import Part

NO_PAPER = (
    "no paper is named for it; name one in [papers.NAME] by files, layers, ids or fills, or add "
    "a paper that names none of these and so takes all the rest"
)


def paper_for(part: Part, papers: Sequence[Paper]) -> Paper | None:
    """The first paper that names the part, else the first that names nothing; None where none is.

    Papers that name nothing take what is left over, wherever they stand.
    """
    for paper in papers:
        if paper.picks and _named(part, paper.picks):
            return paper
    return next((paper for paper in papers if not paper.picks), None)


def _named(part: Part, picks: Picks) -> bool:
    """Whether any pick names the part."""
    return (
        bool(picks.files and _file_named(part.file, picks))
        or _matched(part.marks.layers, picks.layers)
        or _matched({*part.marks.ids, *part.pieces}, picks.ids)
        or not part.marks.fills.isdisjoint(picks.fills)
    )


def _file_named(file: str, picks: Picks) -> bool:
    # abspath takes ".." out and leaves links alone: the folder as the user named it counts.
    names = steps_to(Path(os.path.abspath(file)), Path(picks.folder))  # noqa: PTH100
    return any(fits(pattern, names) for pattern in picks.files)


def _matched(names: Iterable[str], patterns: Sequence[str]) -> bool:
    return any(fnmatchcase(name, pattern) for name in names for pattern in patterns)
