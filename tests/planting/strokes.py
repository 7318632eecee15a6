"""Lines, circular arcs and cubic curves in the plane, points as complex numbers."""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from random import Random

Point = complex


@dataclass(frozen=True, slots=True)
class Matrix:
    """An SVG matrix (a b c d e f); `first @ second` applies `second` first, as nested groups do."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, other: Matrix) -> Matrix:
        return Matrix(
            self.a * other.a + self.c * other.b,
            self.b * other.a + self.d * other.b,
            self.a * other.c + self.c * other.d,
            self.b * other.c + self.d * other.d,
            self.a * other.e + self.c * other.f + self.e,
            self.b * other.e + self.d * other.f + self.f,
        )

    def at(self, z: Point) -> Point:
        """The image of a point."""
        return complex(
            self.a * z.real + self.c * z.imag + self.e, self.b * z.real + self.d * z.imag + self.f
        )

    @property
    def determinant(self) -> float:
        """Negative for a mirror image."""
        return self.a * self.d - self.b * self.c

    @property
    def size(self) -> float:
        """The length of the image of a unit vector (for similarities)."""
        return math.sqrt(abs(self.determinant))

    def inverse(self) -> Matrix:
        """The matrix that undoes this one."""
        det = self.determinant
        a, b, c, d = self.d / det, -self.b / det, -self.c / det, self.a / det
        return Matrix(a, b, c, d, -(a * self.e + c * self.f), -(b * self.e + d * self.f))


def shift(z: Point) -> Matrix:
    """A translation."""
    return Matrix(e=z.real, f=z.imag)


def turn(degrees: float, about: Point = 0j) -> Matrix:
    """A rotation as SVG counts it (clockwise on the page for positive angles)."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return shift(about) @ Matrix(c, s, -s, c) @ shift(-about)


def zoom(factor: float) -> Matrix:
    """A scale from the origin."""
    return Matrix(a=factor, d=factor)


MIRROR = Matrix(a=-1.0)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight segment."""

    start: Point
    end: Point

    def at(self, t: float) -> Point:
        return self.start + (self.end - self.start) * t

    def reversed(self) -> Line:
        return Line(self.end, self.start)

    def moved(self, matrix: Matrix) -> Line:
        return Line(matrix.at(self.start), matrix.at(self.end))

    def split(self, t: float) -> tuple[Line, Line]:
        middle = self.at(t)
        return Line(self.start, middle), Line(middle, self.end)

    def flat(self) -> list[Point]:
        return [self.start, self.end]


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular arc; `sweep` in radians, positive where the angle grows (SVG's sweep flag 1)."""

    centre: Point
    radius: float
    angle: float
    sweep: float

    @property
    def start(self) -> Point:
        return self.at(0.0)

    @property
    def end(self) -> Point:
        return self.at(1.0)

    def at(self, t: float) -> Point:
        return self.centre + cmath.rect(self.radius, self.angle + self.sweep * t)

    def reversed(self) -> Arc:
        return Arc(self.centre, self.radius, self.angle + self.sweep, -self.sweep)

    def moved(self, matrix: Matrix) -> Arc:
        centre = matrix.at(self.centre)
        angle = cmath.phase(matrix.at(self.start) - centre)
        sweep = self.sweep if matrix.determinant > 0 else -self.sweep
        return Arc(centre, self.radius * matrix.size, angle, sweep)

    def split(self, t: float) -> tuple[Arc, Arc]:
        middle = self.angle + self.sweep * t
        return (
            Arc(self.centre, self.radius, self.angle, self.sweep * t),
            Arc(self.centre, self.radius, middle, self.sweep * (1 - t)),
        )

    def flat(self) -> list[Point]:
        step = 2 * math.acos(max(0.0, 1 - min(0.002 / self.radius, 0.5)))
        count = max(2, math.ceil(abs(self.sweep) / step))
        return [self.at(i / count) for i in range(count + 1)]


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bezier curve."""

    start: Point
    first: Point
    second: Point
    end: Point

    def at(self, t: float) -> Point:
        u = 1 - t
        return (
            u**3 * self.start
            + 3 * u * u * t * self.first
            + 3 * u * t * t * self.second
            + t**3 * self.end
        )

    def reversed(self) -> Cubic:
        return Cubic(self.end, self.second, self.first, self.start)

    def moved(self, matrix: Matrix) -> Cubic:
        return Cubic(*(matrix.at(z) for z in (self.start, self.first, self.second, self.end)))

    def split(self, t: float) -> tuple[Cubic, Cubic]:
        def mix(p: Point, q: Point) -> Point:
            return p + (q - p) * t

        a, b = mix(self.start, self.first), mix(self.first, self.second)
        c = mix(self.second, self.end)
        ab, bc = mix(a, b), mix(b, c)
        middle = mix(ab, bc)
        return Cubic(self.start, a, ab, middle), Cubic(middle, bc, c, self.end)

    def flat(self) -> list[Point]:
        bend = max(
            abs(self.start - 2 * self.first + self.second),
            abs(self.first - 2 * self.second + self.end),
        )
        count = max(2, math.ceil(math.sqrt(0.75 * bend / 0.002)))  # Wang's bound
        return [self.at(i / count) for i in range(count + 1)]


Segment = Line | Arc | Cubic
Chain = tuple[Segment, ...]


def polyline(points: Sequence[Point], closed: bool = False) -> Chain:
    """The straight segments through points, closed by one more when asked."""
    ends = [*points[1:], points[0]] if closed else points[1:]
    return tuple(Line(p, q) for p, q in zip(points, ends, strict=False))


def circle(centre: Point, radius: float, parts: int = 4, angle: float = 0.0, way: int = 1) -> Chain:
    """A full circle as equal arcs that begin at `angle` (radians)."""
    sweep = way * 2 * math.pi / parts
    return tuple(Arc(centre, radius, angle + sweep * i, sweep) for i in range(parts))


def arc_between(start: Point, end: Point, bulge: float) -> Arc:
    """The arc from start to end that rises `bulge` to the left of the chord (y down: its sweep 1).

    A negative bulge lies on the other side; |bulge| must be under half the chord.
    """
    chord = abs(end - start)
    radius = (chord * chord / 4 + bulge * bulge) / (2 * abs(bulge))
    half = math.asin(min(1.0, chord / 2 / radius))
    side = 1 if bulge > 0 else -1
    unit = (end - start) / chord
    centre = (start + end) / 2 + side * unit * 1j * math.sqrt(max(0.0, radius**2 - chord**2 / 4))
    return Arc(centre, radius, cmath.phase(start - centre), side * 2 * half)


def as_cubics(chain: Iterable[Segment]) -> Chain:
    """The same chain with each arc as cubics of at most 90 degrees (error under 0.03 % of r)."""
    out: list[Segment] = []
    for segment in chain:
        if not isinstance(segment, Arc):
            out.append(segment)
            continue
        count = max(1, math.ceil(abs(segment.sweep) / (math.pi / 2) - 1e-9))
        step = segment.sweep / count
        reach = 4 / 3 * math.tan(step / 4) * 1j
        for i in range(count):
            p = segment.at(i / count) - segment.centre
            q = segment.at((i + 1) / count) - segment.centre
            out.append(
                Cubic(
                    p + segment.centre,
                    p * (1 + reach) + segment.centre,
                    q * (1 - reach) + segment.centre,
                    q + segment.centre,
                )
            )
    return tuple(out)


def backwards(chain: Chain) -> Chain:
    """The chain run from its end to its start."""
    return tuple(segment.reversed() for segment in reversed(chain))


def moved(chain: Chain, matrix: Matrix) -> Chain:
    """The chain under a similarity."""
    return tuple(segment.moved(matrix) for segment in chain)


def started_at(ring: Chain, index: int) -> Chain:
    """A closed chain that starts at another of its corners."""
    return ring[index:] + ring[:index]


def flat(chain: Chain) -> list[Point]:
    """Points along a chain, within 0.002 mm of it."""
    points = [chain[0].start]
    for segment in chain:
        points.extend(segment.flat()[1:])
    return points


def length(segment: Segment) -> float:
    """Length of one segment."""
    points = segment.flat()
    return sum(abs(q - p) for p, q in itertools.pairwise(points))


def chain_length(chain: Chain) -> float:
    """Length of a chain."""
    return sum(length(segment) for segment in chain)


def parameter_at(segment: Segment, distance: float) -> float:
    """The parameter of the point this far along a segment (0 and 1 at its ends)."""
    total = length(segment)
    if not isinstance(segment, Cubic):
        return distance / total
    points = segment.flat()
    walked = 0.0
    for i, (p, q) in enumerate(itertools.pairwise(points)):
        step = abs(q - p)
        if walked + step >= distance:
            return (i + (distance - walked) / step) / (len(points) - 1)
        walked += step
    return 1.0


def part(chain: Chain, begin: float, end: float) -> Chain:
    """What lies between two distances along a chain."""
    out: list[Segment] = []
    walked = 0.0
    for segment in chain:
        size = length(segment)
        low, high = max(begin - walked, 0.0), min(end - walked, size)
        walked += size
        if high - low < 1e-9:
            continue
        piece: Segment = segment
        if high < size:
            piece = piece.split(parameter_at(piece, high))[0]
        if low > 0:
            piece = piece.split(parameter_at(piece, low))[1]
        out.append(piece)
    return tuple(out)


def more_points(chain: Chain, rng: Random) -> Chain:
    """The same chain with extra points in most of its segments."""
    out: list[Segment] = []
    for segment in chain:
        out += segment.split(rng.uniform(0.2, 0.8)) if rng.random() < 0.7 else (segment,)
    return tuple(out)


def straight(chain: Chain) -> bool:
    """Whether a chain has straight segments only."""
    return all(isinstance(s, Line) for s in chain)
