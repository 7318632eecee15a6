"""The file will be cut at another size than it was drawn for.

What it finds
    A file without a physical size; a page in plain numbers that is a known sheet only at 72 or 90
    units an inch, or when the numbers are taken as mm or inches; x and y scaled unequally; a
    drawing larger than the mat, or so small as a whole that no one can have meant it.

Why it matters at the machine
    Each program guesses a size of its own. Panels come out at three quarters of their size, tabs no
    longer meet, and a project cut from several files does not fit together.

How to put it right
    Give the page its true width and height in mm or inches, with a viewBox, and measure one known
    edge on the layout page before you cut.

When to leave it
    When the whole set is meant to be sized by hand at the machine, all files by the same factor.

In a drawing
    Wrong: width="864" height="864": 12 × 12 in at 72 to the inch, which is cut at 9 in.
    Right: width="12in" height="12in" viewBox="0 0 864 864": the same numbers, and 12 in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from matready.lint import scale
from matready.lint.acts import Fix, Resize
from matready.lint.cutting import Cutout
from matready.lint.finding import Box, Finding, Grade, Measured, Severity
from matready.lint.rule import Limit, Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """When a size is taken for a mistake."""

    tiny_mm: Annotated[
        float,
        Limit("mm", "the longer side of a tiny drawing is shorter", "common practice, no source"),
    ] = scale.TINY_MM
    unequal_share: Annotated[
        float,
        Limit("share", "x and y may be scaled so unequally", "computed: hairline_mm over 100 mm"),
    ] = 0.005


def _unequal_scale(cutout: Cutout) -> float:
    """Larger over smaller scale of x and y, where all lines share it; 1 where not, or in a skew."""
    nodes = cutout.drawing.nodes
    above = {nodes[n].parent for n in cutout.drawing.shapes.tolist() if nodes[n].parent >= 0}
    ratios = []
    for node in above:
        a, b, c, d, _, _ = nodes[node].matrix
        if not np.isfinite([a, b, c, d]).all():
            continue  # what such a group draws is left out
        large, small = np.linalg.svd(np.array([[a, c], [b, d]]), compute_uv=False).tolist()
        # A slip keeps the page's axes or the shape's own at right angles; no slip makes a skew.
        leans = min(abs(a * c + b * d), abs(a * b + c * d)) > 1e-3 * large * small
        ratios.append(large / small if small and not leans else 1.0)
    return min(ratios) if ratios and max(ratios) - min(ratios) < 1e-3 else 1.0


def _said(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _page_finding(cutout: Cutout) -> tuple[str, Severity, Fix | None] | None:
    page = cutout.drawing.page
    guess = scale.guess_unit(page)
    if guess is not None:
        says = "no physical size" if page.unit == "none" else "no unit with its size"
        now, cure = (f"{n:.4g}\N{NO-BREAK SPACE}%" for n in (100 / guess.ratio, 100 * guess.ratio))
        said = (
            f"the page has {says}; its numbers are those of {guess.page}, read as {guess.read_as}; "
            f"at 96 to the inch it is cut at {now} of that: scale it to {cure}"
        )
        severity = Severity.FAULT if guess.unit_lost else Severity.CAUTION
        return said, severity, Fix(Grade.RESHAPING, Resize(guess.ratio, guess.size_mm))
    if page.unit == "none":
        said = "the page has no physical size: every program will guess one; measure before you cut"
        return said, Severity.CAUTION, None
    return None


def _size_finding(
    cutout: Cutout, box: Box, limits: Limits
) -> tuple[str, Severity, Measured] | None:
    width, height = box[2] - box[0], box[3] - box[1]
    if scale.is_tiny(box, limits.tiny_mm):
        longer = max(width, height)
        said = (
            f"the whole drawing is only {longer:.1f} mm long "
            f"(at least {limits.tiny_mm:g} mm): its unit was probably lost"
        )
        return said, Severity.CAUTION, Measured(longer, "mm", limits.tiny_mm)
    over = _over(box, cutout.mat or scale.LARGEST_MAT_MM)
    # That a piece is too large for the mat by itself is said of the piece.
    if over is None or (cutout.mat and any(_over(p.box, cutout.mat) for p in cutout.pieces)):
        return None
    short, long = map(_said, sorted(cutout.mat or scale.LARGEST_MAT_MM))
    said = (
        f"the drawing is {_said(width)} × {_said(height)} mm, larger than "
        f"{'the mat' if cutout.mat else 'a long mat'} ({short} × {long} mm)"
    )
    return said, Severity.CAUTION, over


def _over(box: Box, mat: tuple[float, float]) -> Measured | None:
    """The side of a box that is longer than a mat's, the longer one first."""
    sides = sorted((box[2] - box[0], box[3] - box[1]), reverse=True)
    pairs = zip(sides, sorted(mat, reverse=True), strict=True)
    return next((Measured(a, "mm", b) for a, b in pairs if a > b + 0.05), None)


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """At most one finding about the size, and one about unequal scales."""
    box = scale.content_box(cutout)
    if box is None:
        return
    at = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    ratio = _unequal_scale(cutout)
    if ratio > 1 + limits.unequal_share:
        yield Finding(
            message=f"x and y are scaled unequally, by {ratio:.4g} to 1: "
            "circles become ovals and panels no longer fit each other",
            at=at,
            box=box,
            nodes=(0,),
            measured=Measured(ratio - 1, "share", limits.unequal_share),
            severity=Severity.FAULT,
        )
    if (page := _page_finding(cutout)) is not None:
        message, severity, fix = page
        yield Finding(message, at, box, (0,), fix=fix, severity=severity)
        return
    if (size := _size_finding(cutout, box, limits)) is not None:
        message, severity, measured = size
        yield Finding(message, at, box, (0,), measured=measured, severity=severity)


RULE = Rule("wrong-scale", Severity.CAUTION, Limits, check, Grade.RESHAPING)
