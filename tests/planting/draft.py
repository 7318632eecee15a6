"""A drawing in the making: pieces, marks, choices, and what the linter must say about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from random import Random

from shapely.geometry import box as shapely_box
from shapely.geometry.base import BaseGeometry

from tests.planting.groups import GROUPING, SHAPES
from tests.planting.looks import CLUES, Look, random_look
from tests.planting.marks import (
    FOLDS,
    OUTLINES,
    SHORTEST_ROW_MM,
    Manner,
    Mark,
    Sub,
    cut_marks,
    fold_marks,
    random_manner,
)
from tests.planting.pages import Page
from tests.planting.pieces import Box, Piece
from tests.planting.sheets import Cluster, Sheet, random_sheet
from tests.planting.strokes import chain_length, circle, polyline


class NoPlaceError(Exception):
    """This random drawing has no room for the fault; another one will."""


@dataclass(frozen=True)
class Expect:
    """One finding the linter owes (or, not `required`, may give).

    `place` is where the fault is; `within` the largest box a finding about it may have.
    """

    rule: str
    place: BaseGeometry
    within: Box
    required: bool = True


@dataclass(frozen=True)
class Recipe:
    """One way to plant a fault, or one near miss: `plant` changes a draft and says what is due.

    `planted` is False for a near miss. The tuples restrict the random choices.
    """

    rule: str
    name: str
    planted: bool
    plant: Callable[[Draft], None]
    shapes: tuple[str, ...] = SHAPES
    outlines: tuple[str, ...] = OUTLINES
    clues: tuple[str, ...] = CLUES
    folds: tuple[str, ...] = FOLDS
    row: str = "plain"
    filled: bool = True
    scored: int = 1


@dataclass
class Draft:
    """Everything decided so far. `counted`: the pieces of the file are compared with the truth."""

    rng: Random
    sheet: Sheet
    manner: Manner
    look: Look
    shape: str
    marks: list[Mark] = field(default_factory=list)
    expected: list[Expect] = field(default_factory=list)
    touched: set[int] = field(default_factory=set)
    broken: set[int] = field(default_factory=set)
    loose: set[int] = field(default_factory=set)
    uncounted_folds: set[int] = field(default_factory=set)
    page: Page | None = None
    counted: bool = True
    cluttered: bool = False
    judged_rules: frozenset[str] | None = None  # None: all of them

    def add(self, cluster: Cluster, gap: float = 5.0, manner: Manner | None = None) -> list[int]:
        """Place more pieces and draw them; their numbers."""
        new = self.sheet.place(cluster, gap)
        for index in new:
            self.draw(index, manner or self.manner)
        return new

    def draw(self, index: int, manner: Manner) -> None:
        """Make the marks of one piece."""
        piece = self.sheet.pieces[index]
        self.marks += cut_marks(piece, index, manner, self.rng)
        self.marks += fold_marks(piece, index, manner, self.rng)

    def forget_cuts(self, index: int) -> None:
        """Remove the cut marks of a piece, to draw them in another way."""
        self.touched.add(index)
        self.marks = [m for m in self.marks if m.role != "cut" or m.piece != index]

    def expect(
        self, rule: str, place: BaseGeometry, within: Box | None = None, required: bool = True
    ) -> None:
        """Note a finding that is due."""
        left, top, right, bottom = within or place.bounds
        self.expected.append(Expect(rule, place, (left, top, right, bottom), required))

    def settle(self) -> None:
        """Forget twins of changed pieces; note the loose scores that the nesting brings."""
        twins = self.sheet.twins
        for index, (base, _) in list(twins.items()):
            if self.touched & {index, base}:
                del twins[index]
        for index, piece in enumerate(self.sheet.pieces):
            if piece.scores and (self.shape not in GROUPING or index in self.loose):
                self.expect(
                    "loose-score",
                    shapely_box(*piece.box),
                    piece.box,
                    required=index not in self.broken,
                )


def fresh(recipe: Recipe, rng: Random) -> Draft:
    """A clean random draft within a recipe's limits."""
    shape = rng.choice(recipe.shapes)
    clue = rng.choice(recipe.clues)
    folds = recipe.folds
    if clue == "rows":
        folds = FOLDS[2:]
    elif clue == "dasharray":
        folds = FOLDS[:2]
    manner = random_manner(rng, rng.choice(folds), rng.choice(recipe.outlines))
    manner = replace(manner, row=recipe.row)
    filled = recipe.filled and manner.outline in ("whole", "compound") and rng.random() < 0.25
    look = random_look(rng, clue, filled=filled)
    sheet = random_sheet(rng, rng.randint(2, 5), recipe.scored, clusters=not filled)
    if manner.rows:
        sheet.pieces = [without_short_folds(piece) for piece in sheet.pieces]
    if filled and any(piece.slits for piece in sheet.pieces):
        look = replace(look, filled=False)
    draft = Draft(rng, sheet, manner, look, shape)
    for index in range(len(sheet.pieces)):
        draft.draw(index, manner)
    if rng.random() < 0.25 and shape != "moved":
        engrave(draft)
    return draft


def engrave(draft: Draft) -> None:
    """Decorate some pieces: closed and open lines that are to be drawn, not cut."""
    for index, piece in enumerate(draft.sheet.pieces):
        if piece.tags or index in draft.sheet.twins or draft.rng.random() < 0.4:
            continue
        draft.touched.add(index)
        inner = piece.polygon.representative_point()
        at, size = complex(inner.x, inner.y), draft.rng.uniform(0.6, 3)
        subs = [Sub(circle(at, size), True), Sub(polyline([at - size, at + 3 * size]), False)]
        draft.marks.append(Mark("draw", index, subs, "path"))


def without_short_folds(piece: Piece) -> Piece:
    """The piece without folds too short for a row of dashes."""
    least = SHORTEST_ROW_MM + (8 if "chorded" in piece.tags else 0)
    return replace(piece, scores=tuple(s for s in piece.scores if chain_length(s) >= least))
