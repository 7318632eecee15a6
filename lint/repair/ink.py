"""What of a drawing is seen: would it show if some lines were painted sooner or later?"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import cached_property
from math import sqrt

import numpy as np
import shapely

from matready.lint.drawing import Drawing, Floats, Ints, Style
from matready.lint.repair.declared import Declared

# Two strokes that share a pixel mix there, though they do not touch. No picture of a whole page is
# taken to have fewer pixels across. Computed: 0.6 mm on a page of 12 in.
_PIXELS = 480
_NO_PAGE_MM = 304.8
_BEYOND_MM = 50.0
_MITER = 4.0  # SVG 2, stroke-miterlimit: a corner may reach this many half widths from its point

SAME, ALIKE, SHOWS = 0, 1, 2
"""How a change of order shows: not at all; in one colour only, so not to the eye; it does."""


class Ink:
    """The painted area of every line of a drawing, looked up by place."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._style = [drawing.nodes[node].style for node in drawing.line_node.tolist()]
        self._pixel_mm = max(drawing.page.size_mm or (_NO_PAGE_MM,)) / _PIXELS
        self._strokes: dict[int, shapely.Geometry] = {}

    def meetings(self, lines: Collection[int]) -> list[tuple[int, int, int]]:
        """Which of `lines` share a spot with which other line, and how a change of order shows."""
        pairs = ((a, b, self._order_shows(a, b)) for a, b in self._near(lines, None))
        return [pair for pair in pairs if pair[2] != SAME]

    def _order_shows(self, a: int, b: int) -> int:
        """How it shows when two lines change places in the order of painting."""
        if shapely.distance(self._painted(a), self._painted(b)) > self._pixel_mm:
            return SAME
        colours = _colours(self._style[a]) | _colours(self._style[b])
        return ALIKE if len(colours) == 1 else SHOWS

    def share_a_spot(self, lines: Collection[int], others: Collection[int]) -> bool:
        """Whether some of `lines` is painted where one of `others` is."""
        return any(self._order_shows(a, b) != SAME for a, b in self._near(lines, others))

    def order_changed(
        self, lines: Collection[int], others: Collection[int], place: Mapping[int, int]
    ) -> bool:
        """Whether lines of unlike paint that share a spot come in another order by `place`."""
        for a, b in self._near(lines, others):
            turned = (a < b) != (place[a] < place[b])
            if turned and self._order_shows(a, b) == SHOWS:
                return True
        return False

    def split_shows(self, lines: Collection[int], rest: Collection[int]) -> bool:
        """Whether it shows when `lines` are painted apart from the `rest` of their element."""
        if not lines or not rest:
            return False
        style = self._style[next(iter(lines))]
        if style.fill != "none" and self._fills_overlap(lines, rest):
            return True
        return any(
            shapely.distance(self._stroke(a), self._stroke(b)) <= self._pixel_mm
            for a, b in self._near(lines, rest)
        )

    def _near(
        self, lines: Collection[int], others: Collection[int] | None
    ) -> list[tuple[int, int]]:
        """Pairs, one of each, that may come so near that their paint shares a pixel.

        `others` None: all that are none of `lines`.
        """
        if not lines:
            return []
        mine = np.fromiter(lines, np.int64)
        far = self._reach[mine] + float(self._reach.max()) + self._pixel_mm
        own, near = self._tree.query(self._areas[mine], "dwithin", distance=far)
        if others is None:
            wanted = ~np.isin(near, mine)
        else:
            wanted = np.isin(near, np.fromiter(others, np.int64))
        return list(zip(mine[own[wanted]].tolist(), near[wanted].tolist(), strict=True))

    def _stroke(self, line: int) -> shapely.Geometry:
        if line not in self._strokes:
            half = float(self._reach[line] - self._beyond[line]) / _MITER + self._beyond[line]
            self._strokes[line] = self._outlines[line].buffer(
                half, cap_style="square", join_style="mitre", mitre_limit=_MITER
            )
        return self._strokes[line]

    def _painted(self, line: int) -> shapely.Geometry:
        area = self._areas[line]
        stroke = self._stroke(line) if self._reach[line] else self._outlines[line]
        return area.union(stroke) if isinstance(area, shapely.Polygon) else stroke

    def _fills_overlap(self, lines: Iterable[int], rest: Iterable[int]) -> bool:
        """True when some place is filled by either of two parts of one path.

        Where no place is, filling them together and one by one is the same, by either fill rule
        (SVG 2, fill-rule): no winding number or crossing count is ever a sum of two.
        """
        mine, theirs = list(lines), list(rest)
        inner = [p for k in (*mine, *theirs) if (p := self._just_inside(k)) is not None]
        if not inner:
            return False
        points = np.array(inner)
        for winding in (False, True):
            filled = [self._filled(group, points, winding) for group in (mine, theirs)]
            if (filled[0] & filled[1]).any():
                return True
        return False

    def _filled(self, lines: list[int], points: Floats, winding: bool) -> np.ndarray:
        count: Ints = np.zeros(len(points), np.int64)
        for line in lines:
            ring = self._areas[line]
            if isinstance(ring, shapely.Polygon):
                turn = -1 if winding and not ring.exterior.is_ccw else 1
                count += turn * shapely.contains_xy(ring, points)
        return np.asarray(count != 0 if winding else count % 2 == 1)

    def _just_inside(self, line: int) -> tuple[float, float] | None:
        """A place beside the outline of an area, on its inner side."""
        ring = self._areas[line]
        if not isinstance(ring, shapely.Polygon):
            return None
        a, b = ring.exterior.coords[0], ring.exterior.coords[1]
        step = np.array([b[0] - a[0], b[1] - a[1]])
        away = np.array([-step[1], step[0]]) / (np.hypot(*step) or 1.0) * 1e-4
        middle = np.array([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2])
        x, y = middle + (away if ring.exterior.is_ccw else -away)
        return float(x), float(y)

    @cached_property
    def _outlines(self) -> np.ndarray:
        geometry = self._drawing.geometry
        line = np.repeat(np.arange(len(geometry.closed)), np.diff(geometry.offsets))
        return np.asarray(shapely.linestrings(geometry.points, indices=line))

    @cached_property
    def _areas(self) -> np.ndarray:
        areas = self._outlines.copy()
        for line, style in enumerate(self._style):
            if style.fill != "none" and shapely.get_num_points(areas[line]) > 2:
                areas[line] = shapely.Polygon(shapely.get_coordinates(areas[line]))
        bad = ~shapely.is_valid(areas)
        areas[bad] = shapely.convex_hull(areas[bad])
        return np.asarray(areas)

    @cached_property
    def _reach(self) -> Floats:
        """How far the stroke of each line may reach from it, in mm."""
        reach = np.zeros(len(self._style))
        for line, node in enumerate(self._drawing.line_node.tolist()):
            style = self._style[line]
            if style.stroke != "none":
                a, b, c, d, _, _ = self._drawing.nodes[node].matrix
                spread = sqrt(max(a * a + b * b, c * c + d * d))
                reach[line] = style.stroke_width / 2 * spread * _MITER
        return reach + self._beyond

    @cached_property
    def _beyond(self) -> Floats:
        """How far markers and filters may paint beside each line, in mm; a generous guess."""
        drawing, beyond = self._drawing, np.zeros(len(self._style))
        if not any(word in drawing.source.text for word in (b"marker", b"filter")):
            return beyond
        declared = Declared(drawing.source)
        reaching = [
            any(
                found.get(name, "none") != "none"
                for name in ("marker", "marker-start", "marker-mid", "marker-end", "filter")
            )
            for found in (declared.of(node.element) for node in drawing.nodes)
        ]
        for line, node in enumerate(drawing.line_node.tolist()):
            if any(reaching[above] for above in drawing.ancestors(node)):
                beyond[line] = _BEYOND_MM
        return beyond

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._areas)


def _colours(style: Style) -> set[str]:
    """The colours a line is painted with; a paint server counts as several."""
    colours = {style.fill, style.stroke} - {"none"}
    return colours | {"server"} if "url" in colours else colours
