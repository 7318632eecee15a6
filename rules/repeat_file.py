"""The same drawing lies in a folder twice, under two names.

What it finds
    Drawings of one folder that cut and score the same lines, within a hundredth of a millimetre,
    wherever they lie on their pages and in whatever order and direction they are drawn. A mirror
    image, such as a left and a right wing, is another drawing.

Why it matters at the machine
    The whole folder is cut and the part comes out twice, which costs a sheet; or one of the two is
    put right later, and the other, wrong one is cut.

How to put it right
    Keep the one with the better name. If the part is needed twice, say so in the name of the file
    or in a list, not by a copy.

When to leave it
    When every sheet of the set is meant to be cut once, and this one is needed twice.

In a drawing
    Wrong: wing.svg, and wing-copy.svg with the same outline 5 mm further right.
    Right: wing-left.svg, and wing-right.svg with its mirror image.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.likeness import alike, drawers, likeness_of
from matready.lint.drawing import Floats
from matready.lint.finding import Severity
from matready.lint.rule import Limit, Rule
from matready.lint.sets import Place, SetFinding, name_of, place_of


@dataclass(frozen=True, slots=True)
class Limits:
    """When two lines are the same."""

    same_mm: Annotated[
        float,
        Limit(
            "mm",
            "how far the same line may lie apart in two drawings, each seen from its own corner",
            "under half a plotter step (HP-GL, 0.025 mm): no machine cuts them differently",
        ),
    ] = 0.01


@dataclass(frozen=True, eq=False, slots=True)
class _File:
    likeness: Floats
    place: Place


def collect(cutout: Cutout, limits: Limits) -> _File | None:
    """What the blade follows."""
    likeness = likeness_of(cutout)
    return None if likeness is None else _File(likeness, place_of(cutout))


def check_set(files: Sequence[tuple[str, _File]], limits: Limits) -> Iterator[SetFinding]:
    """One finding for all files that hold one drawing; the later ones are the copies."""
    groups: list[list[tuple[str, _File]]] = []
    nearby: dict[tuple[int, int], list[list[tuple[str, _File]]]] = {}
    for path, file in files:
        drawn = file.likeness
        keys = drawers(drawn, limits.same_mm)
        known = (group for key in keys for group in nearby.get(key, ()))
        group = next((g for g in known if alike(g[0][1].likeness, drawn, limits.same_mm)), None)
        if group is None:
            groups.append(group := [])
            for key in keys:
                nearby.setdefault(key, []).append(group)
        group.append((path, file))
    for (original, _), *copies in groups:
        if not copies:
            continue
        path, file = copies[0]
        more = f", and so do {len(copies) - 1} more" if len(copies) > 1 else ""
        yield SetFinding(
            message=f"this file cuts and scores just the lines of {name_of(original)}{more}: "
            "the same part is cut once for each of them",
            files=(path, original, *(other for other, _ in copies[1:])),
            place=file.place,
        )


RULE = Rule("repeat-file", Severity.TIDY, Limits, None, collect=collect, check_set=check_set)
