"""Reading: an SVG file's tree to the lines it puts on the page."""

from __future__ import annotations

import numpy as np

from matready.lint.drawing import Broken, Drawing, Note
from matready.lint.reading.faults import path_up_to_fault, points_up_to_fault
from matready.lint.reading.geometry import Break, read_geometry
from matready.lint.reading.shapes import PathShape, PolyShape, Shape
from matready.lint.reading.walk import walk_tree
from matready.lint.reading.walked import Walked
from matready.lint.source import Source

_SHOWN = 24  # characters of a text that are shown before the place where it breaks off


def read_drawing(source: Source, flatten_mm: float = 0.01) -> Drawing:
    """Everything that a file draws, in mm; curves become lines within `flatten_mm` of them.

    Raises Unreadable where uses multiply without end. What cannot be read is left out, and said
    in `notes` or, of path data and points, in `broken`.
    """
    walked = walk_tree(source)
    matrices = np.array(walked.matrices, dtype=np.float64).reshape(-1, 6)
    geometry = read_geometry(walked.shapes, matrices, flatten_mm)
    return Drawing(
        source=source,
        page=walked.page,
        nodes=tuple(walked.nodes),
        shapes=np.array(walked.shape_nodes, dtype=np.int64),
        geometry=geometry,
        put_no_line=walked.put_no_line,
        hidden=walked.hidden,
        notes=tuple(_notes(source, walked)),
        unseen=tuple(walked.unseen),
        sights=tuple(walked.sights),
        effects=tuple(walked.effects),
        broken=_broken(walked, geometry.breaks),
    )


def _notes(source: Source, walked: Walked) -> list[Note]:
    """All notes with their lines, an element's once however often a use shows it."""
    found = sorted(walked.notes, key=lambda note: note[0])  # the whole file, then drawing order
    notes: dict[tuple[object, str], Note] = {}
    for node, text in found:
        element = walked.nodes[node].element if node >= 0 else None
        if (element, text) in notes:
            continue
        where = "" if element is None else f"line {source.span(element).line}: "
        notes[element, text] = Note(where + text, node)
    return list(notes.values())


def _broken(walked: Walked, breaks: tuple[Break, ...]) -> tuple[Broken, ...]:
    """The shapes with a break in their path data or points, each element once."""
    found: dict[object, Broken] = {}
    for one in breaks:
        node = walked.shape_nodes[one.owner]
        element = walked.nodes[node].element
        if element not in found:
            found[element] = _break_in(node, walked.shapes[one.owner], one)
    return tuple(found.values())


def _break_in(node: int, shape: Shape, one: Break) -> Broken:
    if isinstance(shape, PathShape):
        text, what = shape.d, "path data"
        read = path_up_to_fault(text)
    elif isinstance(shape, PolyShape):
        text, what, read = (
            shape.points,
            "list of points",
            points_up_to_fault(shape.points, closed=False),
        )
    else:
        return Broken(node, "", "", one.reason, 0)
    # A move draws nothing; where one is put in after a Z, two segments have one offset.
    letters = zip(read.commands.letters, dict.fromkeys(read.offsets), strict=True)
    kept = sum(1 for letter, offset in letters if offset < one.offset and letter not in "Mm")
    before = " ".join(text[max(one.offset - _SHOWN, 0) : one.offset].split())
    return Broken(node, what, before, one.reason, kept)
