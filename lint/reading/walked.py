"""What the walk of a tree takes down, and what it carries from an element to those in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lxml import etree

from matready.lint.drawing import Effect, Matrix, Node, Page, Sight, Unseen
from matready.lint.reading.shapes import Shape
from matready.lint.reading.style import Computed
from matready.lint.reading.units import Extent


@dataclass(slots=True)
class Walked:
    """What the walk found: nodes, shapes with their matrices and nodes, counts and notes.

    `notes` are (node, text) pairs, node -1 for the whole file; all else is as in Drawing.
    """

    page: Page
    nodes: list[Node] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    matrices: list[Matrix] = field(default_factory=list)
    shape_nodes: list[int] = field(default_factory=list)
    hidden: int = 0
    put_no_line: dict[str, int] = field(default_factory=dict)
    notes: list[tuple[int, str]] = field(default_factory=list)
    unseen: list[Unseen] = field(default_factory=list)
    sights: list[Sight] = field(default_factory=list)
    effects: list[Effect] = field(default_factory=list)


@dataclass(slots=True)
class Place:
    """Where an element is about to be drawn: what it takes over from above."""

    element: etree._Element
    parent: int
    instance: int
    matrix: Matrix
    style: Computed
    extent: Extent
    uses: int = 0  # how many uses lie above
    sizes: Mapping[str, str] | None = None  # width and height that a use gives to its target
