"""What a picture is made of, as plain data that can be sent to another process.

All path data is that of SVG in mm of the page; texts are those of the file, not escaped yet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from matready.lint.figures.windows import Window
    from matready.lint.finding import Box


class Card(Struct, frozen=True):
    """One piece as it falls out: its name and its area with the holes, to be filled by evenodd."""

    name: str
    path: str


class Block(Struct, frozen=True):
    """A text or picture: about where it lies, and the words that stand in its middle.

    `letter_mm` is how high these are written, `length_mm` how long they are then.
    """

    box_mm: Box
    words: str
    letter_mm: float
    length_mm: float


class Figure(Struct, frozen=True):
    """One drawing, cut: what is worth seeing of it lies in `window_mm` (x0, y0, x1, y1).

    `score` are folds drawn as whole lines; `seeming` those that only look dashed and that a blade
    follows from end to end; `dashes` those drawn dash by dash. `draw` is neither cut nor scored.
    Ends of lines are exact to half a thousandth of a mm, what lies between them to `within_mm`.
    """

    window_mm: Box
    page_mm: tuple[float, float] | None
    cut: str
    score: str
    seeming: str
    dashes: str
    draw: str
    cards: tuple[Card, ...]
    within_mm: float
    blocks: tuple[Block, ...] = ()


class Moving(Struct, frozen=True):
    """What happens when a piece is moved by `by_mm`: all goes along but the folds in `left`."""

    by_mm: tuple[float, float]
    card: str
    cut: str
    score: str
    left: str


SPOT, TWICE, MOVED, SIZE, THROUGH, ALIKE = "spot", "twice", "moved", "size", "through", "alike"
"""How a matter is best seen: as it lies, as two lines side by side, by moving the piece, by both
pages, as the blade goes through, or not at all, since its fix changes nothing that is seen."""


class Spot(Struct, frozen=True):
    """What a finding is about, in the drawing.

    `halo` runs along the lines that it names; `sight` is one of the six above; `window` is what a
    close-up shows, None where it has no place. `places` are those of all that it gathers, if it
    does. `cure` says in one clause what a fix does,
    `refused` in one why none can be made; `after` is the same window of the repaired copy, or all
    of that for SIZE.
    """

    halo: str = ""
    sight: str = SPOT
    window: Window | None = None
    moving: Moving | None = None
    cure: str = ""
    refused: str = ""
    after: Figure | None = None
    places: tuple[tuple[float, float], ...] = ()


class Sketch(Struct, frozen=True):
    """A file's picture, and a spot for each of its findings in their order.

    `moved_mm` is how far the safe fixes move anything, as measured; None where there are none.
    """

    figure: Figure
    spots: tuple[Spot, ...] = ()
    moved_mm: float | None = None
