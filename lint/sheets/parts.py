"""Parts: what of a drawing moves as one on a mat, and what of it cannot or need not move."""

from __future__ import annotations

from dataclasses import dataclass, field

import shapely

from matready.lint.drawing import Floats
from matready.lint.repair.curves import Curve

CUT, SCORE, DRAW = "cut", "score", "draw"


@dataclass(frozen=True, eq=False, slots=True)
class PartLine:
    """One line of a part, in mm on the page of its source.

    `role` is "cut", "score" or "draw". `curves` draw it exactly, each from where the one before it
    ends; a closed line's last one ends where the first begins. `points` (n, 2) are the same line as
    the drawing was read. `inner`: a cut that runs inside the part, such as a hole, a slit, or the
    edge between two of its pieces. `dashes_mm` are the dashes and gaps that it is shown with.
    """

    role: str
    inner: bool
    closed: bool
    curves: tuple[Curve, ...]
    points: Floats
    length_mm: float
    dashes_mm: tuple[float, ...] = ()

    @property
    def start(self) -> complex:
        """Where it begins."""
        return self.curves[0].start

    @property
    def end(self) -> complex:
        """Where it ends."""
        return self.curves[-1].end


@dataclass(frozen=True, slots=True)
class Marks:
    """By what a part's pieces can be told.

    `ids` are those of their outlines and of the groups that these stand in, `layers` whatever names
    such a group, `fills` the colours ("#rrggbb") that the outlines are filled with.
    """

    ids: frozenset[str] = frozenset()
    layers: frozenset[str] = frozenset()
    fills: frozenset[str] = frozenset()


@dataclass(frozen=True, eq=False, slots=True)
class Part:
    """What moves as one: a piece, or pieces that hang on one shared cut, with all lines in them.

    `name` is unique once `name_all` has seen the parts of all files. `pieces` are the names of its
    pieces in the drawing and `cards` their card in mm on the page of the source, `scores` how many
    score lines each has, dash by dash. `shape` is all that must stay free of other parts: the card
    without its holes, and a thin sliver along lines that reach past it. `allowed` are rules that
    the drawing silences here, `found` those that found something in its file. `copy` counts from 1.
    """

    name: str
    file: str
    pieces: tuple[str, ...]
    cards: tuple[shapely.Polygon, ...]
    scores: tuple[int, ...]
    shape: shapely.Polygon | shapely.MultiPolygon
    lines: tuple[PartLine, ...]
    marks: Marks = field(default_factory=Marks)
    allowed: tuple[str, ...] = ()
    found: frozenset[str] = frozenset()
    paper: str = ""
    stock: str = ""
    copy: int = 1

    def length_mm(self, role: str) -> float:
        """How long its lines of a role are together."""
        return sum(line.length_mm for line in self.lines if line.role == role)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Pieces of a file that are not put on a mat, and why: what is wrong and what to do about it.

    `whole`: it is the whole file that is refused, with all its pieces, of which there may be none.
    """

    file: str
    pieces: tuple[str, ...]
    reason: str
    whole: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class FileParts:
    """A file's pieces, by name, each in one part or one refusal; and what belongs to no piece.

    `left_out` says in a clause each what is on no mat because it is no piece's: marks, frames.
    """

    file: str
    pieces: tuple[str, ...]
    parts: tuple[Part, ...]
    refusals: tuple[Refusal, ...] = ()
    left_out: tuple[str, ...] = ()
