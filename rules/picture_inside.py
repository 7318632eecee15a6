"""A picture of pixels is part of the drawing, and a blade cannot follow it.

What it finds
    Pictures on the page, be they inside the file or linked to another one. Whether a linked file is
    there is not looked at: nothing outside the drawing is opened. It is told once a file.

Why it matters at the machine
    Only lines are cut. A program drops the picture, or traces it into outlines that no one drew; a
    linked one goes missing when the drawing is moved without it.

How to put it right
    Delete a picture that was only drawn over. Where it is the artwork, draw its outline as a line.

When to leave it
    When it is printed and not cut, and the machine is told so. Test-cut first.

In a drawing
    Wrong: the scan of a drawn moon on the backdrop, to be cut out along its edge.
    Right: a circle drawn as a line over the scan, and the scan deleted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint.cutting import Cutout
from matready.lint.finding import Finding, Severity, box_around
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """No limits: a picture is one or it is not."""


def _message(embedded: int, linked: int) -> str:
    if embedded and linked:
        what = f"{embedded + linked} pictures, {linked} of them linked to another file,"
    else:
        count, where = embedded or linked, "inside the file" if embedded else "in another file"
        what = f"a picture {where}" if count == 1 else f"{count} pictures {where}"
    return f"{what} cannot be cut: a blade follows lines, not pixels"


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for all pictures of a file."""
    pictures = [one for one in cutout.drawing.sights if one.kind == "image" and one.href]
    if not pictures:
        return
    embedded = sum(picture.href.lower().startswith("data:") for picture in pictures)
    first = pictures[0].box
    yield Finding(
        message=_message(embedded, len(pictures) - embedded),
        at=((first[0] + first[2]) / 2, (first[1] + first[3]) / 2),
        box=box_around(picture.box for picture in pictures),
        nodes=(),
        elements=tuple(dict.fromkeys(picture.element for picture in pictures)),
    )


RULE = Rule("picture-inside", Severity.CAUTION, Limits, check, gathers=True)
