"""loose-score: folds that do not share a group with their own piece alone."""

from __future__ import annotations

from tests.planting.draft import Draft, NoPlaceError, Recipe
from tests.planting.groups import GROUPING, SHAPES
from tests.planting.marks import ROWS, Mark
from tests.planting.strokes import Line

LOOSE_SHAPES = tuple(shape for shape in SHAPES if shape not in GROUPING)
GROUPED_SHAPES = tuple(shape for shape in SHAPES if shape in GROUPING)


def nothing(draft: Draft) -> None:
    """Leave the draft as it is: the nesting alone decides."""


def _folded(draft: Draft) -> tuple[int, list[Mark]]:
    """A piece with folds, and the marks of these."""
    able = [i for i, piece in enumerate(draft.sheet.pieces) if piece.scores]
    if not able:
        raise NoPlaceError
    index = draft.rng.choice(able)
    draft.touched.add(index)
    draft.loose.add(index)
    return index, [m for m in draft.marks if m.role == "score" and m.piece == index]


def stray(draft: Draft) -> None:
    """All folds of one piece lie beside the groups."""
    for mark in _folded(draft)[1]:
        mark.home = "outside"


def one_stray(draft: Draft) -> None:
    """One fold of several lies beside the groups, the others with their piece."""
    _, marks = _folded(draft)
    first = draft.rng.choice(marks)
    if draft.manner.fold == "row-lines":
        raise NoPlaceError  # one dash alone would be another fault
    first.home = "outside"


def foreign(draft: Draft) -> None:
    """The folds of one piece stand in the group of another."""
    index, marks = _folded(draft)
    others = [
        i
        for i, piece in enumerate(draft.sheet.pieces)
        if i != index and "sharing" not in piece.tags and i not in draft.sheet.twins
    ]
    if not others:
        raise NoPlaceError
    other = draft.rng.choice(others)
    draft.touched.add(other)
    for mark in marks:
        mark.home = str(other)


def two_in_one(draft: Draft) -> None:
    """Two pieces, at least one with folds, share one group without groups of their own."""
    index, _ = _folded(draft)
    draft.loose.discard(index)
    pieces = draft.sheet.pieces
    others = [i for i, p in enumerate(pieces) if i != index and "sharing" not in p.tags]
    if not others or "sharing" in pieces[index].tags:
        raise NoPlaceError
    other = draft.rng.choice(others)
    draft.touched.add(other)
    for mark in draft.marks:
        if mark.piece == index:
            mark.home = str(other)
    draft.loose |= {index, other}


def overrun(draft: Draft) -> None:
    """A near miss: straight folds run out of the piece by up to 1 mm, to be sure at the edge."""
    by = draft.rng.uniform(0.2, 1.0)
    for mark in draft.marks:
        for sub in mark.subs if mark.role == "score" else ():
            first, last = sub.chain[0], sub.chain[-1]
            if not isinstance(first, Line) or not isinstance(last, Line) or len(sub.chain) > 1:
                continue
            along = (first.end - first.start) / abs(first.end - first.start) * by
            sub.chain = (Line(first.start - along, first.end + along),)


RECIPES = (
    Recipe("loose-score", "no groups", True, nothing, shapes=LOOSE_SHAPES, scored=2),
    Recipe("loose-score", "beside the groups", True, stray, shapes=GROUPED_SHAPES, scored=2),
    Recipe("loose-score", "one of several", True, one_stray, shapes=GROUPED_SHAPES, scored=2),
    Recipe("loose-score", "in another group", True, foreign, shapes=GROUPED_SHAPES, scored=2),
    Recipe("loose-score", "near: grouped", False, nothing, shapes=GROUPED_SHAPES, scored=2),
    Recipe("loose-score", "two in one group", True, two_in_one, shapes=GROUPED_SHAPES, scored=2),
    Recipe(
        "loose-score",
        "near: folds overrun",
        False,
        overrun,
        shapes=GROUPED_SHAPES,
        scored=2,
        folds=("single", "joined"),
        clues=("words", "dasharray"),
    ),
    *(
        Recipe(
            "loose-score",
            f"near: rows, {row}",
            False,
            nothing,
            shapes=GROUPED_SHAPES,
            row=row,
            clues=("rows",),
            scored=2,
        )
        for row in ROWS
    ),
)
