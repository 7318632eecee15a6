"""One drawing of a set is at another scale than the others.

What it finds
    A drawing in which at least two of these are larger or smaller than in the other drawings of its
    folder, both by the same slip that programs make with units: the depth of glue tabs, the pitch
    of dashes, the page, and the width of the cut lines. Tabs or dashes must be among them, and at
    least three other drawings must agree. What has no size of its own is told by wrong-scale.

Why it matters at the machine
    The sheet is cut without complaint, and its parts fit none of the others: tabs miss their edges,
    a door is larger than its opening. A drawing saved at 90 units an inch in place of 96 comes out
    only one fifteenth larger, which no one sees on the mat.

How to put it right
    Export the drawing again from its source at the scale of the others; or scale it as a whole by
    the factor that the finding names. Measure one tab against a part that is already cut.

When to leave it
    When this part is meant to be of another size, such as a second, smaller stage.

In a drawing
    Wrong: tabs of 8.53 mm and a fold dash every 4.27 mm, where all other sheets have 8 and 4 mm.
    Right: tabs of 8 mm and a dash every 4 mm in every sheet, on whatever paper.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from matready.lint.cutting import Cutout
from matready.lint.cutting.measures import MEASURES, STRONG, measures_of
from matready.lint.finding import Measured, Severity
from matready.lint.rule import Limit, Rule
from matready.lint.scale import doubt_of
from matready.lint.sets import Place, SetFinding, place_of

# CSS Values 3 gives 96 px, 72 pt and 25.4 mm to the inch; 90 px were usual before CSS 2.1.
_SLIPS = (96 / 72, 96 / 90, 90 / 72, 25.4, 2.54, 96 / 25.4, 90 / 25.4, 72 / 25.4, 10.0)
RATIOS = (*_SLIPS, *(1 / ratio for ratio in _SLIPS))


@dataclass(frozen=True, slots=True)
class Limits:
    """When drawings agree, and how many must."""

    near_share: Annotated[
        float,
        Limit(
            "share",
            "sizes, and the ratio of two sizes and a slip, agree within this",
            "a third of the smallest slip, 96 to 90 units an inch",
        ),
    ] = 0.02
    agree_count: Annotated[
        int,
        Limit("count", "so many other drawings must agree", "common practice, no source"),
    ] = 3


@dataclass(frozen=True, slots=True)
class _File:
    measures: dict[str, float]
    place: Place


def collect(cutout: Cutout, limits: Limits) -> _File | None:
    """The usual sizes in a drawing whose page has a size that is not in doubt."""
    if doubt_of(cutout) is not None:
        return None
    measures = measures_of(cutout)
    return _File(measures, place_of(cutout)) if measures else None


def _usual(files: Sequence[tuple[str, _File]], limits: Limits) -> dict[str, float]:
    """The sizes that more than half of the drawings have, if enough of them do."""
    usual = {}
    for name in MEASURES:
        values = np.sort([f.measures[name] for _, f in files if name in f.measures])
        if not len(values):
            continue
        low = np.searchsorted(values, values * (1 - limits.near_share))
        count = np.searchsorted(values, values * (1 + limits.near_share), "right") - low
        most = int(np.argmax(count))
        # One drawing is compared with the others: more than half of these must agree.
        if count[most] >= limits.agree_count and 2 * count[most] > len(values) - 1:
            usual[name] = float(values[most])
    return usual


def _slip(ratio: float, limits: Limits) -> float | None:
    """The known slip that a ratio is, None where it is none."""
    slip = min(RATIOS, key=lambda known: abs(ratio / known - 1))
    return slip if abs(ratio / slip - 1) <= limits.near_share else None


def _scaled(
    measures: Mapping[str, float], usual: Mapping[str, float], limits: Limits
) -> tuple[float, dict[str, tuple[float, float]]] | None:
    """By which slip a drawing differs, and the sizes that tell so: its own and the usual ones."""
    told: dict[float, dict[str, tuple[float, float]]] = {}
    for name in measures.keys() & usual.keys():
        value, expected = measures[name], usual[name]
        if name in STRONG and abs(value / expected - 1) <= limits.near_share:
            return None  # it is at the scale of the set
        slip = _slip(value / expected, limits)
        if slip is not None:
            told.setdefault(slip, {})[name] = (value, expected)
    for slip, clues in told.items():
        if len(clues) > 1 and not clues.keys().isdisjoint(STRONG):
            return slip, {name: clues[name] for name in MEASURES if name in clues}
    return None


def check_set(files: Sequence[tuple[str, _File]], limits: Limits) -> Iterator[SetFinding]:
    """One finding for each drawing at another scale than the set."""
    usual = _usual(files, limits)
    for path, file in files:
        found = _scaled(file.measures, usual, limits)
        if found is None:
            continue
        slip, clues = found
        sizes = ", ".join(f"{name} {own:.4g} mm for {all_:.4g} mm" for name, (own, all_)
                          in clues.items())  # fmt: skip
        own, expected = next(clues[name] for name in STRONG if name in clues)
        yield SetFinding(
            message=f"this drawing is {slip:.4g} times the size of the others in its set ({sizes}),"
            f" so its parts fit none of theirs: scale it to {100 / slip:.4g}\N{NO-BREAK SPACE}%",
            files=(path, *(other for other, _ in files if other != path)),
            place=file.place,
            measured=Measured(abs(own / expected - 1), "share", limits.near_share),
        )


RULE = Rule("uneven-scale", Severity.FAULT, Limits, None, collect=collect, check_set=check_set)
