"""Folds: every score line, a row of dashes as one in each piece."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.faces import Face, faces_at
from matready.lint.cutting.roles import SCORE, Roles
from matready.lint.drawing import Drawing, Floats, Ints

_SAMPLES = 9  # places looked at along a line to tell which piece it lies in


@dataclass(frozen=True, eq=False, slots=True)
class Fold:
    """One logical score: the drawn lines that make it (one, or a row of dashes), and its points."""

    lines: tuple[int, ...]
    samples: Floats  # (s, 2) in mm, spread along it


def samples_of(drawing: Drawing, lines: Ints, count: int = _SAMPLES) -> Floats:
    """Points (k, count, 2) spread evenly inside each of k lines."""
    blade = blade_of(drawing, lines)
    share = (np.arange(count) + 0.5) / count
    along = (blade.total[:, None] * share).ravel()
    points = blade.locate(np.repeat(np.arange(len(lines)), count), along)
    return points.reshape(len(lines), count, 2)


def find_folds(drawing: Drawing, roles: Roles, faces: list[Face]) -> list[Fold]:
    """Every score line, a row of dashes as one in each piece, in the order of their first lines."""
    in_row = np.zeros(len(roles.role), bool)
    in_row[[line for row in roles.rows for line in row]] = True
    single = np.flatnonzero((roles.role == SCORE) & ~in_row)
    samples = samples_of(drawing, single)
    folds = [Fold((line,), at) for line, at in zip(single.tolist(), samples, strict=True)]
    dashes = np.array([line for row in roles.rows for line in row], np.int64)
    middles = samples_of(drawing, dashes, 1)[:, 0]
    places = faces_at(middles, faces)
    row_of = np.repeat(np.arange(len(roles.rows)), [len(row) for row in roles.rows])
    for part in np.split(np.arange(len(dashes)), _breaks(row_of, places, faces)):
        if len(part):
            folds.append(Fold(tuple(dashes[part].tolist()), middles[part]))
    return sorted(folds, key=lambda fold: min(fold.lines))


def _breaks(row_of: Ints, places: Ints, faces: list[Face]) -> list[int]:
    """Where one fold ends and the next begins, among the dashes of all rows end to end.

    A row that runs on from one piece into the next is a fold in each; dashes on the bare sheet or
    in a hole go with the piece before them.
    """
    breaks, piece = [], -1
    for k, (row, place) in enumerate(zip(row_of.tolist(), places.tolist(), strict=True)):
        card = place >= 0 and faces[place].card
        if k and row != row_of[k - 1]:
            breaks.append(k)
            piece = -1
        elif card and piece not in (-1, place):
            breaks.append(k)
        piece = place if card else piece
    return breaks
