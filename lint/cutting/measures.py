"""Sizes in a drawing that a set of drawings has in common: by them one at another scale shows."""

from __future__ import annotations

from collections import Counter

import numpy as np

from matready.lint.cutting.cutout import Cutout
from matready.lint.cutting.folds import samples_of
from matready.lint.cutting.roles import CUT, SCORE
from matready.lint.cutting.tabs import folded_pieces

PAGE, TABS, PITCH, STROKE = "page", "tab depth", "dash pitch", "line width"
MEASURES = (TABS, PITCH, PAGE, STROKE)
STRONG = (TABS, PITCH)  # drawn alike in all drawings of one model, whatever the paper
_ROUND_MM = 0.01  # sizes that differ by less are one when the most usual is looked for


def measures_of(cutout: Cutout) -> dict[str, float]:
    """The drawing's usual sizes in mm: page, depth of glue tabs, dash pitch, width of cut lines.

    The page stands for its longer side. What a drawing does not have is left out.
    """
    size = cutout.drawing.page.size_mm
    depths = [tab.depth for one in folded_pieces(cutout) for tab in one.tabs]
    found = {
        PAGE: max(size) if size else None,
        TABS: _usual(depths),
        PITCH: _usual(_pitches(cutout)),
        STROKE: _usual(_strokes(cutout)),
    }
    return {name: value for name, value in found.items() if value}


def _usual(values: list[float]) -> float | None:
    """The value met most often, the middle one of those that are met equally often."""
    if not values:
        return None
    steps = Counter(round(value / _ROUND_MM) for value in values)
    most = max(steps.values())
    often = sorted(step for step, count in steps.items() if count == most)
    step = often[len(often) // 2]
    return float(np.mean([value for value in values if round(value / _ROUND_MM) == step]))


def _pitches(cutout: Cutout) -> list[float]:
    """From one dash to the next, in mm: one number for each row and each dash-styled fold."""
    rows = [row for row in cutout.roles.rows if len(row) > 2]
    pitches: list[float] = []
    if rows:
        row_of = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
        dashes = np.array([line for row in rows for line in row])
        step = np.diff(samples_of(cutout.drawing, dashes, 1)[:, 0], axis=0)
        length = np.hypot(step[:, 0], step[:, 1])[row_of[1:] == row_of[:-1]]
        parts = np.split(length, np.cumsum([len(row) - 1 for row in rows])[:-1])
        pitches = [float(np.median(part)) for part in parts]
    scores = np.flatnonzero(cutout.roles.role == SCORE)
    for node in np.unique(cutout.drawing.line_node[scores]).tolist():
        dashes = cutout.drawing.nodes[node].style.dashes
        if dashes:
            # An odd pattern is repeated once to make pairs (SVG 2, 13.5.6).
            pairs = len(dashes) / (1 if len(dashes) % 2 else 2)
            total = sum(dashes) * (2 if len(dashes) % 2 else 1)
            pitches.append(total / pairs * _scale(cutout, node))
    return pitches


def _strokes(cutout: Cutout) -> list[float]:
    lines = np.flatnonzero(cutout.roles.role == CUT)
    nodes = np.unique(cutout.drawing.line_node[lines]).tolist()
    styles = [(node, cutout.drawing.nodes[node].style) for node in nodes]
    return [s.stroke_width * _scale(cutout, node) for node, s in styles if s.stroke != "none"]


def _scale(cutout: Cutout, node: int) -> float:
    """How many mm one unit of a node's own is; infinite or void scales become 0."""
    a, b, c, d, _, _ = cutout.drawing.nodes[node].matrix
    scale = abs(a * d - b * c) ** 0.5
    return float(scale) if np.isfinite(scale) else 0.0
