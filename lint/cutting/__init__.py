"""The virtual cut: what would fall out if the blade followed every cut line.

Roles (cut, score, draw) are told first, then the cut lines are swept, then pieces are made of the
faces. Lengths are mm throughout; line numbers are the Drawing's, except in Blade, Doubles,
Meetings, Network, Face, Chain and Opening, which use the Blade's.
"""

from __future__ import annotations

from matready.lint.cutting.colours import sweep_by_colour
from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.folds import Fold, find_folds
from matready.lint.cutting.oncut import scores_on_cuts
from matready.lint.cutting.pieces import Hole, Piece, find_pieces
from matready.lint.cutting.roles import settle, tell_roles
from matready.lint.cutting.sweep import Gap
from matready.lint.drawing import Drawing
from matready.lint.settings import Settings


def cut(drawing: Drawing, settings: Settings) -> Cutout:
    """Cut a drawing virtually: roles, loops, pieces with holes and folds, ends left over."""
    told = tell_roles(drawing, settings.read)
    swept, told = sweep_by_colour(drawing, told, settings.distances)
    roles = settle(told)
    folds = find_folds(drawing, roles, swept.faces)
    return Cutout(
        drawing=drawing,
        distances=settings.distances,
        mat=settings.mat,
        perforated=settings.read.scores == "perforated",
        roles=roles,
        blade=swept.blade,
        doubles=swept.doubles,
        gaps=swept.gaps,
        openings=swept.openings,
        folds=tuple(folds),
        on_cuts=scores_on_cuts(drawing, roles, settings.distances.same_place_mm),
        pieces=find_pieces(drawing, swept.blade, swept.faces, folds),
    )


__all__ = ["Cutout", "Fold", "Gap", "Hole", "Piece", "cut"]
