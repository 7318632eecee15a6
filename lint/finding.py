"""What a rule says: one Finding about one place or one piece, and its grades."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.acts import Fix

Point = tuple[float, float]
Box = tuple[float, float, float, float]


def box_around(boxes: Iterable[Box]) -> Box:
    """The box around some boxes, at least one."""
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def boxes_meet(one: Box, other: Box, near_mm: float = 0.0) -> bool:
    """Whether two boxes touch, or come no farther apart than `near_mm` along x and y."""
    return all(
        one[k] - near_mm <= other[k + 2] and other[k] - near_mm <= one[k + 2] for k in (0, 1)
    )


class Severity(StrEnum):
    """How much harm is done on the mat."""

    FAULT = "fault"
    CAUTION = "caution"
    TIDY = "tidy"

    @property
    def rank(self) -> int:
        """0 for tidy, 2 for fault: a higher rank is worse."""
        return ("tidy", "caution", "fault").index(self.value)


class Grade(StrEnum):
    """What a fix may change: nothing a blade would notice, or size and shape."""

    SAFE = "safe"
    RESHAPING = "reshaping"


@dataclass(frozen=True, slots=True)
class Measured:
    """The measured value and the limit that it is held against, both in `unit`."""

    value: float
    unit: str
    limit: float


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that will go wrong, at one place.

    `at` and `box` (x0, y0, x1, y1) are in mm from the page's top-left corner, None for what has no
    place on the page. `nodes` index Drawing.nodes, the most telling element first; `elements` are
    those that draw no node, such as a script; one of both must be given. `severity` None means the
    rule's own. `places` are those of all the matters that this one stands for, if it does.
    `rests_on` are nodes that it is not about but comes of: with a finding about one of them, from a
    rule that its own yields to, it is left out.
    """

    message: str
    at: Point | None
    box: Box | None
    nodes: tuple[int, ...]
    piece: str | None = None
    measured: Measured | None = None
    fix: Fix | None = None
    severity: Severity | None = None
    elements: tuple[_Element, ...] = ()
    places: tuple[Point, ...] = ()
    rests_on: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Unchecked:
    """A rule's word that it could not look at something, and why, in one sentence."""

    reason: str
