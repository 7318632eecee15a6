"""What fixes do, as plain data: a rule says which act mends a finding, `repair` carries it out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.cutting import Gap
    from matready.lint.finding import Grade


@dataclass(frozen=True, slots=True)
class Gather:
    """Bring outline, holes and folds of all pieces of one unit (Piece.unit) into one group."""

    unit: int


@dataclass(frozen=True, slots=True)
class Join:
    """Bring the two ends of a gap together."""

    gap: Gap


@dataclass(frozen=True, slots=True)
class Close:
    """Draw a straight line between the two ends of an opening."""

    opening: Gap


@dataclass(frozen=True, slots=True)
class Drop:
    """Cut once where doubled runs (indices into Cutout.doubles) cut twice."""

    runs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Resize:
    """Give the page its true size; `ratio` is that over the size it is read at now.

    `size_mm` is what is written where the page's own numbers are a known page's, rounded.
    """

    ratio: float
    size_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Seal:
    """Close a line whose two ends lie in one place already; `lines` are all places it is drawn."""

    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Perforate:
    """Cut real dashes where score lines (numbers of the drawing) only look dashed."""

    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Shorten:
    """Take stretches of score lines away: (line, from, to) in mm from the line's beginning.

    `on_cuts`: they lie on cut lines; else they lie outside every piece.
    """

    stretches: tuple[tuple[int, float, float], ...]
    on_cuts: bool


@dataclass(frozen=True, slots=True)
class Redash:
    """Draw rows of dashes (indices into Cutout.folds) anew, with cuts and ties that fold well."""

    folds: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Split:
    """Part an element that draws cuts and scores (an index into Drawing.nodes) into two."""

    node: int


@dataclass(frozen=True, slots=True)
class Entitle:
    """Give titles to nodes of the drawing: pairs of a node and its title."""

    titles: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Purge:
    """Take away what draws no line that is seen; `done` says in one clause what that was.

    `elements` go with all in them; `attributes` are (element, name) with the name as the tree has
    it; `stretches` of Source.text are (from, to, what stands there instead).
    """

    elements: tuple[_Element, ...] = ()
    attributes: tuple[tuple[_Element, str], ...] = ()
    stretches: tuple[tuple[int, int, str], ...] = ()
    done: str = ""


@dataclass(frozen=True, slots=True)
class PutBehind:
    """Put nodes of the drawing behind others of their group: pairs of a node and the other one."""

    moves: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Thin:
    """Take points out of a line (a number of the drawing) that it does not need."""

    line: int


@dataclass(frozen=True, slots=True)
class WriteOut:
    """Draw in place what nodes of the drawing show by reference: a `use`, or an svg in the svg."""

    nodes: tuple[int, ...]


Act = (
    Gather
    | Join
    | Close
    | Drop
    | Resize
    | Seal
    | Perforate
    | Shorten
    | Redash
    | Split
    | Entitle
    | Purge
    | PutBehind
    | Thin
    | WriteOut
)


@dataclass(frozen=True, slots=True)
class Fix:
    """How a finding can be put right, and what that may change."""

    grade: Grade
    act: Act
