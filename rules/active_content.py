"""The file holds more than a drawing: scripts, handlers, links or entities.

What it finds
    Scripts, attributes that run something at an event, links and style sheets that lead outside
    the file, and entities that it declares. Each kind is told once. Links from one part of the file
    to another, embedded pictures, and what only describes the drawing are no matter.

Why it matters at the machine
    A drawing that acts is refused by careful programs, and cut wrong by others: what a script would
    have drawn is missing, a style from elsewhere is not there, an entity is not understood. Opened
    in a browser, it can do more than show a picture.

How to put it right
    Let fix take it out: scripts, handlers and links go, entities are written out. What is drawn
    stays as it is. Exporting as plain SVG does the same in many programs.

When to leave it
    When the file is for the screen too, and a copy without it goes to the machine.

In a drawing
    Wrong: a stage door with a link to a web page around it, and a script that opens it.
    Right: the stage door alone, with every line in the file itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint.acts import Fix, Purge
from matready.lint.cutting import Cutout
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.reading.active import ENTITY, HANDLER, LINK, SCRIPT, Active, find_active
from matready.lint.rule import Rule

_SHOWN = 40  # characters of an address that are shown
_WORDS = {
    SCRIPT: ("a script", "scripts", "careful programs refuse such a file, and no cutter runs it"),
    HANDLER: ("an event handler", "event handlers", "careful programs refuse such a file"),
    LINK: (
        "a link to outside the file",
        "links to outside the file",
        "what is there does not reach the machine",
    ),
    ENTITY: ("an entity", "entities", "many programs cannot read it, or refuse the file"),
}
_DONE = {
    SCRIPT: "taken out",
    HANDLER: "taken off",
    LINK: "taken off",
    ENTITY: "written out",
}


@dataclass(frozen=True, slots=True)
class Limits:
    """No limits: a drawing is all that a cut file needs."""


def _shown(text: str) -> str:
    words = "".join(letter if letter.isprintable() else " " for letter in text)
    return words if len(words) <= _SHOWN else words[: _SHOWN - 1] + "…"


def _finding(active: Active) -> Finding:
    one, many, why = _WORDS[active.kind]
    what = one if active.count == 1 else f"{active.count} {many}"
    which = (
        f'"{_shown(active.first)}"' if active.count == 1 else f'the first "{_shown(active.first)}"'
    )
    fix = None
    if not active.stuck:
        act = Purge(
            tuple(active.removed),
            tuple(active.attributes),
            tuple(active.stretches),
            f"{what} {_DONE[active.kind]}",
        )
        fix = Fix(Grade.SAFE, act)
    return Finding(
        message=f"the file holds {what} ({which}): {why}",
        at=None,
        box=None,
        nodes=(),
        fix=fix,
        elements=tuple(dict.fromkeys(active.elements)),
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each kind of active content."""
    for active in find_active(cutout.drawing.source):
        yield _finding(active)


RULE = Rule("active-content", Severity.FAULT, Limits, check, Grade.SAFE, gathers=True)
