"""What lies near what, held against plain all-pairs arithmetic and shapely's distances."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.cutting.near import clusters, components, pairs_within, segment_pairs, spread

# A coarse grid makes coincident points, shared ends and exact distances common.
GRID = st.integers(-40, 40).map(lambda n: n / 4)
POINTS = st.lists(st.tuples(GRID, GRID), max_size=40).map(
    lambda rows: np.array(rows, float).reshape(-1, 2)
)
SEGMENTS = st.lists(st.tuples(GRID, GRID, GRID, GRID), min_size=1, max_size=25).map(np.array)


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 4)), max_size=8))
def test_spread_is_the_ranges_end_to_end(rows: list[tuple[int, int]]) -> None:
    starts = np.array([start for start, _ in rows], np.int64)
    counts = np.array([count for _, count in rows], np.int64)
    expected = [n for start, count in rows for n in range(start, start + count)]
    assert spread(starts, counts).tolist() == expected


@given(POINTS, st.sampled_from([0.2, 0.25, 1.0, 3.0]))
def test_every_pair_of_points_within_the_radius_is_found_once(points, radius) -> None:  # type: ignore[no-untyped-def]
    i, j = pairs_within(points, radius)
    found = sorted((min(a, b), max(a, b)) for a, b in zip(i.tolist(), j.tolist(), strict=True))
    expected = [
        (a, b)
        for a in range(len(points))
        for b in range(a + 1, len(points))
        if ((points[a] - points[b]) ** 2).sum() <= radius * radius
    ]
    assert found == expected


@given(st.integers(1, 30), st.data())
def test_components_are_what_a_walk_reaches(n: int, data: st.DataObject) -> None:
    edges = data.draw(
        st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=30)
    )
    label = components(n, *np.array(edges, np.int64).reshape(-1, 2).T)
    reach = {k: {k} for k in range(n)}
    for a, b in edges:
        joined = reach[a] | reach[b]
        for k in joined:
            reach[k] = joined
    assert label.tolist() == [min(reach[k]) for k in range(n)]


@given(POINTS, st.sampled_from([0.25, 1.0]))
def test_clusters_link_points_by_short_steps(points, radius) -> None:  # type: ignore[no-untyped-def]
    label = clusters(points, radius)
    i, j = pairs_within(points, radius)
    assert label.tolist() == components(len(points), i, j).tolist()


@given(SEGMENTS, st.sampled_from([0.1, 0.5]))
def test_no_near_pair_of_segments_is_missed(rows, width) -> None:  # type: ignore[no-untyped-def]
    a, b = rows[:, :2], rows[:, 2:] + [0.01, 0.003]  # no segment without length
    i, j = segment_pairs(a, b, width)
    found = set(zip(i.tolist(), j.tolist(), strict=True))
    assert len(found) == len(i)
    lines = shapely.linestrings(np.stack([a, b], axis=1))
    for p in range(len(lines)):
        for q in range(p + 1, len(lines)):
            if shapely.distance(lines[p], lines[q]) <= width * 0.999:
                assert (p, q) in found
