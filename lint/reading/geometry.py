"""Shapes to lines: what all shapes of a file put on the page, as polylines in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from matready.lint.reading.faults import UpToFault, path_up_to_fault, points_up_to_fault
from matready.lint.reading.flatten import flatten, place
from matready.lint.reading.pathdata import Commands, draw_path, read_commands
from matready.lint.reading.shapes import PathShape, PolyShape, Shape, draw_basic
from matready.lint.reading.strokes import CLOSE, MOVE, Strokes

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Complex = npt.NDArray[np.complex128]

_TEXTS = (PathShape, PolyShape)

# No step is as short as this: sums of relative numbers end beside where they should.
_ROUNDING_MM = 1e-9
_TOO_LARGE = "a number is too large"
_SPACES = " \t\n\r\f"
_SEPARATORS = _SPACES + ","


@dataclass(frozen=True, slots=True)
class Break:
    """A shape that is drawn only up to a fault in it, or not at all.

    `owner` is an index into the shapes. `offset` is the character of the path data or the points
    at which they stop being read, 0 for shapes without such a text.
    """

    owner: int
    offset: int
    reason: str


@dataclass(frozen=True, slots=True)
class Geometry:
    """m lines with n points in all; one line is one sub-path that has a length.

    `points` (n, 2): millimetres; closed lines repeat their first point as the last.
    `offsets` (m + 1,): line i owns points[offsets[i]:offsets[i + 1]], at least two of them.
    `closed` (m,): closed by Z or by the shape's own rule, and not by ends that coincide.
    `owner` (m,): index into the shapes that were read. `subpath` (m,): the number of the sub-path
    in its shape, from 0; sub-paths that put no line down are counted too.
    `breaks`: in the order of their owners. `dots`: how many sub-paths drew something of no length.
    """

    points: Floats
    offsets: Ints
    closed: Bools
    owner: Ints
    subpath: Ints
    breaks: tuple[Break, ...]
    dots: int

    def line(self, number: int) -> Floats:
        """The points (k, 2) of one line."""
        return self.points[self.offsets[number] : self.offsets[number + 1]]

    def boxes(self) -> tuple[Floats, Floats]:
        """The lower and the higher corner (m, 2) of the box around each line; there is one."""
        starts = self.offsets[:-1]
        return np.minimum.reduceat(self.points, starts), np.maximum.reduceat(self.points, starts)


def read_geometry(shapes: Sequence[Shape], matrices: Floats, flatten_mm: float) -> Geometry:
    """The lines of all shapes, in their order.

    `matrices` (k, 6) takes the user units of each shape to millimetres, in the order a, b, c, d,
    e, f of SVG. Points lie on the true curves, and no chord is further than `flatten_mm` from its
    curve. Never raises for what stands in a shape: see `breaks`.
    """
    strokes, breaks = _draw(shapes)
    if not strokes.kinds:
        none = np.empty(0, np.int64)
        return Geometry(
            np.empty((0, 2)), np.zeros(1, np.int64), none != 0, none, none, breaks, dots=0
        )
    with np.errstate(all="ignore"):  # what overflows is looked for, and becomes a break
        placed = place(strokes, np.asarray(matrices, np.float64).reshape(-1, 6))
        far = placed.out_of_reach()
        if len(far):
            kept, cuts = _cut_off(shapes, far, np.array(strokes.segment_ends))
            geometry = read_geometry(kept, matrices, flatten_mm)
            ordered = sorted((*geometry.breaks, *cuts), key=lambda each: each.owner)
            return replace(geometry, breaks=tuple(ordered))
        points, ends = flatten(placed, flatten_mm)
    return _lines(strokes, points, ends, breaks)


def _draw(shapes: Sequence[Shape]) -> tuple[Strokes, tuple[Break, ...]]:
    strokes = Strokes()
    breaks = []
    commands = read_commands([_path_data(shape) for shape in shapes])
    for owner, (shape, drawn) in enumerate(zip(shapes, commands, strict=True)):
        if isinstance(shape, _TEXTS):
            fault = _draw_text(shape, drawn, strokes)
        else:
            reason = draw_basic(shape, strokes)
            fault = (0, reason) if reason else None
        if fault:
            breaks.append(Break(owner, *fault))
        strokes.end_shape()
    return strokes, tuple(breaks)


def _path_data(shape: Shape) -> str:
    """The shape's text as path data; for one that is no data, a text that is none either."""
    if isinstance(shape, PathShape):
        return "" if shape.d.strip(_SPACES) == "none" else shape.d
    if not isinstance(shape, PolyShape) or not shape.points.strip(_SPACES):
        return ""
    if shape.points.lower() != shape.points.upper():
        return "?"  # a letter that could be taken for a command; e for an exponent is rare
    return f"M{shape.points}z" if shape.closed else f"M{shape.points}"


def _draw_text(
    shape: PathShape | PolyShape, commands: Commands | None, strokes: Strokes
) -> tuple[int, str] | None:
    """Draw a path or points; returns the character and the reason where they stop early."""
    if commands is not None:
        try:
            draw_path(commands, strokes)
            return None
        except ValueError:
            strokes.drop_open_shape()
    found = _up_to_fault(shape)
    draw_path(found.commands, strokes)
    return found.fault


def _up_to_fault(shape: PathShape | PolyShape) -> UpToFault:
    if isinstance(shape, PolyShape):
        return points_up_to_fault(shape.points, shape.closed)
    return path_up_to_fault(shape.d)


def _cut_off(shapes: Sequence[Shape], far: Ints, ends: Ints) -> tuple[list[Shape], list[Break]]:
    """The shapes without what follows from their first segment out of reach on, and the breaks.

    `far` are the segments out of reach; the segments of shape i end before ends[i + 1].
    """
    kept, cuts = list(shapes), []
    owners, firsts = np.unique(np.searchsorted(ends, far, side="right") - 1, return_index=True)
    for owner, nth in zip(owners.tolist(), far[firsts] - ends[owners], strict=True):
        shape = kept[owner]
        offset = _up_to_fault(shape).offsets[nth] if isinstance(shape, _TEXTS) else 0
        if isinstance(shape, PolyShape):
            kept[owner] = PolyShape(shape.points[:offset].rstrip(_SEPARATORS), shape.closed)
        else:
            text = shape.d[:offset] if isinstance(shape, PathShape) else ""
            kept[owner] = PathShape(text.rstrip(_SEPARATORS))
        cuts.append(Break(owner, offset, _TOO_LARGE))
    return kept, cuts


def _lines(strokes: Strokes, points: Complex, ends: Ints, breaks: tuple[Break, ...]) -> Geometry:
    """Cut the row of points at the moves, and leave out what has no length."""
    kinds = np.frombuffer(bytes(strokes.kinds), np.uint8)
    moves = (kinds == MOVE).nonzero()[0]
    lasts = np.concatenate((moves[1:] - 1, [len(kinds) - 1]))
    owner = np.searchsorted(strokes.segment_ends, moves, side="right") - 1
    kept, counts = _without_splinters(points, ends[moves], ends[lasts])
    drawn = counts > 1
    if not drawn.all():
        kept = kept[drawn.repeat(counts)]
    return Geometry(
        points=kept.view(np.float64).reshape(-1, 2),
        offsets=np.concatenate(([0], counts[drawn].cumsum())),
        closed=(kinds[lasts] == CLOSE)[drawn],
        owner=owner[drawn],
        subpath=(np.arange(len(moves)) - owner.searchsorted(owner))[drawn],
        breaks=breaks,
        dots=int(np.count_nonzero(~drawn & (lasts > moves))),
    )


def _without_splinters(points: Complex, firsts: Ints, lasts: Ints) -> tuple[Complex, Ints]:
    """The points without steps of no length, and how many each line keeps.

    Line i is points[firsts[i]:lasts[i] + 1]. Its first and its last point stay to the last bit, so
    that a closed line, whose last point is its first, comes home; a line all in one place keeps
    one point.
    """
    fresh = np.empty(len(points), np.bool_)
    np.greater(np.abs(points[1:] - points[:-1]), _ROUNDING_MM, out=fresh[1:])
    fresh[firsts] = True
    kept = points[fresh]
    counts = np.add.reduceat(fresh, firsts, dtype=np.int64)
    stops = counts.cumsum()
    kept[stops - 1] = points[lasts]
    near = np.abs(kept[1:] - kept[:-1]) <= _ROUNDING_MM
    near[stops[:-1] - 1] = False
    if near.any():  # several steps in a row that are hardly longer than a rounding error
        lines = [_spaced(line.tolist()) for line in np.split(kept, stops[:-1])]
        kept = np.concatenate([np.array(line, np.complex128) for line in lines])
        counts = np.array([len(line) for line in lines])
    return kept, counts


def _spaced(line: list[complex]) -> list[complex]:
    """The same for one line, point by point."""
    spaced = line[:1]
    for point in line[1:-1]:
        if abs(point - spaced[-1]) > _ROUNDING_MM:
            spaced.append(point)
    while len(spaced) > 1 and abs(line[-1] - spaced[-1]) <= _ROUNDING_MM:
        spaced.pop()
    if abs(line[-1] - spaced[-1]) > _ROUNDING_MM:
        spaced.append(line[-1])
    return spaced
