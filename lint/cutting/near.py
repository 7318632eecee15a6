"""What lies near what: point clusters and segment pairs, found on a grid or a tree in numpy."""

from __future__ import annotations

import numpy as np
import shapely

from matready.lint.drawing import Floats, Ints

_LONG_MM = (
    5.0  # slanted segments longer than this are split for the search: their boxes are mostly air
)
_MOST_PARTS = 200_000  # a mistyped coordinate may make a line of many kilometres
_FORWARD = ((0, 1), (1, -1), (1, 0), (1, 1))  # half of a cell's eight neighbours: each pair once


def spread(starts: Ints, counts: Ints) -> Ints:
    """The concatenation of range(start, start + count) for each row."""
    total = int(counts.sum())
    ends = np.cumsum(counts)
    return np.arange(total) - np.repeat(ends - counts - starts, counts)


def pairs_within(points: Floats, radius: float) -> tuple[Ints, Ints]:
    """All pairs (i, j) of rows of `points` (n, 2) no farther apart than `radius`, each once."""
    n = len(points)
    empty = np.zeros(0, np.int64)
    if n < 2:
        return empty, empty
    cells = np.floor(points / radius).astype(np.int64)
    cells -= cells.min(axis=0) - 1
    width = int(cells[:, 1].max()) + 2
    keys = cells[:, 0] * width + cells[:, 1]
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    rows = np.arange(n)
    same = np.searchsorted(keys, keys, side="right") - rows - 1
    left, right = [np.repeat(rows, same)], [spread(rows + 1, same)]
    for dx, dy in _FORWARD:
        shifted = keys + dx * width + dy
        first = np.searchsorted(keys, shifted)
        count = np.searchsorted(keys, shifted, side="right") - first
        left.append(np.repeat(rows, count))
        right.append(spread(first, count))
    i, j = order[np.concatenate(left)], order[np.concatenate(right)]
    gap = points[i] - points[j]
    near = np.einsum("ij,ij->i", gap, gap) <= radius * radius
    return i[near], j[near]


def components(n: int, i: Ints, j: Ints) -> Ints:
    """Labels (n,) of the connected parts of a graph of n nodes: the least index of each part."""
    label = np.arange(n)
    while len(i):
        least = np.minimum(label[i], label[j])
        before = label.copy()
        np.minimum.at(label, label[i], least)
        np.minimum.at(label, label[j], least)
        np.minimum.at(label, i, least)
        np.minimum.at(label, j, least)
        label = label[label]
        if np.array_equal(before, label):
            break
    return label


def clusters(points: Floats, radius: float) -> Ints:
    """Labels (n,) of points linked by steps of at most `radius`: each cluster's least index."""
    if not len(points):
        return np.zeros(0, np.int64)
    # Many lines may end in one point exactly: fold those first, or the pairs grow as their square.
    spots, first, spot = np.unique(points, axis=0, return_index=True, return_inverse=True)
    label = components(len(spots), *pairs_within(spots, radius))
    least = np.full(len(spots), len(points))
    np.minimum.at(least, label, first)
    return np.asarray(least[label][spot.reshape(-1)])


def segment_pairs(a: Floats, b: Floats, width: float) -> tuple[Ints, Ints]:
    """Pairs (i, j), i < j, of the segments a[i]-b[i] whose boxes come within `width`; each once."""
    n = len(a)
    size = np.abs(b - a)
    slanted = size.min(axis=1) > _LONG_MM / 4
    longest = size.max(axis=1)
    step = max(_LONG_MM, float(longest[slanted].sum()) / _MOST_PARTS)
    parts = np.where(slanted, np.ceil(longest / step), 1).astype(np.int64)
    owner = np.repeat(np.arange(n), parts)
    stride = (b - a) / parts[:, None]
    nth = spread(np.zeros(n, np.int64), parts)[:, None]
    start = a[owner] + stride[owner] * nth
    end = start + stride[owner]
    low, high = np.minimum(start, end) - width / 2, np.maximum(start, end) + width / 2
    # The tree looks at envelopes only, and a box's diagonal has the same one and is made faster.
    boxes = shapely.linestrings(np.stack([low, high], axis=1))
    p, q = shapely.STRtree(boxes).query(boxes)
    p, q = owner[p], owner[q]
    upper = p < q
    p, q = p[upper], q[upper]
    split = (parts[p] > 1) | (parts[q] > 1)  # only these can come up more than once
    again_p, again_q = np.divmod(np.unique(p[split] * n + q[split]), n)
    return np.concatenate([p[~split], again_p]), np.concatenate([q[~split], again_q])
