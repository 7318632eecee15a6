"""Folds that are told by their colour alone: where many of them lie oddly, they are no folds."""

from __future__ import annotations

from collections.abc import Iterable

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.roles import BY_COLOUR

_MOST_ODD = 1 / 3  # share of the folds of a drawing that are told so; more, and it is a picture


def believed(cutout: Cutout, odd: Iterable[int]) -> list[int]:
    """Those of some oddly lying folds (indices into Cutout.folds) that can be believed to be folds.

    A colour is the weakest clue: artwork has open lines of one colour too, that run along outlines
    of another or past them.
    """
    by_colour = [
        number
        for number, fold in enumerate(cutout.folds)
        if int(cutout.roles.clue[fold.lines[0]]) == BY_COLOUR
    ]
    told = sorted(set(odd))
    doubtful = set(by_colour)
    if sum(number in doubtful for number in told) <= _MOST_ODD * len(by_colour):
        return told
    return [number for number in told if number not in doubtful]
