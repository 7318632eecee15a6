"""Shapes are drawn by reference: the file names them, and not where they lie.

What it finds
    Shapes that a `use` element repeats from elsewhere in the file, drawings in a frame of their own
    (an svg inside the svg), and a `use` that asks for a part of another file.

Why it matters at the machine
    A cutting program has to follow the reference to find the line. Many do not: they leave such
    shapes out, or cut them where the original lies, at another size. And a piece made of them
    cannot be mended on its own, as each copy is the same line.

How to put it right
    In a drawing program, unlink the copies or expand the symbols; take a frame's content out of it.
    Copy in what stands in another file.

When to leave it
    When your machine's program has cut files of this kind right before.

In a drawing
    Wrong: one <symbol> called "wing" and two times <use href="#wing"/>, which both show it.
    Right: two groups, each with its own outline and fold, where they lie on the page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from matready.lint.acts import Fix, WriteOut
from matready.lint.cutting import Cutout
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.rule import Rule

_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"


@dataclass(frozen=True, slots=True)
class Limits:
    """A shape is drawn by reference or in its place: there is no limit to set."""


def _finding(cutout: Cutout, nodes: Sequence[int], message: str, fix: Fix | None) -> Finding:
    drawing, wanted = cutout.drawing, set(nodes)
    drawn = drawing.line_node.tolist()
    below = {node for node in set(drawn) if not wanted.isdisjoint(drawing.ancestors(node))}
    lines = [line for line, node in enumerate(drawn) if node in below]
    box = cutout.box(lines) if lines else None
    first = drawing.geometry.points[drawing.geometry.offsets[lines[0]]].tolist() if lines else None
    at = (first[0], first[1]) if first else None
    return Finding(message=message, at=at, box=box, nodes=tuple(nodes), fix=fix)


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for each way of reference that the file has."""
    nodes = cutout.drawing.nodes
    uses = [n for n, node in enumerate(nodes) if node.kind == "use" and node.instance == n]
    outside = [n for n in uses if _asks_outside(cutout, n)]
    showing = {node.parent for node in nodes} | {sight.node for sight in cutout.drawing.sights}
    uses = [n for n in uses if n in showing]  # else it names what is not there
    frames = [n for n, node in enumerate(nodes) if n and node.kind == "svg" and node.instance < 0]
    harm = "many programs leave such shapes out or misplace them"
    for found, one, many in (
        (uses, "shape is drawn by a reference (use)", "shapes are drawn by references (use)"),
        (frames, "drawing stands inside this one (svg)", "drawings stand inside this one (svg)"),
    ):
        if found:
            what = f"{len(found)} {one if len(found) == 1 else many}: {harm}"
            yield _finding(cutout, found, what, Fix(Grade.SAFE, WriteOut(tuple(found))))
    if outside:
        what = (
            "a shape is asked for" if len(outside) == 1 else f"{len(outside)} shapes are asked for"
        )
        yield _finding(cutout, outside, f"{what} from another file, and will not be cut", None)


def _asks_outside(cutout: Cutout, node: int) -> bool:
    element = cutout.drawing.nodes[node].element
    href = str(element.get("href", element.get(_XLINK_HREF, ""))).strip()
    return bool(href) and not href.startswith("#")


RULE = Rule("indirect-shape", Severity.TIDY, Limits, check, Grade.SAFE, gathers=True)
