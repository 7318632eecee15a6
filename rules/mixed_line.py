"""One path draws cut lines and score lines together.

What it finds
    An element whose sub-paths play two roles, such as an outline with its folds, dash by dash, in
    one path.

Why it matters at the machine
    Programs give a whole path one setting. The folds are cut with the outline's knife and pressure,
    or the outline is only scored; they cannot be given another order or another tool.

How to put it right
    Split the path: the outline and its holes in one, the folds in another, both in one group.

When to leave it
    When the folds are perforated with the same blade and setting as the outline.

In a drawing
    Wrong: a flag of the bunting whose outline and row of dashes are one path.
    Right: the outline, and a second path with the dashes, together in a group.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from matready.lint.acts import Fix, Split
from matready.lint.cutting import Cutout
from matready.lint.cutting.folds import samples_of
from matready.lint.cutting.roles import CUT, SCORE
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """This rule measures nothing: a path has one role or it has two."""


def _mixed(cutout: Cutout) -> dict[int, tuple[list[int], list[int]]]:
    """Nodes that draw both, with their cut lines and their score lines."""
    roles, nodes = cutout.roles.role, cutout.drawing.line_node
    both = set(nodes[roles == SCORE].tolist()) & set(nodes[roles == CUT].tolist())
    found: dict[int, tuple[list[int], list[int]]] = defaultdict(lambda: ([], []))
    for line in np.flatnonzero(np.isin(nodes, sorted(both))).tolist():
        if roles[line] in (CUT, SCORE):
            found[int(nodes[line])][int(roles[line] == SCORE)].append(line)
    return found


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each path that draws both."""
    mixed = _mixed(cutout)
    seen = set()
    for node, (cuts, scores) in mixed.items():
        element = cutout.drawing.nodes[node].element
        if element in seen:  # drawn again by a <use>
            continue
        seen.add(element)
        wanted = set(scores)
        folds = sum(not wanted.isdisjoint(fold.lines) for fold in cutout.folds)
        ((x, y),) = samples_of(cutout.drawing, np.array(scores[:1]), 1)[0].tolist()
        yield Finding(
            message=f"one path draws {len(cuts)} cut line{'s' * (len(cuts) > 1)} and {folds} "
            f"fold{'s' * (folds > 1)}: they cannot be set differently at the machine",
            at=(x, y),
            box=cutout.box([*cuts, *scores]),
            nodes=(node,),
            piece=cutout.piece_along(cuts),
            fix=Fix(Grade.SAFE, Split(node)),
        )


RULE = Rule("mixed-line", Severity.CAUTION, Limits, check, Grade.SAFE)
