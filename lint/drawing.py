"""The Drawing: every line that an SVG file puts on the page, in millimetres.

Coordinates are millimetres from the page's top-left corner, x right, y down, after every transform
and viewBox. Geometry is held in numpy arrays, one row a point; all records are immutable.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.reading.geometry import Geometry
    from matready.lint.reading.shapes import Shape
    from matready.lint.source import Source

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class Page:
    """The page a file describes.

    `unit` tells how far the size can be trusted: "physical" (width and height are in mm, cm, in,
    pt, pc or Q), "px" (both are plain numbers or px, 96 to the inch by CSS Values 3), "none" (one
    of them is absent, auto or a percentage: no physical size). `width_px` and `height_px` are the
    page in CSS px where it has a size, else the size of the viewBox in user units, else None.
    `size_mm` is None when `unit` is "none". `scale_x`, `scale_y`: CSS px per user unit of the
    root's contents.
    """

    unit: str
    width_px: float | None
    height_px: float | None
    view_box: tuple[float, float, float, float] | None
    scale_x: float
    scale_y: float
    size_mm: tuple[float, float] | None
    in_inches: bool  # width or height is given in inches: findings show inches beside mm


@dataclass(frozen=True, slots=True)
class Style:
    """Computed style of a node, as far as cutting needs it.

    Colours are "#rrggbb" lower case, "none", or "url" for a paint server. `dashes` is the dash
    pattern in user units, None when the stroke is solid (none, empty, all zero, or invalid).
    """

    fill: str = "#000000"
    stroke: str = "none"
    stroke_width: float = 1.0
    dashes: tuple[float, ...] | None = None
    visible: bool = True
    opacity: float = 1.0
    color: str = "#000000"

    @property
    def paint(self) -> str:
        """The colour that tells lines apart: the stroke's, or the fill's where nothing strokes."""
        return self.stroke if self.stroke != "none" else self.fill


@dataclass(frozen=True, slots=True)
class Node:
    """One node of the tree as it is drawn: a group or a shape; each use makes nodes of its own.

    `parent` is an index into Drawing.nodes, -1 for the root svg. `kind` is the element's local
    name. `instance` is the index of the outermost `use` node above it (or itself), -1 if none.
    `matrix` (a, b, c, d, e, f) takes the node's own user space, its transform included, to mm.
    """

    element: _Element
    kind: str
    parent: int
    instance: int
    style: Style
    matrix: Matrix


OFF, INVISIBLE, TRANSPARENT, UNPAINTED = "off", "invisible", "transparent", "unpainted"
"""Why a shape is not seen: display none, visibility, zero opacity, neither fill nor stroke."""


@dataclass(frozen=True, slots=True)
class Unseen:
    """A shape that no one sees and a program that passes styles over would cut.

    `element` is what to name: the shape, or the outermost `use` that shows it. `hidden` is the
    element that declares itself or all in it unseen, the shape itself where a style is passed on.
    """

    why: str
    element: _Element
    hidden: _Element
    shape: Shape
    matrix: Matrix


@dataclass(frozen=True, slots=True)
class Sight:
    """Something that is seen and draws no line: "text", "image", "foreignObject" or "flowRoot".

    `element` is what to name, as of Unseen, and `own` the text or picture itself; `matrix` takes
    its units to mm. `node` is the group that it stands in. `box` is about where it lies, in mm: x0,
    y0, x1, y1. `words` are what a text says, `href` what an image shows.
    """

    kind: str
    element: _Element
    own: _Element
    matrix: Matrix
    node: int
    box: tuple[float, float, float, float]
    words: str
    href: str


@dataclass(frozen=True, slots=True)
class Area:
    """The shapes in a clipPath, mask, pattern or filter; `matrices` take them to its own units.

    `nodes` are the shapes' own; `by_box`: the units are shares of the box of what it is put on.
    """

    element: _Element
    shapes: tuple[Shape, ...]
    matrices: tuple[Matrix, ...]
    nodes: tuple[Node, ...]
    by_box: bool


@dataclass(frozen=True, slots=True)
class Effect:
    """What makes a node, with all in it, look otherwise than its lines run.

    `kind` is "clip-path", "mask", "filter", "pattern" or "viewport"; `matrix` takes the units it is
    measured in to mm. `area` is None for a viewport, which shows `box` (x0, y0, x1, y1) alone, and
    for what CSS declares without an element, such as blur(2px), in `text`.
    """

    kind: str
    node: int
    matrix: Matrix
    text: str
    area: Area | None = None
    box: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Broken:
    """A shape that is drawn only up to a fault in its data.

    `before` is the end of the text that could be read, `kept` how many segments stand in it;
    `what` says which text it is, "" for a shape that is left out whole.
    """

    node: int
    what: str
    before: str
    reason: str
    kept: int


@dataclass(frozen=True, slots=True)
class Note:
    """Something that could not be read as it stands; `node` is -1 for the whole file."""

    reason: str
    node: int = -1


@dataclass(frozen=True, eq=False)
class Drawing:
    """A whole file: `nodes` in drawing order (a parent before its children), lines in that order.

    `geometry.owner` indexes `shapes`, and `shapes[i]` is the node of shape i.
    `put_no_line` counts elements that put no cut line down, by local name: clipPath, mask, pattern,
    marker, filter, text, image, foreignObject. `hidden` counts shapes that no one sees (display
    none, visibility hidden, neither fill nor stroke, zero opacity); they are not in `geometry`.
    `unseen` are those of them that would put a line down; `broken` is in drawing order, an element
    once.
    """

    source: Source
    page: Page
    nodes: tuple[Node, ...]
    shapes: Ints
    geometry: Geometry
    put_no_line: dict[str, int]
    hidden: int
    notes: tuple[Note, ...]
    unseen: tuple[Unseen, ...] = ()
    sights: tuple[Sight, ...] = ()
    effects: tuple[Effect, ...] = ()
    broken: tuple[Broken, ...] = ()

    @cached_property
    def line_node(self) -> Ints:
        """For each line the node that draws it; shape (m,)."""
        return np.asarray(self.shapes[self.geometry.owner])

    def ancestors(self, node: int) -> list[int]:
        """The node itself and all above it, nearest first, the root last; none for -1."""
        chain = []
        while node >= 0:
            chain.append(node)
            node = self.nodes[node].parent
        return chain

    def nodes_of(self, element: _Element) -> list[int]:
        """Every node that draws an element: one, or several where `use` repeats it."""
        return self._nodes_of[element]

    @cached_property
    def _nodes_of(self) -> dict[_Element, list[int]]:
        found: dict[_Element, list[int]] = {}
        for number, node in enumerate(self.nodes):
            found.setdefault(node.element, []).append(number)
        return found

    def shown(self, node: int) -> _Element:
        """The element to name in a finding: the outermost `use` of an instance, else its own."""
        instance = self.nodes[node].instance
        return self.nodes[instance if instance >= 0 else node].element
