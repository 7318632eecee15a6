"""Where lines lie on each other, measured along either of them."""

from __future__ import annotations

from collections.abc import Collection
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import CUT
from matready.lint.drawing import Floats

_SHORTEST_MM = 0.3  # shorter shared stretches are crossings
_WIDER = 1.2  # the boundary of what is near is drawn with corners


class Overlaps:
    """Looks up which lines of a cutout share places."""

    def __init__(self, cutout: Cutout) -> None:
        self._cutout = cutout
        self._zones: dict[int, shapely.Polygon] = {}
        self._unions: dict[frozenset[int], shapely.Geometry] = {}
        self._twins: dict[int, list[int]] = {}
        self._near_mm = _WIDER * cutout.distances.same_place_mm

    def beside(self, line: int) -> list[int]:
        """Other cut lines that come as near to a line as one line to the blade."""
        found = self._tree.query(self.paths[line], "dwithin", distance=self._near_mm)
        roles = self._cutout.roles.role
        return sorted(int(k) for k in found if k != line and roles[k] == CUT)

    def lies_on(self, line: int, others: Collection[int]) -> bool:
        """Whether all of a line lies on others."""
        return bool(self._around_all(others).covers(self.paths[line]))

    def covers(self, lines: Collection[int], path: shapely.LineString) -> bool:
        """Whether a path lies on lines, but for a stretch that would be a crossing elsewhere."""
        return bool(path.difference(self._around_all(lines)).length <= _SHORTEST_MM)

    def zone(self, path: shapely.LineString) -> shapely.Geometry:
        """The area beside a path in which another line lies on it."""
        return path.buffer(self._near_mm, cap_style="flat")

    def shared(self, line: int, around: shapely.Geometry) -> list[tuple[float, float]]:
        """The stretches of a line that lie in a path's zone, as mm from its beginning."""
        path = self.paths[line]
        stretches = []
        for part in shapely.get_parts(path.intersection(around)).tolist():
            if isinstance(part, shapely.LineString) and part.length > _SHORTEST_MM:
                middle = path.project(part.interpolate(0.5, normalized=True))
                half = part.length / 2
                stretches.append((max(middle - half, 0.0), min(middle + half, path.length)))
        return sorted(stretches)

    def is_twin(self, line: int, other: int) -> bool:
        """Whether two lines run in the same places from end to end."""
        apart = self.paths[line].hausdorff_distance(self.paths[other])
        return bool(apart <= self._near_mm)

    def twins(self, line: int) -> list[int]:
        """Lines of the same role that run where a line runs."""
        if line not in self._twins:
            roles = self._cutout.roles.role
            near = self._tree.query(self.paths[line], "dwithin", distance=self._near_mm).tolist()
            like = (k for k in near if k != line and roles[k] == roles[line])
            self._twins[line] = [k for k in like if self.is_twin(line, k)]
        return self._twins[line]

    def nearest(self, place: Floats, line: int) -> Floats:
        """The place on a line nearest to another, (2,) in mm."""
        path = self.paths[line]
        found = path.interpolate(path.project(shapely.Point(place)))
        return np.array([found.x, found.y])

    @cached_property
    def paths(self) -> list[shapely.LineString]:
        """Every line of the drawing."""
        geometry = self._cutout.drawing.geometry
        return [
            shapely.LineString(geometry.points[a:b]) for a, b in pairwise(geometry.offsets.tolist())
        ]

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self.paths)

    def _around_all(self, lines: Collection[int]) -> shapely.Geometry:
        found = frozenset(lines)
        if found not in self._unions:
            self._unions[found] = shapely.union_all([self._around(line) for line in found])
        return self._unions[found]

    def _around(self, line: int) -> shapely.Polygon:
        if line not in self._zones:
            self._zones[line] = self.paths[line].buffer(self._near_mm, cap_style="square")
        return self._zones[line]
