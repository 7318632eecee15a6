"""Strokes: the one form in which all shapes of a file are drawn before they are flattened.

A file is one long row of segments. Each segment owns the points that shape it and its end point; it
starts where the segment before it ended, so that meeting ends are one number and not two. A move
starts a sub-path; a close ends it, at the point where it started.
"""

from __future__ import annotations

from math import copysign, cos, radians, sin

# Kinds from ARC on own three points, the others one. A cubic owns its two control points and its
# end; a quadratic is drawn as the same curve of third degree. An arc owns its radii, its rotation
# and its end: rx is negative where the arc turns backward, ry where it goes the long way round, and
# the rotation is the point (cos, sin) on the unit circle.
MOVE, LINE, CLOSE, ARC, CUBIC, QUAD = range(6)


class Strokes:
    """Segments of shape after shape, in user units.

    `kinds` holds one byte for each segment, `coords` the points of all segments, flat (x, y, ...).
    `segment_ends` and `coord_ends` tell, after a 0, how long both were after each shape.
    """

    __slots__ = ("coord_ends", "coords", "kinds", "segment_ends")

    def __init__(self) -> None:
        self.kinds = bytearray()
        self.coords: list[float] = []
        self.segment_ends = [0]
        self.coord_ends = [0]

    def move(self, x: float, y: float) -> None:
        """Start a sub-path."""
        self.kinds.append(MOVE)
        self.coords += (x, y)

    def line(self, x: float, y: float) -> None:
        """Draw a straight line."""
        self.kinds.append(LINE)
        self.coords += (x, y)

    def arc(
        self, rx: float, ry: float, rotation: float, large: float, sweep: float, x: float, y: float
    ) -> None:
        """Draw an elliptical arc; the rotation is in degrees, both flags are 0 or 1.

        SVG 2, 9.5.1: an arc that ends where it starts is left out, and one with a radius of zero
        is a straight line. Here both are lines, the first of no length.
        """
        coords = self.coords
        if rx and ry and (coords[-2] != x or coords[-1] != y):
            self.kinds.append(ARC)
            turn = radians(rotation % 360)
            coords += (copysign(rx, sweep - 0.5), copysign(ry, 0.5 - large), cos(turn), sin(turn))
        else:
            self.kinds.append(LINE)
        coords += (x, y)

    def quad(self, x1: float, y1: float, x: float, y: float) -> None:
        """Draw a quadratic Bezier curve."""
        coords = self.coords
        x0, y0 = coords[-2], coords[-1]
        self.kinds.append(QUAD)
        x1, y1 = 2 * x1, 2 * y1
        coords += ((x0 + x1) / 3, (y0 + y1) / 3, (x1 + x) / 3, (y1 + y) / 3, x, y)

    def close(self, x: float, y: float) -> None:
        """End the sub-path where it started, at (x, y)."""
        self.kinds.append(CLOSE)
        self.coords += (x, y)

    def end_shape(self) -> None:
        """What follows belongs to the next shape."""
        self.segment_ends.append(len(self.kinds))
        self.coord_ends.append(len(self.coords))

    def drop_open_shape(self) -> None:
        """Forget what was drawn since the last `end_shape`."""
        del self.kinds[self.segment_ends[-1] :]
        del self.coords[self.coord_ends[-1] :]
