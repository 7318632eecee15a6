"""Where a dash-styled line shows its gaps, and how its styling is taken away."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from matready.lint.cutting.dashstyle import dashes_of, pattern_scale
from matready.lint.drawing import Drawing
from matready.lint.reading.units import ROOT_FONT_PX, parse_length, to_user
from matready.lint.repair.declared import Declared, inline, presentation
from matready.lint.repair.edits import Edits
from matready.lint.repair.refusal import Refused

if TYPE_CHECKING:
    from lxml.etree import _Element

_DASHES, _OFFSET = "stroke-dasharray", "stroke-dashoffset"
_SEMICOLON = re.compile(r";(?![^(]*\))")
_MOST = 5_000  # dashes of one line; more are a hatching, not a fold
_UNSEEN_MM = 0.02  # a dash shorter than this at an end is a rounding error of the pattern


def shown_gaps(
    drawing: Drawing, declared: Declared, node: int, total_mm: float
) -> list[tuple[float, float]]:
    """The gaps that a line of this length shows, from and to in mm from its beginning.

    Raises Refused where they cannot be told.
    """
    scale = pattern_scale(drawing, node)
    pattern = [size * scale for size in dashes_of(drawing, node)]
    period = sum(pattern)
    if not period or total_mm / period * len(pattern) > 2 * _MOST:
        raise Refused("its dashes are too many to be drawn")
    at = -((_offset(drawing, declared, node) * scale) % period)
    gaps = []
    while at < total_mm:
        for cut, gap in zip(pattern[::2], pattern[1::2], strict=True):
            gaps.append((max(at + cut, 0.0), min(at + cut + gap, total_mm)))
            at += cut + gap
    kept = [(a, b) for a, b in gaps if b > a]
    if kept and 0 < kept[0][0] < _UNSEEN_MM:
        kept[0] = (0.0, kept[0][1])
    if kept and 0 < total_mm - kept[-1][1] < _UNSEEN_MM:
        kept[-1] = (kept[-1][0], total_mm)
    return kept


def _offset(drawing: Drawing, declared: Declared, node: int) -> float:
    """The computed stroke-dashoffset in user units."""
    for above in drawing.ancestors(node):
        text = declared.of(drawing.nodes[above].element).get(_OFFSET, "inherit").strip().lower()
        if text in ("inherit", "unset"):
            continue
        length = parse_length(text)
        offset = None if length is None else to_user(length, None, ROOT_FONT_PX)
        if offset is None and text != "initial":
            raise Refused("where its dashes begin cannot be told")
        return offset or 0.0
    return 0.0


def take_styling(edits: Edits, declared: Declared, node: int) -> None:
    """Let a line be drawn solid: its dash styling goes, or is taken back where others share it."""
    drawing = edits.drawing
    element = drawing.nodes[node].element
    above = drawing.ancestors(node)[1:]
    inherited = any(_DASHES in declared.of(drawing.nodes[n].element) for n in above)
    by_sheet = any(_DASHES in declared.by_rule(rule) for rule in declared.rules(element))
    style = str(element.get("style", ""))
    if by_sheet or _DASHES in inline(element):
        kept = _without_dashes(style)
        back = f"{_DASHES}:none" if by_sheet or inherited else ""
        edits.set(element, "style", ";".join(part for part in (kept, back) if part) or None)
    if _DASHES in presentation(element) and (by_sheet or not inherited):
        edits.set(element, _DASHES, None)
    elif not by_sheet and _DASHES not in inline(element):
        edits.set(element, _DASHES, "none")
    if _OFFSET in presentation(element):
        edits.set(element, _OFFSET, None)


def _without_dashes(style: str) -> str:
    """A style attribute's text without its dash pattern."""
    if any(sign in style for sign in "'\"\\/{"):
        if _DASHES in style:
            raise Refused("its style attribute cannot be taken apart for certain")
        return style.strip().rstrip(";")
    parts = (part.strip() for part in _SEMICOLON.split(style))
    own = (_DASHES, _OFFSET)
    return ";".join(p for p in parts if p and p.partition(":")[0].strip().lower() not in own)


def refuse_if_important(drawing: Drawing, declared: Declared, element: _Element) -> None:
    """Raise Refused where a style rule would override what an element says of its dashes."""
    if any(
        declared.has_important(rule) and _DASHES in declared.by_rule(rule)
        for rule in declared.rules(element)
    ):
        raise Refused("its dashes are styled by a rule marked !important")
