"""A clip, mask, filter or pattern shows something else than what is cut.

What it finds
    A clip, mask or frame that hides more of the lines to be cut or scored than the limit, a filter
    that blurs or shadows them, and, as a caution, a pattern that shows lines inside a shape. A clip
    that hides nothing, such as one as large as the page, is fine; so is a gradient.

Why it matters at the machine
    Most programs that cut know no clips: they cut the whole line, also where it is hidden, and not
    the edge that you see. A filtered shape is turned into pixels, or loses its filter.

How to put it right
    Apply the clip in the program that made the drawing: intersect the shape with it, then release
    it. Take filters and patterns off what is to be cut.

When to leave it
    When your program applies clips before it cuts, and you have seen it do so. Test-cut first.

In a drawing
    Wrong: a moon that is a whole circle, clipped to what stands above the hills.
    Right: the moon as the outline that is seen, intersected with the sky.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.clipped import Altered, altered_lines
from matready.lint.finding import Finding, Measured, Severity, box_around
from matready.lint.repeats import told_once
from matready.lint.rule import Limit, Rule

_NAMES = {
    "clip-path": ("a clip", "clips"),
    "mask": ("a mask", "masks"),
    "viewport": ("the frame of a drawing inside the drawing", "frames of drawings in the drawing"),
    "filter": ("a filter", "filters"),
    "pattern": ("a pattern", "patterns"),
}


@dataclass(frozen=True, slots=True)
class Limits:
    """How much of the lines may be hidden."""

    hidden_mm: Annotated[
        float,
        Limit("mm", "lines hidden by one clip, mask or frame", "common practice, no source"),
    ] = 0.5


def _message(kind: str, hidden: float | None, limit: float) -> str:
    name, _ = _NAMES[kind]
    if hidden is not None:
        return (
            f"{name} hides {hidden:.1f} mm of lines (at most {limit:g} mm): they are cut all the "
            "same, and the edge that is seen is not"
        )
    if kind == "pattern":
        return f"{name} fills what is cut here, and the lines in it will not be cut"
    return f"{name} makes what is cut here look otherwise: the blade follows the line itself"


def _finding(cutout: Cutout, alike: list[Altered], limit: float) -> Finding | None:
    """One finding for all uses of one clip or its like; None where they hide too little."""
    kind = alike[0].effect.kind
    lengths = [one.hidden_mm for one in alike if one.hidden_mm is not None]
    hidden = sum(lengths) if lengths else None
    if hidden is not None and hidden <= limit:
        return None
    lines = [line for one in alike for line in one.lines]
    return Finding(
        message=_message(kind, hidden, limit),
        at=alike[0].at,
        box=box_around(one.box for one in alike),
        nodes=tuple(dict.fromkeys((alike[0].effect.node, *cutout.nodes(lines)))),
        piece=cutout.piece_along(lines),
        measured=None if hidden is None else Measured(hidden, "mm", limit),
        severity=Severity.CAUTION if kind == "pattern" else None,
    )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each clip, mask, frame, filter or pattern that matters."""
    groups: dict[tuple[str, object], list[Altered]] = {}
    for one in altered_lines(cutout):
        groups.setdefault((one.effect.kind, _cause(cutout, one)), []).append(one)
    for kind, (_, many) in _NAMES.items():
        alike = [group for (which, _), group in groups.items() if which == kind]
        found = [_finding(cutout, group, limits.hidden_mm) for group in alike]
        yield from _told([finding for finding in found if finding], many)


def _cause(cutout: Cutout, one: Altered) -> object:
    """What clips or filters: its element, its text, or the drawing inside the drawing."""
    effect = one.effect
    if effect.area is not None:
        return effect.area.element
    return effect.text or cutout.drawing.nodes[effect.node].element


def _told(found: list[Finding], many: str) -> Iterator[Finding]:
    first = found[0].message if found else ""
    return told_once(found, lambda count: f"{count} {many} here are like the first: {first}")


RULE = Rule("clipped-art", Severity.FAULT, Limits, check, gathers=True)
