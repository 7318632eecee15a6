"""How cut and score lines are styled, and where the words stand that tell them apart."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from tests.spoiling.truth import Unseen

STYLINGS = (
    "attribute",
    "style",
    "class",
    "inherit",
    "id-descendant",
    "child",
    "over-attribute",
    "nth-child",
    "sibling",
    "entity",
)
CLUES = ("dashed", "id", "class", "layer", "label")
LABELS = "https://example.org/ns/labels"  # any drawing program has a namespace of its own

_CUT_WORDS = ("cut", "cuts", "cut-lines", "Schnitt", "coupe")
_SCORE_WORDS = ("score", "folds", "crease", "Falz", "pli", "fold-lines")
_COLOURS = ("#33475b", "#b5543a", "#1a7f5a", "black", "rgb(120,40,160)")
_CARD = ("none", "none", "none", "#fcf4e4", "#e8d9b8")


@dataclass(frozen=True)
class Look:
    """One drawing's looks. Widths are in mm; `clue` is what tells a score from a cut."""

    styling: str
    clue: str
    cut_colour: str
    score_colour: str
    card: str
    cut_word: str
    score_word: str
    width_mm: float
    cap: str

    def properties(self, role: str, per_mm: float) -> dict[str, str]:
        """Style properties of a role where a millimetre is `per_mm` user units."""
        if role == "draw":
            return {"fill": "#f3c969", "stroke": "none"}
        fill = self.card if role == "cut" else "none"
        colour = self.cut_colour if role == "cut" else self.score_colour
        out = {"fill": fill, "stroke": colour, "stroke-width": f"{self.width_mm * per_mm:.4g}"}
        if self.clue == "dashed":
            pattern = f"{2.2 * per_mm:.4g} {1.4 * per_mm:.4g}"
            out["stroke-dasharray"] = "none" if role == "cut" else pattern
        if self.cap != "butt":
            out["stroke-linecap"] = self.cap
        return out


def any_look(rng: Random, styling: str | None = None) -> Look:
    """A random look."""
    cut, score = rng.sample(_COLOURS, 2)
    clue = rng.choice(CLUES)
    return Look(
        styling or rng.choice(STYLINGS),
        clue,
        cut,
        cut if rng.random() < 0.3 else score,
        rng.choice(_CARD),
        rng.choice(_CUT_WORDS),
        rng.choice(_SCORE_WORDS),
        rng.choice([0.4, 0.5, 0.6]),
        rng.choice(["butt", "butt", "round", "square"]),
    )


class Sheet:
    """The style sheet of a drawing in the making, and what of it a renderer does not read."""

    def __init__(self) -> None:
        self.rules: dict[str, str] = {}
        self.unseen: list[Unseen] = []
        self.entities: dict[str, str] = {}

    def add(self, selector: str, values: dict[str, str], xpath: str = "") -> None:
        """One rule; `xpath` says the same as a selector that the renderer does not know."""
        text = "; ".join(f"{key}: {value}" for key, value in values.items())
        if selector not in self.rules:
            self.rules[selector] = text
            if xpath:
                self.unseen.append(Unseen(xpath, text))

    def entity(self, name: str, values: dict[str, str]) -> str:
        """A style behind a name of the document type; what to write for it."""
        name = f"look-{name}"
        text = ";".join(f"{key}:{value}" for key, value in values.items())
        while self.entities.setdefault(name, text) != text:
            name += "x"
        return f"&{name};"

    def text(self, cdata: bool, indent: str) -> str:
        """The style element, empty where there is nothing to say."""
        if not self.rules:
            return ""
        body = f"\n{indent}".join(f"{key} {{ {value} }}" for key, value in self.rules.items())
        body = f"<![CDATA[\n{indent}{body}\n]]>" if cdata else f"\n{indent}{body}\n"
        return f"<style>{body}</style>"
