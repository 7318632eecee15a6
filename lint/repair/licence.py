"""What a fix may do to a score: the places along which it may change, and how."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from matready.lint.drawing import Floats


class May(Enum):
    """How a score may change along a path.

    SHOW_DASHES: it is cut only where its dash styling shows it, and not at an edge. LEAVE_CUT: it
    goes where it lies on a cut. LEAVE_SHEET: it goes where it lies outside every piece. REDASH: it
    is cut dash by dash along the path, one way or another.
    """

    SHOW_DASHES = auto()
    LEAVE_CUT = auto()
    LEAVE_SHEET = auto()
    REDASH = auto()


@dataclass(frozen=True, eq=False, slots=True)
class Licence:
    """Leave to change the scores that lie along `path`, (n, 2) in mm of what was read.

    `gaps` are the stretches that are shown as gaps, from and to in mm along the path.
    """

    path: Floats
    may: May
    gaps: tuple[tuple[float, float], ...] = ()
