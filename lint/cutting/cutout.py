"""The Cutout: all that the virtual cut found out, for the rules to look at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from matready.lint.cutting.blade import Blade
from matready.lint.cutting.doubles import Doubles
from matready.lint.cutting.folds import Fold
from matready.lint.cutting.oncut import OnCut
from matready.lint.cutting.pieces import Piece
from matready.lint.cutting.roles import CLUES, CUT, NAMES, SCORE, Roles
from matready.lint.cutting.sweep import Gap
from matready.lint.drawing import Drawing
from matready.lint.finding import Box
from matready.lint.settings import Distances


@dataclass(frozen=True, eq=False, slots=True)
class Cutout:
    """The virtual cut of one drawing; all line numbers are the drawing's unless a Blade's."""

    drawing: Drawing
    distances: Distances
    mat: tuple[float, float] | None
    perforated: bool  # scores are cut through, dash by dash; else they are pressed or part-cut
    roles: Roles
    blade: Blade
    doubles: Doubles
    gaps: tuple[Gap, ...]
    openings: tuple[Gap, ...]
    folds: tuple[Fold, ...]
    on_cuts: Mapping[int, list[OnCut]]  # of score lines the stretches that lie on a cut
    pieces: tuple[Piece, ...]

    def count(self, role: int) -> int:
        """Lines of a role; a dashed fold counts once."""
        return len(self.folds) if role == SCORE else int((self.roles.role == role).sum())

    def nodes(self, lines: Iterable[int]) -> tuple[int, ...]:
        """The nodes that draw some lines, each once."""
        return tuple(dict.fromkeys(int(self.drawing.line_node[line]) for line in lines))

    def shown(self, lines: Iterable[int]) -> list[int]:
        """For each line what draws it as the file tells it: the outermost `use`, or its node."""
        nodes = self.drawing.line_node[list(lines)].tolist()
        uses = [self.drawing.nodes[node].instance for node in nodes]
        return [use if use >= 0 else node for node, use in zip(nodes, uses, strict=True)]

    def box(self, lines: Iterable[int]) -> Box:
        """The box around some lines: x0, y0, x1, y1 in mm."""
        geometry = self.drawing.geometry
        parts = [geometry.line(n) for n in lines]
        x0, y0 = np.min([part.min(axis=0) for part in parts], axis=0).tolist()
        x1, y1 = np.max([part.max(axis=0) for part in parts], axis=0).tolist()
        return x0, y0, x1, y1

    def cuts_in(self, box: Box) -> list[int]:
        """The cut lines that may come to a box: those whose own box is in the same place."""
        (low, high), near = self.drawing.geometry.boxes(), self.distances.same_place_mm
        x0, y0, x1, y1 = box
        meets = (low <= (x1 + near, y1 + near)).all(axis=1)
        meets &= (high >= (x0 - near, y0 - near)).all(axis=1)
        found: list[int] = np.flatnonzero(meets & (self.roles.role == CUT)).tolist()
        return found

    def length(self, line: int) -> float:
        """The length of a line in mm."""
        geometry = self.drawing.geometry
        step = np.diff(geometry.line(line), axis=0)
        return float(np.hypot(step[:, 0], step[:, 1]).sum())

    def mostly_on_cuts(self, lines: Iterable[int]) -> bool:
        """Whether more than half of some score lines lies on cuts."""
        if not self.on_cuts:
            return False
        wanted = list(lines)
        runs = [run for line in wanted for run in self.on_cuts.get(line, ())]
        on = sum(run.end - run.start for run in runs)
        return bool(runs) and on > 0.5 * sum(map(self.length, wanted))

    def copies(self) -> dict[int, list[int]]:
        """For each cut line that others lie on wholly, those others."""
        whole, source = self.doubles.whole(self.blade), self.blade.source
        copies, originals = source[self.doubles.line[whole]], source[self.doubles.other[whole]]
        found: dict[int, list[int]] = {}
        for copy, original in zip(copies.tolist(), originals.tolist(), strict=True):
            found.setdefault(original, []).append(copy)
        return found

    def piece_along(self, lines: Iterable[int]) -> str | None:
        """The name of the first piece that one of these lines bounds or pierces."""
        wanted = set(lines)
        for piece in self.pieces:
            edges = (piece.lines, *(hole.lines for hole in piece.holes))
            if any(not wanted.isdisjoint(edge) for edge in edges):
                return piece.name
        return None

    def clues(self) -> dict[tuple[str, str], int]:
        """How many lines each clue told, by (role, clue); a dashed fold counts once."""
        one_each = np.ones(len(self.roles.role), bool)
        for fold in self.folds:
            one_each[list(fold.lines[1:])] = False
        role, clue = self.roles.role[one_each].tolist(), self.roles.clue[one_each].tolist()
        return {
            (NAMES[r], CLUES[c]): n
            for (r, c), n in sorted(Counter(zip(role, clue, strict=True)).items())
        }
