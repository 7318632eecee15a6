"""A piece of card as its maker knows it: outline, holes, folds and slits in millimetres."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import shapely
from shapely.geometry import LineString, Polygon

from tests.planting.strokes import Chain, Matrix, Point, flat, moved, polyline

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Piece:
    """One piece that falls out of the sheet.

    `outer` and `holes` are closed chains. `drawn` holds the cut chains that are put on the page,
    where these differ from outline and holes (an edge that a neighbour already draws): pairs of
    (chain, closed). `scores` are logical folds, `slits` open cuts inside. The tag "sharing" marks
    pieces with a line in common, "chorded" those whose folds follow each other round a curve.
    """

    name: str
    outer: Chain
    holes: tuple[Chain, ...] = ()
    scores: tuple[Chain, ...] = ()
    slits: tuple[Chain, ...] = ()
    drawn: tuple[tuple[Chain, bool], ...] | None = None
    tags: frozenset[str] = frozenset()

    @cached_property
    def polygon(self) -> Polygon:
        """The card of the piece."""
        return Polygon(corners(self.outer), [corners(hole) for hole in self.holes])

    @property
    def box(self) -> Box:
        """left, top, right, bottom."""
        left, top, right, bottom = self.polygon.bounds
        return left, top, right, bottom

    @property
    def cuts(self) -> tuple[tuple[Chain, bool], ...]:
        """Every cut chain on the page, and whether it is closed."""
        if self.drawn is not None:
            return self.drawn
        rings = tuple((ring, True) for ring in (self.outer, *self.holes))
        return rings + tuple((slit, False) for slit in self.slits)

    def moved(self, matrix: Matrix) -> Piece:
        """The piece under a similarity."""

        def every(chains: tuple[Chain, ...]) -> tuple[Chain, ...]:
            return tuple(moved(chain, matrix) for chain in chains)

        drawn = self.drawn and tuple((moved(chain, matrix), closed) for chain, closed in self.drawn)
        return replace(
            self,
            outer=moved(self.outer, matrix),
            holes=every(self.holes),
            scores=every(self.scores),
            slits=every(self.slits),
            drawn=drawn,
        )


def pairs(chain: Chain) -> list[tuple[float, float]]:
    """A chain as coordinate pairs for shapely."""
    return [(z.real, z.imag) for z in flat(chain)]


def corners(ring: Chain) -> list[tuple[float, float]]:
    """A closed chain as coordinate pairs; its last point, equal to the first, is left out."""
    return pairs(ring)[:-1]


def trace(chain: Chain) -> LineString:
    """A chain as a shapely line."""
    return LineString(pairs(chain))


def width_of(polygon: Polygon) -> float:
    """Diameter of the largest circle that fits into a polygon."""
    return 2 * float(shapely.maximum_inscribed_circle(polygon, tolerance=0.005).length)


def unit(start: Point, end: Point) -> Point:
    """The direction from one point to another."""
    return (end - start) / abs(end - start)


def tab(start: Point, end: Point, wide: float, slope: float = 45.0) -> list[Point]:
    """A trapezoid glue tab on the left of an edge: its outer two corners (both ends left out)."""
    reach = min(wide, abs(end - start) / 3)
    back = reach / math.tan(math.radians(slope))
    along, out = unit(start, end), unit(start, end) * -1j
    return [start + along * back + out * reach, end - along * back + out * reach]


def inset(start: Point, end: Point, by: float) -> Chain:
    """A straight fold that stops `by` short of both ends."""
    along = unit(start, end) * by
    return polyline([start + along, end - along])


def ring_of(*points: Point) -> Chain:
    """A closed outline through corners."""
    return polyline(points, closed=True)


def rectangle(left: float, top: float, wide: float, high: float) -> Chain:
    """A rectangle, clockwise on the page from its top-left corner."""
    right, bottom = left + wide, top + high
    return ring_of(
        complex(left, top), complex(right, top), complex(right, bottom), complex(left, bottom)
    )
