"""Lines that no one sees are in the file, and a cutter may cut them.

What it finds
    Shapes that are switched off, invisible, wholly transparent, without stroke and fill, with a
    stroke that has no width, or white on the white page with nothing painted behind them. They are
    told once for each of these reasons. What is only defined, clips, and a background as large as
    the page are no lines.

Why it matters at the machine
    Many programs that cut read where lines run, and not how they look. The blade goes through your
    card along lines that you never saw.

How to put it right
    Delete what you do not need; fix does so with --rule hidden-line, and refuses where something
    else in the drawing needs it. Give a line that you do need a colour and a width.

When to leave it
    When your program keeps hidden layers from the blade, and you have seen it do so. Test-cut
    first.

In a drawing
    Wrong: a layer of guides over two side wings, switched off and still in the file.
    Right: the side wings alone, each line with a stroke that is seen.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint.acts import Fix, Purge
from matready.lint.cutting import Cutout
from matready.lint.cutting.unseen import NO_WIDTH, PAPER, Hidden, hidden_lines
from matready.lint.drawing import INVISIBLE, OFF, TRANSPARENT, UNPAINTED
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.rule import Rule

_WORDS = {
    OFF: "switched off (display: none)",
    INVISIBLE: "invisible (visibility: hidden)",
    TRANSPARENT: "wholly transparent (opacity 0)",
    UNPAINTED: "without stroke and fill",
    NO_WIDTH: "drawn with a stroke of no width",
    PAPER: "as white as the page",
}


@dataclass(frozen=True, slots=True)
class Limits:
    """No limits: a line shows or it does not."""


def _finding(hidden: Hidden) -> Finding:
    count = len(hidden.elements)
    what, them = ("1 shape is", "it") if count == 1 else (f"{count} shapes are", "them")
    act = Purge(hidden.removable, done=f"{count} hidden shape{'s' * (count != 1)} taken out")
    return Finding(
        message=f"{what} {_WORDS[hidden.why]}: no one sees {them}, but the blade may follow {them}",
        at=hidden.at,
        box=hidden.box,
        nodes=hidden.nodes,
        fix=Fix(Grade.SAFE, act) if hidden.removable else None,
        elements=() if hidden.nodes else hidden.elements,
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each reason why something is not seen."""
    for hidden in hidden_lines(cutout):
        yield _finding(hidden)


RULE = Rule("hidden-line", Severity.CAUTION, Limits, check, Grade.SAFE, gathers=True, asked=True)
