"""Lines lie outside the page, or a piece fits on the mat in no direction.

What it finds
    Cut and score lines that run over the edge of the page by more than the limit, and pieces that
    fit on the named mat in no direction. Without a named mat only the page counts. A page without
    a size has no edge.

Why it matters at the machine
    There is no card under such a line. The blade cuts into the mat, the machine stops at its rail,
    or the program drops what it can't reach, and the piece comes out in part.

How to put it right
    Move the drawing onto the page, or make the page as large as the card. Divide a piece that is
    too large, with a glue tab at the joint, or name the mat that you cut it on.

When to leave it
    When the piece is to run off the card on purpose.

In a drawing
    Wrong: a wall on a page of 100 mm that reaches to 104 mm.
    Right: the wall is moved 6 mm to the left, or the page is made 110 mm wide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import shapely

from matready.lint import scale
from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import CUT, SCORE
from matready.lint.drawing import Floats, Ints
from matready.lint.finding import Finding, Measured, Severity, Unchecked
from matready.lint.repeats import told_once
from matready.lint.rule import Limit, Rule

_SIDES = ("left", "top", "right", "bottom")
_STEP_DEG = 0.25  # how finely a piece is turned to see if it fits


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a line may run over."""

    over_mm: Annotated[
        float,
        Limit(
            "mm",
            "how far lines may lie outside the page or the mat",
            "common practice, no source: half the width of a wide pen line",
        ),
    ] = 0.5


def _beyond(cutout: Cutout, size: tuple[float, float]) -> tuple[Ints, Floats]:
    """The cut and score lines, and how far each is beyond the four sides of the page in mm."""
    geometry = cutout.drawing.geometry
    lines = np.flatnonzero(np.isin(cutout.roles.role, (CUT, SCORE)))
    if not len(lines):
        return lines, np.zeros((0, 4))
    low, high = geometry.boxes()
    return lines, np.hstack([-low[lines], high[lines] - np.array(size)])


def _outside(cutout: Cutout, over_mm: float) -> Iterator[Finding]:
    """At most one finding, about all lines that run over the page's edge."""
    size = cutout.drawing.page.size_mm
    if size is None:
        return
    lines, beyond = _beyond(cutout, size)
    out = (np.round(beyond, 2) > over_mm).any(axis=1)
    if not out.any():
        return
    lines, beyond = lines[out], beyond[out]
    worst, side = divmod(int(np.argmax(beyond)), 4)
    far = float(beyond[worst, side])
    first = lines[worst : worst + 1].tolist()
    x0, y0, x1, y1 = cutout.box(first)
    x, y = (x0 if side == 0 else x1, (y0 + y1) / 2) if side % 2 == 0 else ((x0 + x1) / 2, y0)
    what = f"{len(lines)} lines lie" if len(lines) > 1 else "this line lies"
    yield Finding(
        message=f"{what} outside the page, by up to {far:.1f} mm over its {_SIDES[side]} edge "
        f"(at most {over_mm:g} mm): there is no card to cut",
        at=(x, y1 if side == 3 else y),
        box=cutout.box(lines.tolist()),
        nodes=cutout.nodes([*first, *lines.tolist()]),
        piece=cutout.piece_along(first),
        measured=Measured(far, "mm", over_mm),
    )


def _excess(card: shapely.Polygon, mat: tuple[float, float]) -> float:
    """By how many mm a piece is too large for a mat in the direction that suits it best."""
    points = shapely.get_coordinates(shapely.convex_hull(card))
    edges = np.diff(points, axis=0)
    turns = np.concatenate([
        np.arctan2(edges[:, 1], edges[:, 0]), np.radians(np.arange(0, 180, _STEP_DEG)),
    ])  # fmt: skip
    cos, sin = np.cos(turns)[:, None], np.sin(turns)[:, None]
    x, y = points.T
    sides = np.stack([np.ptp(x * cos + y * sin, axis=1), np.ptp(y * cos - x * sin, axis=1)])
    over = np.sort(sides, axis=0) - np.sort(mat)[:, None]
    return float(over.max(axis=0).min())


def _too_large(cutout: Cutout, mat: tuple[float, float], over_mm: float) -> Iterator[Finding]:
    """One finding for each piece that fits on the mat in no direction."""
    for piece in cutout.pieces:
        x0, y0, x1, y1 = piece.box
        if x1 - x0 <= mat[0] and y1 - y0 <= mat[1]:
            continue
        excess = _excess(piece.card, mat)
        if round(excess, 2) <= over_mm:
            continue
        yield Finding(
            message=f"this piece of {x1 - x0:.1f} × {y1 - y0:.1f} mm fits on the mat "
            f"({mat[0]:g} × {mat[1]:g} mm) in no direction: it is {excess:.1f} mm too large",
            at=((x0 + x1) / 2, (y0 + y1) / 2),
            box=piece.box,
            nodes=cutout.nodes(piece.lines),
            piece=piece.name,
            measured=Measured(excess, "mm", over_mm),
        )


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding | Unchecked]:
    """At most one finding about the page, and one for each piece too large for the mat."""
    yield from _outside(cutout, limits.over_mm)
    if cutout.mat is None:
        return
    doubt = scale.doubt_of(cutout)
    if doubt is not None:
        yield Unchecked(doubt)
        return
    yield from told_once(
        list(_too_large(cutout, cutout.mat, limits.over_mm)),
        lambda count: f"{count} pieces fit on the mat in no direction: divide them",
    )


RULE = Rule("off-mat", Severity.FAULT, Limits, check)
