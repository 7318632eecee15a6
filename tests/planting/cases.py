"""One random drawing for one recipe: its text, and what is true of it."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from tests.planting import (
    near_doubles,
    near_ends,
    plant_doubles,
    plant_ends,
    plant_groups,
    plant_scale,
    plant_small,
)
from tests.planting.draft import Draft, Expect, NoPlaceError, Recipe, fresh
from tests.planting.groups import Node, Tree, build
from tests.planting.looks import DRAW_WORDS, as_token
from tests.planting.marks import Mark, Sub
from tests.planting.markup import Writer
from tests.planting.pages import fitting_size, proper_page
from tests.planting.pieces import Box
from tests.planting.strokes import polyline, shift, turn, zoom

RULES = (
    "loose-score",
    "open-outline",
    "hairline-gap",
    "double-cut",
    "undersize-piece",
    "wrong-scale",
)
RECIPES: tuple[Recipe, ...] = (
    *plant_groups.RECIPES,
    *plant_ends.RECIPES,
    *near_ends.RECIPES,
    *plant_doubles.RECIPES,
    *near_doubles.RECIPES,
    *plant_small.RECIPES,
    *plant_scale.RECIPES,
)


@dataclass(frozen=True)
class TruePiece:
    """What is true of one piece."""

    box: Box
    holes: int
    scores: int | None  # None: not to be told


@dataclass(frozen=True)
class Case:
    """A drawing and its truth. `pieces` is None where the fault leaves their number open."""

    recipe: Recipe
    seed: int
    text: str
    expected: tuple[Expect, ...]
    judged: frozenset[str]
    pieces: tuple[TruePiece, ...] | None
    traits: dict[str, str]
    draft: Draft

    @property
    def name(self) -> str:
        """A file name for this case."""
        safe = "".join(c if c.isalnum() else "-" for c in self.recipe.name)
        return f"{self.recipe.rule}--{safe}--{self.seed}"


def make_case(recipe: Recipe, seed: int) -> Case:
    """The drawing of a recipe and a seed: always the same one."""
    rng = Random(f"{recipe.rule}/{recipe.name}/{seed}")
    for _ in range(200):
        draft = fresh(recipe, rng)
        if len(draft.sheet.pieces) < 2:
            continue
        try:
            recipe.plant(draft)
        except NoPlaceError:
            continue
        return finish(recipe, seed, draft)
    raise RuntimeError(f"no drawing has room for {recipe.rule}: {recipe.name}")


def finish(recipe: Recipe, seed: int, draft: Draft) -> Case:
    """Nest, add clutter, write."""
    rng = draft.rng
    if draft.page is None:
        draft.page = proper_page(fitting_size(draft.sheet.box, rng), rng)
    draft.settle()
    if draft.shape == "moved":
        for mark in draft.marks:
            mark.own = turn(rng.uniform(0, 360)) @ shift(complex(rng.uniform(-60, 60), 8))
            mark.own = mark.own @ zoom(rng.uniform(0.4, 3))
    user = draft.page.matrix.inverse()
    tree = build(draft.shape, draft.sheet, draft.marks, user, rng)
    counts = {
        i: sum(m.folds for m in draft.marks if m.piece == i and m.role == "score")
        for i in range(len(draft.sheet.pieces))
    }
    pieces = tuple(
        TruePiece(piece.box, len(piece.holes), None if i in draft.uncounted_folds else counts[i])
        for i, piece in enumerate(draft.sheet.pieces)
    )
    clutter(tree, draft)
    writer = Writer(draft.page, draft.look, rng, rng.choice([0.0002, 0.0005, 0.002]))
    before = rng.choice(["", '<?xml version="1.0" encoding="UTF-8"?>\n'])
    text = writer.document(tree, before)
    if rng.random() < 0.1:
        text = text.replace("\n", "\r\n")
    judged = draft.judged_rules or frozenset(RULES)
    traits = {
        "nesting": draft.shape,
        "styling": draft.look.styling,
        "clue": draft.look.clue,
        "outline": draft.manner.outline,
        "folds": draft.manner.fold,
        "page": draft.page.label,
    }
    expected = tuple(e for e in draft.expected if e.rule in judged)
    return Case(
        recipe, seed, text, expected, judged, pieces if draft.counted else None, traits, draft
    )


def clutter(tree: Tree, draft: Draft) -> None:
    """What real files hold besides: titles, text, guides, hidden copies. None of it is a cut."""
    rng = draft.rng
    if rng.random() < 0.4:
        tree.top.insert(0, "<title>Puppet theatre, sheet</title>")
    if rng.random() < 0.2:
        tree.top.insert(0, "<metadata>card, 220 g</metadata>")
    if rng.random() < 0.2:
        draft.cluttered = True
        tree.top.append('<text x="10" y="12" font-size="4" fill="black">fold all tabs back</text>')
    if rng.random() < 0.2 and draft.shape != "moved":
        ghosts: list[Node | Mark | str] = [
            Mark("cut", -1, [Sub(s.chain, s.closed) for s in m.subs])
            for m in rng.sample(draft.marks, min(3, len(draft.marks)))
            if m.role == "cut"
        ]
        hide = rng.choice([{"display": "none"}, {"style": "display:none"}])
        tree.top.append(Node("g", {"id": "old-version", **hide}, ghosts))
    if rng.random() < 0.2:
        draft.cluttered = True
        word = rng.choice(DRAW_WORDS)
        left, top, right, bottom = draft.sheet.box
        line = polyline([complex(left - 1, (top + bottom) / 2), complex(right + 1, bottom / 2)])
        guide = Mark("draw", -1, [Sub(line, False)])
        named = rng.choice([{"id": as_token(word)}, {"n:label": word}])
        tree.top.append(Node("g", named, [guide], layer="draw"))
