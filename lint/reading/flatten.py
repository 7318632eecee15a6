"""Strokes to points in millimetres, all of a file in one numpy evaluation.

Points are complex numbers x + iy here: one array and one operation for both coordinates.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from matready.lint.reading.arcs import axis_vectors
from matready.lint.reading.strokes import ARC, CUBIC, Strokes

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Complex = npt.NDArray[np.complex128]

# No page reaches a million kilometres; short of that no square or product overflows.
REACH_MM = 1e12
# A full turn has at least this many steps, so that the smallest circles stay round.
TURN_STEPS = 16
# No curve is cut finer than this: to about a millionth of its own size.
MOST_STEPS = 2000
# Past this many points in all, curves are cut coarser than asked, so that memory suffices.
MOST_POINTS = 5_000_000


@dataclass(frozen=True, slots=True)
class Placed:
    """Strokes in millimetres: s segments with p points.

    `kinds` (s,); `ends` (s,) are the places in `points` (p,) where segments end. `arcs` and
    `cubics` are the segments that are curves. The two points of an arc before its end are its
    vectors u and v as in `arcs.py`; `sweeps` are the arcs' own, in radians.
    """

    kinds: npt.NDArray[np.uint8]
    ends: Ints
    points: Complex
    arcs: Ints
    sweeps: Floats
    cubics: Ints

    def out_of_reach(self) -> Ints:
        """The segments that leave REACH_MM or are no numbers at all, in order."""
        distance = np.abs(self.points)
        if distance.max() <= REACH_MM:  # never true of NaN
            return np.empty(0, np.int64)
        return np.unique(np.searchsorted(self.ends, np.flatnonzero(~(distance <= REACH_MM))))


def place(strokes: Strokes, matrices: Floats) -> Placed:
    """The strokes, each shape through its own matrix (a, b, c, d, e, f); `matrices` is (k, 6)."""
    kinds = np.frombuffer(bytes(strokes.kinds), np.uint8)
    coords = np.array(strokes.coords)
    user = coords.view(np.complex128)
    by_point = matrices.repeat(np.diff(strokes.coord_ends) // 2, axis=0)
    ends = (1 + 2 * (kinds >= ARC)).cumsum() - 1
    arcs = (kinds == ARC).nonzero()[0]
    sweeps = np.empty(0)
    if len(arcs):
        last = ends[arcs]
        chords = user[last] - user[last - 3]
        u, v, sweeps = axis_vectors(chords, user[last - 2], user[last - 1])
        user[last - 2], user[last - 1] = u, v
        by_point[last - 2, 4:] = by_point[last - 1, 4:] = 0  # a vector is not shifted
    # One product and one sum at a time, so that equal points come out equal to the last bit.
    x, y = coords[0::2, None], coords[1::2, None]
    moved = x * by_point[:, :2] + y * by_point[:, 2:4] + by_point[:, 4:]
    points = moved.view(np.complex128)[:, 0]
    return Placed(kinds, ends, points, arcs, sweeps, (kinds >= CUBIC).nonzero()[0])


def flatten(placed: Placed, flatten_mm: float) -> tuple[Complex, Ints]:
    """Points along all segments, and for each segment the place of its end; (n,) and (s,).

    Every segment gives its end exactly as it stands, and before it, if it is curved, as many
    points on the curve as it takes for no chord to be further than `flatten_mm` from the curve.
    """
    curves = np.concatenate((placed.cubics, placed.arcs))
    if not len(curves):
        return placed.points, placed.ends
    last = placed.ends[curves]
    shape = placed.points[last - np.arange(3, -1, -1)[:, None]]
    count = len(placed.cubics)
    bends = np.empty(len(curves))
    bends[:count] = _cubic_bends(shape[:, :count])
    bends[count:] = _arc_bends(shape[:, count:], placed.sweeps, flatten_mm)
    steps = _steps(bends, flatten_mm)
    taken = np.ones(len(placed.kinds), np.int64)
    taken[curves] = steps
    ends = taken.cumsum() - 1
    points = np.empty(ends[-1] + 1, np.complex128)
    points[ends] = placed.points[placed.ends]
    # One place for each point inside a curve: which curve, and how far along it.
    inner = steps - 1
    which = np.arange(len(curves)).repeat(inner)
    nth = np.arange(1, len(which) + 1) - (inner.cumsum() - inner)[which]
    along = nth / steps[which]
    at = (ends[curves] - steps)[which] + nth
    split = which.searchsorted(count)
    points[at[:split]] = _on_cubics(shape, which[:split], along[:split])
    points[at[split:]] = _on_arcs(shape, which[split:], along[split:], placed.sweeps, count)
    return points, ends


def _steps(bends: Floats, flatten_mm: float) -> Ints:
    """How many equal steps of its parameter keep each curve within `flatten_mm` of its chords.

    Wang's bound: steps^2 >= d (d - 1) / 8 * bend / tolerance, with d = 3 and the bend the greatest
    second difference of the control points. (A quadratic raised to the third degree has a third of
    its bend, and so the same count as by the bound for d = 2.)
    """
    steps = np.ceil(np.sqrt(0.75 / flatten_mm * bends))
    steps = np.minimum(np.maximum(steps, 1), MOST_STEPS).astype(np.int64)
    if steps.sum() > MOST_POINTS:
        steps = np.minimum(steps, max(1, MOST_POINTS // len(steps)))
    return steps


def _cubic_bends(shape: Complex) -> Floats:
    p0, p1, p2, p3 = shape
    bends: Floats = np.maximum(np.abs(p0 - 2 * p1 + p2), np.abs(p1 - 2 * p2 + p3))
    return bends


def _arc_bends(shape: Complex, sweeps: Floats, flatten_mm: float) -> Floats:
    """What the bend of an arc would have to be, for the same bound to give its count of steps.

    The sagitta of a step t is r (1 - cos(t / 2)) <= r t^2 / 8, so that
    steps^2 >= sweep^2 r / 8 / tolerance. On an ellipse r is the longer half axis: u cos + v sin is
    the sum of two circles, of radii |u - iv| / 2 and |u + iv| / 2, turning against each other.
    """
    u, v = shape[1], 1j * shape[2]
    radii = (np.abs(u - v) + np.abs(u + v)) / 2
    # A quarter turn is TURN_STEPS / 4 at least, and no more by a rounding error.
    least = flatten_mm / 0.75 * (TURN_STEPS / (2 * np.pi) * (1 - 1e-9)) ** 2
    bends: Floats = sweeps**2 * np.maximum(radii / 6, least)
    return bends


def _on_cubics(shape: Complex, which: Ints, along: Floats) -> Complex:
    p0, p1, p2, p3 = shape
    b, c, d = 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)
    points: Complex = p0[which] + along * (b[which] + along * (c[which] + along * d[which]))
    return points


def _on_arcs(shape: Complex, which: Ints, along: Floats, sweeps: Floats, count: int) -> Complex:
    angles = sweeps[which - count] * along
    start, u, v, _ = shape[:, which]
    points: Complex = start + np.sin(angles) * v - 2 * np.sin(angles / 2) ** 2 * u
    return points
