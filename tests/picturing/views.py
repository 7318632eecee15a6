"""The ways in which a drawing can be looked at, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from matready.lint.finding import Box


@dataclass(frozen=True, slots=True)
class Whole:
    """The drawing as it is cut; a `window` (x0, y0, x1, y1 in mm) other than the page may be seen.

    `ordered` numbers the lines as they stand in the file, which is how they are cut. `by_blade`
    shows lines that only look dashed as the blade goes: from end to end.
    """

    caption: str = "the whole sheet"
    window: Box | None = None
    ordered: bool = False
    by_blade: bool = False


@dataclass(frozen=True, slots=True)
class Close:
    """A place of the page in mm, so many times its size.

    `points` shows the points of the lines. Where two lines are one to the eye, `lit_as` says which
    two, and both are drawn.
    """

    x_mm: float
    y_mm: float
    times: float
    points: bool = False
    lit_as: Literal["", "two cuts", "fold on cut"] = ""


@dataclass(frozen=True, slots=True)
class Screen:
    """The drawing as a screen shows it; hairlines as wide as `line_mm`, to tell their colours."""

    line_mm: float | None = None


@dataclass(frozen=True, slots=True)
class InFile:
    """The text of the file, with the line lit that the finding names."""


@dataclass(frozen=True, slots=True)
class Moved:
    """The first piece moved aside, with all that is grouped with it."""

    caption: str


View = Whole | Close | Screen | InFile | Moved

BLADE = Whole("what the blade follows", by_blade=True)


@dataclass(frozen=True, slots=True)
class Shown:
    """A drawing, by its file name without ending, or a set, by its folder; and how it is seen.

    Of a set at most three drawings are shown, `files` where these are not the first; one view
    holds for all of them, and `spans` are the lengths worth telling, by drawing: from x0, y0 to
    x1, y1 in mm.
    """

    name: str
    views: tuple[View, ...] = (Whole(),)
    files: tuple[str, ...] = ()
    spans: Mapping[str, tuple[Box, ...]] = field(default_factory=dict)


def shown(
    name: str,
    *views: View,
    files: tuple[str, ...] = (),
    spans: Mapping[str, tuple[Box, ...]] | None = None,
) -> Shown:
    """A drawing as a whole or, where that is said, in other views."""
    return Shown(name, views or (Whole(),), files, spans or {})
