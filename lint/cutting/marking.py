"""How a drawing tells its scores from its cuts, as one who sets a machine by it sees it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.roles import BY_LAYER, BY_SETTINGS, CLUES, CUT

DASHES, STYLED, WHOLE = "dashes", "dash-styled lines", "whole lines"
_MOSTLY = 0.8  # a habit is what this share of the folds has; common practice, no source
_MAIN = 0.5  # a colour that fewer of the cut lines have is an exception


_Value = TypeVar("_Value", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Marking:
    """How the folds of one drawing are marked.

    `form`: most of them are DASHES drawn one by one, STYLED or WHOLE lines, None where neither.
    `cut` is the colour of most cut lines, None for none. `scores` are the colours of the folds,
    where no cut line has one of them; else empty. `layer`, `settings`: told by a layer's name, or
    by what the user set. `clue`: what told most of them, in words.
    """

    form: str | None
    cut: str | None
    scores: frozenset[str]
    layer: bool
    settings: bool
    clue: str


def marking_of(cutout: Cutout) -> Marking | None:
    """The marking of a drawing that has both cuts and folds."""
    cuts = np.flatnonzero(cutout.roles.role == CUT)
    if not cutout.folds or not len(cuts):
        return None
    nodes = cutout.drawing.nodes
    cut_paints = [nodes[node].style.paint for node in cutout.drawing.line_node[cuts].tolist()]
    firsts = np.array([fold.lines[0] for fold in cutout.folds])
    styles = [nodes[node].style for node in cutout.drawing.line_node[firsts].tolist()]
    forms = [
        DASHES if len(fold.lines) > 1 else STYLED if style.dashes else WHOLE
        for fold, style in zip(cutout.folds, styles, strict=True)
    ]
    clues = cutout.roles.clue[firsts].tolist()
    told = _most(clues, _MOSTLY)
    scores = frozenset(style.paint for style in styles)
    return Marking(
        form=_most(forms, _MOSTLY),
        cut=_most(cut_paints, _MAIN),
        scores=scores if scores.isdisjoint(cut_paints) else frozenset(),
        layer=told == BY_LAYER,
        settings=told == BY_SETTINGS,
        clue=CLUES[Counter(clues).most_common(1)[0][0]],
    )


def _most(values: Iterable[_Value], share: float) -> _Value | None:
    """The value that at least this share of them has."""
    counts = Counter(values)
    value, count = counts.most_common(1)[0]
    return value if count >= share * counts.total() else None
