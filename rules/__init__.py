"""The rules, in the order in which they are listed and their fixes are made.

First the size, which all distances hang on; then which lines are cut, and where they end; then what
belongs together.
"""

from matready.rules import (
    double_cut,
    hairline_gap,
    loose_score,
    open_outline,
    unclosed_ends,
    undersize_piece,
    wrong_scale,
)

RULES = (
    wrong_scale.RULE,
    double_cut.RULE,
    hairline_gap.RULE,
    unclosed_ends.RULE,
    open_outline.RULE,
    loose_score.RULE,
    undersize_piece.RULE,
)
"""Every rule of the linter."""
