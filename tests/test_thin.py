"""Points that a line does not need are taken out, and the line stays where it was.

References: svgelements 1.9.6 reads both files, shapely (GEOS) measures how far their lines lie
apart; a circle needs n = pi / acos(1 - e / r) chords to stay within e of it (geometry).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import acos, ceil, cos, pi, sin

import numpy as np
import pytest
import shapely

from matready.lint.repair import repair
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

from tests.corpus import mixed
from tests.drawn import CUT, page, path
from tests.spoiling.reading import Floats, lines_of

THINNING = Settings(only=frozenset({"too-many-points"}))
SAME_MM = 0.05
READ_MM = 0.002  # decimals of the drawings, and chords of the reader
TRANSFORMS = {
    "none": ("", 1.0),
    "turned": ("rotate(33 50 50)", 1.0),
    "mirrored": ("translate(100 0) scale(-1 1)", 1.0),
    "small units": ("scale(0.01)", 100.0),
    "large units": ("scale(25.4)", 1 / 25.4),
}


def _thinned(data: bytes) -> bytes:
    return repair(data, "drawing.svg", RULES, THINNING).data


def _ring(radius: float, count: int, scale: float = 1.0) -> list[tuple[float, float]]:
    turns = [2 * pi * k / count for k in range(count)]
    return [(scale * (50 + radius * cos(t)), scale * (50 + radius * sin(t))) for t in turns]


def _absolute(places: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.6g},{y:.6g}" for x, y in places) + "Z"


def _relative(places: Sequence[tuple[float, float]]) -> str:
    words, at = [], np.zeros(2)
    for place in np.round(np.array(places), 5):
        words.append(f"{place[0] - at[0]:.5f} {place[1] - at[1]:.5f}")
        at = place
    return "m" + " ".join(words) + "z"


def _apart(one: Sequence[Floats], other: Sequence[Floats]) -> float:
    """The largest distance from a place on lines to the nearest of others, either way."""
    both = [shapely.MultiLineString([line.tolist() for line in lines]) for lines in (one, other)]
    return float(shapely.hausdorff_distance(*both, densify=0.2))


@pytest.mark.parametrize("spell", [_absolute, _relative])
@pytest.mark.parametrize(("transform", "scale"), TRANSFORMS.values(), ids=TRANSFORMS.keys())
def test_a_ring_of_many_points_keeps_about_as_many_as_a_circle_needs(
    transform: str, scale: float, spell: object
) -> None:
    assert callable(spell)
    data = page(path(spell(_ring(10, 300, scale)), f'{CUT} transform="{transform}"'), size=100)
    copy = _thinned(data)
    (before,), (after,) = lines_of(data), lines_of(copy)
    assert len(before) // 2 == 300  # the reader gives both ends of each step
    needed = ceil(pi / acos(1 - SAME_MM / 10))
    assert needed <= len(after) // 2 <= 2.25 * needed
    assert _apart([before], [after]) <= SAME_MM + READ_MM
    assert _thinned(copy) == copy


@pytest.mark.parametrize("kind", ["polygon", "polyline"])
def test_a_polygon_stays_one(kind: str) -> None:
    places = " ".join(f"{x:.4f},{y:.4f}" for x, y in _ring(10, 300))
    data = page(f'<{kind} points="{places}" {CUT}/>', size=100)
    copy = _thinned(data)
    assert copy.count(f"<{kind}".encode()) == 1
    assert len(copy) < len(data) / 3
    assert _apart(lines_of(data), lines_of(copy)) <= SAME_MM + READ_MM


@pytest.mark.parametrize("step", [0.37, 1.13, 2.9])
def test_where_other_lines_meet_it_the_line_stays(step: float) -> None:
    hill = [(10 + 0.2 * k, 50 - 15 * sin(0.2 * k * pi / 80)) for k in range(401)]
    edge = shapely.LineString(hill)
    feet = [edge.interpolate(step * k + 0.05) for k in range(1, 20)]
    posts = [path(f"M{foot.x:.5f} {foot.y:.5f}V90") for foot in feet]
    data = page(path(_absolute(hill).rstrip("Z")), *posts, size=100)
    copy = _thinned(data)
    assert len(copy) < len(data)
    thinner, *others = lines_of(copy)
    ends = shapely.points(np.array([post[0] for post in others]))
    assert shapely.distance(shapely.LineString(thinner), ends).max() <= READ_MM


def test_another_part_of_the_path_keeps_its_characters() -> None:
    window = "m-5 20 h10 v-2h-10z"
    data = page(path(_absolute(_ring(10, 300)) + window), size=100)
    copy = _thinned(data).decode()
    assert "h10 v-2h-10z" in copy
    assert _apart(lines_of(data)[1:], lines_of(copy.encode())[1:]) <= READ_MM


def test_real_detail_and_real_curves_are_left_alone() -> None:
    for file in mixed(120):
        found = lint_bytes(file.data, file.name, RULES, THINNING).findings
        assert len(found) <= 1, file.name
