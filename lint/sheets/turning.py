"""Turned and shifted: curves, points and areas of a part as they lie on the mat."""

from __future__ import annotations

from cmath import rect
from dataclasses import dataclass, replace
from math import radians

import numpy as np
import shapely

from matready.lint.drawing import Floats
from matready.lint.repair.curves import Bezier, Curve
from matready.lint.sheets.laid import Placement

_QUARTERS = (1 + 0j, 1j, -1 + 0j, -1j)  # exactly, so that straight edges stay straight


@dataclass(frozen=True, slots=True)
class Motion:
    """A turn about 0, 0 by the angle of `turn`, a number of length 1, then a shift in mm."""

    turn: complex
    turn_deg: float
    shift: complex

    @classmethod
    def of(cls, placed: Placement) -> Motion:
        """The motion that brings a part from its source's page to its place."""
        quarters, rest = divmod(placed.turn_deg, 90.0)
        whole = rest == 0
        turn = _QUARTERS[int(quarters) % 4] if whole else rect(1.0, radians(placed.turn_deg))
        return cls(turn, placed.turn_deg, complex(placed.x_mm, placed.y_mm))

    def point(self, point: complex) -> complex:
        """A point moved."""
        return point * self.turn + self.shift

    def curve(self, curve: Curve) -> Curve:
        """A curve moved."""
        if isinstance(curve, Bezier):
            return Bezier(tuple(map(self.point, curve.points)))
        return replace(
            curve,
            start=self.point(curve.start),
            end=self.point(curve.end),
            rotation=(curve.rotation + self.turn_deg) % 180,
        )

    def points(self, points: Floats) -> Floats:
        """Points (n, 2) moved."""
        moved = (points[:, 0] + 1j * points[:, 1]) * self.turn + self.shift
        return np.column_stack([moved.real, moved.imag])

    def area(self, area: shapely.Geometry) -> shapely.Geometry:
        """An area moved."""
        return shapely.transform(area, self.points)
