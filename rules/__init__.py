"""The rules, in the order in which they are listed and their fixes are made.

First the size, which all distances hang on; then which lines are cut, and where they end; then what
belongs together.
"""

from matready.rules import (
    active_content,
    broken_path,
    clipped_art,
    cut_order,
    dash_styled_line,
    double_cut,
    hairline_gap,
    hidden_line,
    live_text,
    loose_score,
    mixed_line,
    nameless_piece,
    open_outline,
    picture_inside,
    repeat_file,
    score_on_cut,
    stray_score,
    too_many_points,
    unclosed_ends,
    undersize_piece,
    uneven_marking,
    uneven_scale,
    unmatched_tab,
    weak_fold,
    wrong_scale,
)

RULES = (
    active_content.RULE,
    wrong_scale.RULE,
    broken_path.RULE,
    live_text.RULE,
    picture_inside.RULE,
    clipped_art.RULE,
    hidden_line.RULE,
    double_cut.RULE,
    score_on_cut.RULE,
    hairline_gap.RULE,
    unclosed_ends.RULE,
    open_outline.RULE,
    mixed_line.RULE,
    dash_styled_line.RULE,
    weak_fold.RULE,
    stray_score.RULE,
    too_many_points.RULE,
    loose_score.RULE,
    cut_order.RULE,
    nameless_piece.RULE,
    undersize_piece.RULE,
    uneven_scale.RULE,
    repeat_file.RULE,
    uneven_marking.RULE,
    unmatched_tab.RULE,
)
"""Every rule of the linter."""
