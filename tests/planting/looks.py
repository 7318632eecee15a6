"""How cut and score are told apart in one drawing, and how that is styled."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

# Words of the trade that designers use as layer names; from memory, common practice.
CUT_WORDS = (
    "cut",
    "Cut lines",
    "cutting",
    "Cuts",
    "cut-out",
    "cutlines",
    "Schnitt",
    "Schneiden",
    "Schnittlinien",
    "Coupe",
    "découpe",
    "Cortar",
    "líneas de corte",
    "Snijden",
    "snijlijnen",
    "Taglio",
    "linee di taglio",
    "Corte",
)
SCORE_WORDS = (
    "score",
    "Score lines",
    "scores",
    "fold",
    "Folds",
    "fold-lines",
    "foldlines",
    "crease",
    "creases",
    "perf",
    "valley",
    "mountain",
    "valley-folds",
    "Falz",
    "Falzlinien",
    "Rillen",
    "Falten",
    "Pli",
    "lignes de pli",
    "rainage",
    "Pliegue",
    "líneas de pliegue",
    "Doblar",
    "Vouwlijnen",
    "Rillijn",
    "Piega",
    "linee di piega",
    "Dobra",
    "linhas de dobra",
    "Vinco",
)
DRAW_WORDS = ("draw", "Drawing", "engrave", "Guides", "guide lines", "Print", "printed")

CLUES = ("words", "dasharray", "rows", "colour")
STYLINGS = ("attribute", "style", "sheet", "inherit")

COLOURS = ("#d40000", "black", "#000", "rgb(0,0,255)", "#1a9641", "magenta", "#808080", "#0af")


@dataclass(frozen=True)
class Look:
    """One drawing's way to tell cut from score.

    `clue` is what must be understood. `where` says where words stand: "group", "id", "class" or
    "label". `cut` and `score` are the style properties of the two roles; `dashes` is set where a
    dash pattern styles the folds. `filled`: cut outlines are filled shapes without a stroke.
    """

    clue: str
    styling: str
    where: str
    cut_word: str
    score_word: str
    cut_colour: str
    score_colour: str
    dashed: bool
    filled: bool
    name_cuts: bool

    def properties(self, role: str, per_mm: float) -> dict[str, str]:
        """Style properties of a role; `per_mm` is user units to the millimetre."""
        if role == "cut" and self.filled:
            return {"fill": self.cut_colour, "stroke": "none"}
        colour = self.cut_colour if role == "cut" else self.score_colour
        out = {"fill": "none", "stroke": colour, "stroke-width": f"{0.2 * per_mm:.4g}"}
        if role == "cut" and self.dashed:
            out["stroke-dasharray"] = "none"
        if role == "score" and self.dashed:
            out["stroke-dasharray"] = f"{3 * per_mm:.4g},{1.5 * per_mm:.4g}"
        return out


def random_look(
    rng: Random, clue: str | None = None, styling: str | None = None, filled: bool = False
) -> Look:
    """A look with one clue that must be enough; others may stand beside it."""
    clue = clue or rng.choice(CLUES)
    cut_colour, score_colour = rng.sample(COLOURS, 2)
    if {cut_colour, score_colour} == {"black", "#000"}:
        score_colour = "#d40000"
    if clue != "colour" and not filled and rng.random() < 0.5:
        score_colour = cut_colour
    return Look(
        clue=clue,
        styling=styling or rng.choice(STYLINGS),
        where=rng.choice(["group", "id", "class", "label"]) if clue == "words" else "none",
        cut_word=rng.choice(CUT_WORDS),
        score_word=rng.choice(SCORE_WORDS),
        cut_colour=cut_colour,
        score_colour=score_colour,
        dashed=clue == "dasharray" or (clue == "words" and rng.random() < 0.2),
        filled=filled,
        name_cuts=rng.random() < 0.5,
    )


def as_token(word: str) -> str:
    """A word as it can stand in an id or a class: no spaces."""
    return word.replace(" ", "-")
