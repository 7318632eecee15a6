"""Reading: an SVG file's tree to the lines it puts on the page."""

from __future__ import annotations

import numpy as np

from matready.lint.drawing import Drawing, Note
from matready.lint.reading.geometry import Break, read_geometry
from matready.lint.reading.shapes import PathShape, PolyShape, Shape
from matready.lint.reading.walk import Walked, walk_tree
from matready.lint.source import Source


def read_drawing(source: Source, flatten_mm: float = 0.01) -> Drawing:
    """Everything that a file draws, in mm; curves become lines within `flatten_mm` of them.

    Raises Unreadable where uses multiply without end. What cannot be read is left out, and said
    in `notes`.
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
        notes=tuple(_notes(source, walked, geometry.breaks)),
    )


def _notes(source: Source, walked: Walked, breaks: tuple[Break, ...]) -> list[Note]:
    """All notes with their lines, an element's once however often a use shows it."""
    found = list(walked.notes)
    for one in breaks:
        found.append((walked.shape_nodes[one.owner], _broken(walked.shapes[one.owner], one)))
    found.sort(key=lambda note: note[0])  # the whole file first, then in drawing order
    notes: dict[tuple[object, str], Note] = {}
    for node, text in found:
        element = walked.nodes[node].element if node >= 0 else None
        if (element, text) in notes:
            continue
        where = "" if element is None else f"line {source.span(element).line}: "
        notes[element, text] = Note(where + text, node)
    return list(notes.values())


def _broken(shape: Shape, one: Break) -> str:
    """A break in path data or points, in plain words."""
    if isinstance(shape, PathShape):
        text, what = shape.d, "the path's data breaks off"
    elif isinstance(shape, PolyShape):
        text, what = shape.points, "the list of points breaks off"
    else:
        return f"the shape is left out ({one.reason})"
    before = " ".join(text[max(one.offset - 24, 0) : one.offset].split())
    if not before:
        return f"{what} at its beginning ({one.reason})"
    return f'{what} after "{before}" ({one.reason}); the part before it is kept'
