"""The rules, in the order in which they are listed and their fixes would be applied."""

from matready.rules import (
    double_cut,
    hairline_gap,
    loose_score,
    open_outline,
    undersize_piece,
    wrong_scale,
)

RULES = (
    loose_score.RULE,
    open_outline.RULE,
    hairline_gap.RULE,
    double_cut.RULE,
    undersize_piece.RULE,
    wrong_scale.RULE,
)
"""Every rule of the linter."""
