"""A fix worked out: which lines it relies on, and how it is entered into the edits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from matready.lint.repair.licence import Licence

if TYPE_CHECKING:
    from matready.lint.repair.edits import Edits


@dataclass(frozen=True, eq=False, slots=True)
class Plan:
    """One fix, ready to be made.

    `holds` are the numbers of all lines whose present state it relies on, not only of those that
    it changes; two plans whose holds meet are never made in one round. `done` says in one clause
    what it does, `moved_mm` how far it moves the end of a line, and `slack_mm` how much more may
    come of it. `licences` are the scores that it changes in another way than by moving them.
    `in_part`: some of what the finding names cannot be mended and stays, for the same finding.
    """

    holds: frozenset[int]
    done: str
    enter: Callable[[Edits], None]
    moved_mm: float = 0.0
    slack_mm: float = 0.0
    licences: tuple[Licence, ...] = ()
    in_part: bool = False
