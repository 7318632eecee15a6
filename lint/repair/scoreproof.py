"""The part of the proof that is about scores: they change only as a licence says."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.blade import blade_of
from matready.lint.cutting.near import spread
from matready.lint.cutting.roles import CUT
from matready.lint.drawing import Bools, Floats, Ints
from matready.lint.repair.licence import Licence, May

_STEP_MM = 0.1
_END_MM = 0.05  # the end of a dash may lie this far from where the pattern puts it
_KEPT = (May.SHOW_DASHES, May.LEAVE_SHEET, May.REDASH)  # the piece has the fold still


class FilledGap(Exception):
    """A gap that a line only showed would be cut all the same."""


class ScoreProof:
    """Looks up what licences let go, with `slack_mm` for what has moved."""

    def __init__(
        self, before: Cutout, after: Cutout, licences: Sequence[Licence], ratio: float,
        slack_mm: float,
    ) -> None:  # fmt: skip
        self._before, self._after = before, after
        self._licences = licences
        self._ratio = ratio
        self._slack_mm = slack_mm
        self._paths = [shapely.LineString(licence.path) for licence in licences]
        self._zones = [path.buffer(slack_mm + _END_MM) for path in self._paths]
        self._tree = shapely.STRtree(self._zones)

    @property
    def paths(self) -> tuple[Floats, ...]:
        """Straight steps (two points each) along which dashes may be new, in mm of the copy."""
        return tuple(
            step
            for licence in self._licences
            if licence.may is May.REDASH
            for step in np.stack([licence.path[:-1], licence.path[1:]], axis=1)
        )

    def held(self, line: int) -> Floats:
        """The places (n, 2) on a score line of the source, in mm of the copy, that must stay."""
        points = _dense(self._before, line) * self._ratio
        stays = np.ones(len(points), bool)
        for number, here in self._zones_at(points):
            may = self._licences[number].may
            if may is May.SHOW_DASHES:
                # The line may have been another when its dashes were laid out along the path.
                along = shapely.line_locate_point(self._paths[number], shapely.points(points))
                here &= _within(along, self._licences[number].gaps)
            elif may is May.LEAVE_CUT:
                here &= self._near(self._cuts, points)
            elif may is May.LEAVE_SHEET:
                here &= ~self._near(self._cards, points)
            stays &= ~here
        return np.asarray(points[stays])

    def refuse_filled_gaps(self, new: shapely.STRtree) -> None:
        """Raise FilledGap where a gap that a line of the source shows is cut by one of the new."""
        redashed = [
            path for path, one in zip(self._paths, self._licences, strict=True)
            if one.may is May.REDASH
        ]  # fmt: skip
        redrawn = shapely.STRtree(redashed)
        for number, licence in enumerate(self._licences):
            gaps, zone = np.array(licence.gaps), self._zones[number]
            if licence.may is not May.SHOW_DASHES or not len(gaps):
                continue
            dashes = new.geometries[new.query(zone, "covers")]
            if not len(dashes) or len(redrawn.query(zone, "intersects")):
                continue
            where = np.stack([gaps.mean(axis=1), *gaps.T])
            at, *ends = shapely.line_interpolate_point(self._paths[number], where)
            # Round a corner the dash beside a gap is nearer than half of the gap is long.
            reach = np.min([shapely.distance(end, at) for end in ends], axis=0)
            _, apart = shapely.STRtree(dashes).query_nearest(
                at, return_distance=True, all_matches=False
            )
            if (apart < reach - _STEP_MM - self._slack_mm).any():
                raise FilledGap

    def licensed(self, samples: Floats) -> frozenset[int] | None:
        """The licences that a fold lies along and may not vanish by; None for a fold of none."""
        found = [(k, here) for k, here in self._zones_at(samples) if here.any()]
        if not found or not np.any([here for _, here in found], axis=0).all():
            return None
        return frozenset(k for k, _ in found if self._licences[k].may in _KEPT)

    def _zones_at(self, points: Floats) -> list[tuple[int, Bools]]:
        """Licences near some points, each with which of the points lie along its path."""
        box = shapely.box(*points.min(axis=0), *points.max(axis=0))
        return [
            (k, shapely.intersects_xy(self._zones[k], points[:, 0], points[:, 1]))
            for k in sorted(self._tree.query(box).tolist())
        ]

    def _near(self, tree: shapely.STRtree, points: Floats) -> Bools:
        near = np.zeros(len(points), bool)
        reach = 2 * self._after.distances.same_place_mm if tree is self._cuts else 0.0
        near[tree.query(shapely.points(points), "dwithin", distance=reach)[0]] = True
        return near

    @cached_property
    def _cuts(self) -> shapely.STRtree:
        blade = blade_of(self._after.drawing, np.flatnonzero(self._after.roles.role == CUT))
        return shapely.STRtree(shapely.linestrings(np.stack([blade.a, blade.b], axis=1)))

    @cached_property
    def _cards(self) -> shapely.STRtree:
        inner = [piece.card.buffer(-self._slack_mm - _END_MM) for piece in self._after.pieces]
        return shapely.STRtree(inner)


def _within(along: Floats, gaps: Sequence[tuple[float, float]]) -> Bools:
    """Which places along a line lie in one of its gaps, which are in order."""
    if not gaps:
        return np.zeros(len(along), bool)
    starts, ends = np.array(gaps).T
    at = np.searchsorted(starts - _END_MM, along, side="right") - 1
    return np.asarray((at >= 0) & (along <= ends[np.maximum(at, 0)] + _END_MM))


def _dense(cutout: Cutout, line: int) -> Floats:
    """Points along a line, at least every _STEP_MM."""
    blade = blade_of(cutout.drawing, np.array([line]))
    counts: Ints = np.ceil(blade.length / _STEP_MM).astype(np.int64)
    step = spread(np.zeros(len(counts), np.int64), counts) / counts.repeat(counts)
    a, way = blade.a.repeat(counts, axis=0), (blade.b - blade.a).repeat(counts, axis=0)
    return np.vstack([a + way * step[:, None], blade.b[-1:]])
