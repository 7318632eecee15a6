"""Text is still text and no outline, so its letters will not be cut as they look.

What it finds
    Text that is seen on the page and kept as letters. It is told once a file, with its first words.
    It is a caution only where all of it stands outside every piece, or in a layer that by its name
    holds notes.

Why it matters at the machine
    A blade follows lines, and text has none. A cutter's program drops it, or sets it in the font
    that it has: other letters, at other places.

How to put it right
    Turn the text into outlines in the program that made it, then look at the letters: what is
    inside an o or an a falls out. Delete text that is only a note.

When to leave it
    When it is a note that no one cuts, and the program leaves text alone. Test-cut first.

In a drawing
    Wrong: "Stage left" typed on a panel that is to have the words cut out.
    Right: the same words turned into outlines, with bridges that hold the inside of each a.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import texts_of
from matready.lint.cutting.words import mentions, role_of
from matready.lint.drawing import Sight
from matready.lint.finding import Finding, Severity, box_around
from matready.lint.rule import Rule

_SHOWN = 40  # characters of a text that are shown
_NOTES = (
    *("note", "notes", "label", "labels", "instructions", "annotation", "annotations", "comments"),
    *("notiz", "notizen", "hinweise", "anleitung", "beschriftung", "consignes", "étiquettes"),
    *("notas", "etiquetas", "instrucciones", "notities", "aanwijzingen", "istruzioni"),
    *("etichette", "instruções"),
)


@dataclass(frozen=True, slots=True)
class Limits:
    """No limits: a text is one or it is not."""


def _is_note(cutout: Cutout, text: Sight) -> bool:
    """Whether a group that it stands in is named as notes, or as what is only drawn."""
    names = [
        name
        for group in cutout.drawing.ancestors(text.node)[:-1]
        for name in texts_of(cutout.drawing, group)
    ]
    return any(role_of(name, False) == "draw" or mentions(name, _NOTES) for name in names)


def _piece_under(cutout: Cutout, text: Sight) -> str | None:
    """The name of a piece on which a text lies, by the middle of its box."""
    middle = shapely.box(*text.box).centroid
    for piece in cutout.pieces:
        if shapely.Polygon(piece.card.exterior).contains(middle):
            return piece.name
    return None


def _quoted(words: str) -> str:
    shown = "".join(letter if letter.isprintable() else " " for letter in words)
    return shown if len(shown) <= _SHOWN else shown[: _SHOWN - 1].rstrip() + "…"


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for all texts of a file."""
    texts = [one for one in cutout.drawing.sights if one.kind != "image" and one.words]
    if not texts:
        return
    told = [text for text in texts if not _is_note(cutout, text)]
    pieces = [piece for text in told if (piece := _piece_under(cutout, text))]
    grave = bool(pieces) or (bool(told) and not cutout.pieces)
    what = f'the text "{_quoted(texts[0].words)}" is'
    if len(texts) > 1:
        what = f'{len(texts)} texts, the first "{_quoted(texts[0].words)}", are'
    first = texts[0].box
    yield Finding(
        message=f"{what} kept as letters, not as outlines: the blade cannot follow them",
        at=((first[0] + first[2]) / 2, (first[1] + first[3]) / 2),
        box=box_around(text.box for text in texts),
        nodes=(),
        piece=pieces[0] if pieces else None,
        severity=None if grave else Severity.CAUTION,
        elements=tuple(dict.fromkeys(text.element for text in texts)),
    )


RULE = Rule("live-text", Severity.FAULT, Limits, check, gathers=True)
