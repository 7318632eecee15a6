"""Two cut lines run in the same place.

What it finds
    A stretch of cut line that lies on another cut line: a whole copy, one drawn the other way round
    or from another start, the same outline as path and as shape, or an edge that two pieces share
    and both draw. Lines that only cross or touch are fine.

Why it matters at the machine
    The blade goes over the same cut twice. The second pass catches the loose edge, tears the card
    and can lift the piece off the mat.

How to put it right
    Delete the copy. Where two pieces share an edge, let one of them draw it, or move them apart.

When to leave it
    When you mean to cut thick card in two passes: better set the passes at the machine.

In a drawing
    Wrong: two panels side by side that each draw the edge between them: the blade runs down that
           edge twice.
    Right: the edge is drawn once, as part of one panel; or the panels stand 3 mm apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from matready.lint.acts import Drop, Fix
from matready.lint.cutting import Cutout
from matready.lint.cutting.near import clusters, components
from matready.lint.finding import Finding, Grade, Measured, Severity
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """How near counts as the same place is the distance `same_place_mm`: see [distances]."""

    overlap_mm: Annotated[
        float,
        Limit(
            "mm", "doubled runs no longer than this are left alone", "common practice, no source"
        ),
    ] = 1.0


def _groups(cutout: Cutout, runs: list[int]) -> list[list[int]]:
    """Runs that are one matter: end to end on one line, or whole copies of one element or outline.

    An outline drawn line by line is copied when its sides are, one after the other.
    """
    doubles, blade = cutout.doubles, cutout.blade
    line, other = doubles.line[runs], doubles.other[runs]
    node, partner = map(cutout.shown, blade.source[[line, other]].tolist())
    whole = doubles.whole(blade)[runs].tolist()
    tips = blade.locate(np.repeat(line, 2), np.ravel([doubles.start[runs], doubles.end[runs]], "F"))
    spot = clusters(tips, cutout.distances.same_place_mm).reshape(-1, 2).tolist()
    ties: list[tuple[int, int]] = []
    seen: dict[tuple[str | int, ...], int] = {}
    for k, (own, on) in enumerate(zip(line.tolist(), other.tolist(), strict=True)):
        keys: list[tuple[str | int, ...]] = [("ends", s, on) for s in spot[k]]
        if whole[k]:
            keys.append(("copy", node[k], partner[k]))
            # Sides drawn one after the other, and their copies in the same turn or the reverse.
            for s in spot[k]:
                beside = (("side", s, own - 1, on - step) for step in (1, -1))
                ties += [(k, seen[key]) for key in beside if key in seen]
                seen["side", s, own, on] = k
        ties += [(k, seen.setdefault(key, k)) for key in keys]
    label = components(len(runs), *np.array(ties, np.int64).reshape(-1, 2).T).tolist()
    groups: dict[int, list[int]] = {}
    for run, group in zip(runs, label, strict=True):
        groups.setdefault(group, []).append(run)
    return list(groups.values())


def _finding(cutout: Cutout, runs: list[int], limits: Limits) -> Finding:
    doubles, blade = cutout.doubles, cutout.blade
    longest = max(runs, key=lambda run: float(doubles.length[run]))
    length = float(doubles.length[runs].sum())
    middle = (doubles.start[longest] + doubles.end[longest]) / 2
    ((x, y),) = blade.locate(doubles.line[[longest]], np.array([middle])).tolist()
    spans = zip(doubles.line[runs], doubles.start[runs], doubles.end[runs], strict=True)
    points = np.vstack([blade.part(int(line), float(a), float(b)) for line, a, b in spans])
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    copies = [int(blade.source[doubles.line[run]]) for run in runs]
    originals = [int(blade.source[doubles.other[run]]) for run in runs]
    whole = bool(doubles.whole(blade)[runs].all())
    count = len(set(copies))
    what = "this line lies" if whole else "part of this line lies"
    what = f"these {count} lines lie" if whole and count > 1 else what
    return Finding(
        message=f"{what} on another cut line for {length:.1f} mm: the blade cuts there twice",
        at=(x, y),
        box=(x0, y0, x1, y1),
        nodes=cutout.nodes([*copies, *originals]),
        piece=cutout.piece_along(originals),
        measured=Measured(length, "mm", limits.overlap_mm),
        fix=Fix(Grade.SAFE, Drop(tuple(runs))),
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each doubled run, or for each element that is a whole copy."""
    runs = np.flatnonzero(cutout.doubles.length > limits.overlap_mm).tolist()
    if runs:
        for group in _groups(cutout, runs):
            yield _finding(cutout, group, limits)


RULE = Rule("double-cut", Severity.FAULT, Limits, check, Grade.SAFE)
