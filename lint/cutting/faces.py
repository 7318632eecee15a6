"""Faces: the closed regions that the cut lines bound, and whether each is card or waste."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from matready.lint.cutting.blade import SAME_MM, Blade
from matready.lint.cutting.near import spread
from matready.lint.cutting.network import LINK, Network
from matready.lint.drawing import Bools, Floats, Ints

Shapes = npt.NDArray[np.object_]  # shapely geometries

_BITE = 0.1  # share of what is left of a panel, below which a part cut off it is a slot's waste
_BESIDE_MM = 0.1  # two edges between the same nodes this near each other are one to the blade


@dataclass(frozen=True, eq=False, slots=True)
class Face:
    """One region: its polygon (mm), its part of the network, card or waste, the lines around it.

    `lines` gives for each of the blade's lines how much of the way around it makes, in mm.
    `parent` is the smallest face of another part around it, -1 on the bare sheet.
    """

    polygon: shapely.Polygon
    part: int
    lines: dict[int, float]
    card: bool
    parent: int


@dataclass(frozen=True, eq=False, slots=True)
class _Region:
    polygon: shapely.Polygon
    part: int
    lines: dict[int, float]


def _edge_points(blade: Blade, network: Network, edge: int) -> Floats:
    """The points of an edge from node u to node v, both at the nodes' own places."""
    line = int(network.line[edge])
    tips = network.at[[network.u[edge], network.v[edge]]]
    if line == LINK or blade.first[line] == blade.last[line]:
        return np.asarray(tips)
    start, end, total = float(network.start[edge]), float(network.end[edge]), blade.total[line]
    if start >= total:
        start, end = start - total, end - total
    if end > total + SAME_MM:
        points = np.vstack([blade.part(line, start, total), blade.part(line, 0.0, end - total)[1:]])
    else:
        points = blade.part(line, start, end)
    points[0], points[-1] = tips
    return points


def _prune(network: Network) -> Bools:
    """Edges that are left when dead ends are taken away again and again."""
    alive = np.ones(len(network.u), bool)
    degree = network.degree
    while True:
        dead = alive & ((degree[network.u] == 1) | (degree[network.v] == 1))
        if not dead.any():
            return alive
        alive &= ~dead
        ends = np.concatenate([network.u[alive], network.v[alive]])
        degree = np.bincount(ends, minlength=len(network.at))


def _parts(network: Network, alive: Bools) -> dict[int, list[int]]:
    """Edges by connected part of what is left after pruning."""
    rest = np.flatnonzero(alive)
    from_node = Network(
        network.u[rest], network.v[rest], network.line[rest], network.start[rest],
        network.end[rest], network.at, network.rings,
    ).parts()  # fmt: skip
    groups: dict[int, list[int]] = defaultdict(list)
    for edge, part in zip(rest.tolist(), from_node[network.u[rest]].tolist(), strict=True):
        groups[part].append(edge)
    return groups


def _walk_cycle(network: Network, edges: list[int]) -> list[tuple[int, bool]]:
    """Edges of a plain cycle in order, each with True where it is walked from v to u."""
    at_node: dict[int, list[int]] = defaultdict(list)
    for edge in edges:
        at_node[int(network.u[edge])].append(edge)
        at_node[int(network.v[edge])].append(edge)
    edge, node = edges[0], int(network.u[edges[0]])
    order = []
    for _ in edges:
        backwards = int(network.u[edge]) != node
        order.append((edge, backwards))
        node = int(network.u[edge] if backwards else network.v[edge])
        here = at_node[node]
        edge = here[1] if here[0] == edge else here[0]
    return order


def _cycle_region(blade: Blade, network: Network, edges: list[int], part: int) -> _Region | None:
    rows = [
        _edge_points(blade, network, edge)[:: -1 if backwards else 1][:-1]
        for edge, backwards in _walk_cycle(network, edges)
    ]
    points = np.vstack(rows)
    if len(points) < 3:
        return None
    return _Region(shapely.Polygon(points), part, _lengths(network, edges))


def _lengths(network: Network, edges: list[int]) -> dict[int, float]:
    """How much of each drawn line some edges are, in mm."""
    lengths: dict[int, float] = {}
    for edge in edges:
        line = int(network.line[edge])
        if line != LINK:
            run = float(network.end[edge] - network.start[edge])
            lengths[line] = lengths.get(line, 0.0) + run
    return lengths


def _polygonized(blade: Blade, network: Network, edges: list[int], part: int) -> list[_Region]:
    """Regions of a part whose lines branch: GEOS walks the faces, the edges tell their lines."""
    shapes, middles = _distinct(
        network, edges, [_edge_points(blade, network, edge) for edge in edges]
    )
    polygons = shapely.get_parts(shapely.polygonize([shapely.LineString(p) for p in shapes]))
    if not len(polygons):
        return []
    tree = shapely.STRtree(polygons)
    which, face = tree.query(shapely.points(middles), "dwithin", distance=1e-6)
    around: list[list[int]] = [[] for _ in polygons]
    for row, polygon in zip(which.tolist(), face.tolist(), strict=True):
        around[polygon].append(edges[row])
    return [
        _Region(p, part, _lengths(network, of)) for p, of in zip(polygons, around, strict=True)
    ]  # fmt: skip


def _distinct(
    network: Network, edges: list[int], shapes: list[Floats]
) -> tuple[list[Floats], list[Floats]]:
    """Edges without the second of two that run side by side between the same nodes (tangents).

    `edges` is shortened in place; also returns a point on each edge that is left.
    """
    seen: dict[tuple[int, int], list[tuple[Floats, float]]] = defaultdict(list)
    kept = []
    for row, edge in enumerate(edges):
        points = shapes[row]
        middle = points[len(points) // 2] if len(points) > 2 else points.mean(axis=0)
        u, v = sorted((int(network.u[edge]), int(network.v[edge])))
        line = shapely.LineString(points)
        if any(
            abs(length - line.length) <= _BESIDE_MM
            and shapely.distance(shapely.Point(other), line) <= _BESIDE_MM
            for other, length in seen[u, v]
        ):
            continue
        seen[u, v].append((middle, line.length))
        kept.append((edge, points, middle))
    edges[:] = [edge for edge, _, _ in kept]
    return [points for _, points, _ in kept], [middle for _, _, middle in kept]


def _mended(regions: list[_Region]) -> list[_Region]:
    """Regions with valid polygons: rounding can make a ring cross itself; keep its main part."""
    polygons = np.array([region.polygon for region in regions])
    bad = np.flatnonzero(~shapely.is_valid(polygons))
    for row in bad.tolist():
        parts = [
            p for p in shapely.get_parts(shapely.make_valid(polygons[row]))
            if isinstance(p, shapely.Polygon)
        ]  # fmt: skip
        region = regions[row]
        whole = max(parts, key=lambda p: p.area, default=shapely.Polygon())
        regions[row] = _Region(whole, region.part, region.lines)
    return regions


def _regions(blade: Blade, network: Network, sliver: float) -> list[_Region]:
    """All bounded regions of the network, without those thinner than `sliver` mm on average."""
    regions: list[_Region] = []
    alive = _prune(network)
    degree = np.bincount(
        np.concatenate([network.u[alive], network.v[alive]]), minlength=len(network.at)
    )
    for part, edges in _parts(network, alive).items():
        nodes = network.u[edges]
        if (degree[nodes] == 2).all() and (degree[network.v[edges]] == 2).all():
            region = _cycle_region(blade, network, edges, part)
            regions.extend([region] if region else [])
        else:
            regions.extend(_polygonized(blade, network, edges, part))
    base = len(network.at)
    count = blade.last - blade.first + 1
    rings = network.rings[count[network.rings] > 2]
    index = spread(blade.first[rings], count[rings])
    outlines = shapely.linearrings(
        blade.a[index], indices=np.repeat(np.arange(len(rings)), count[rings])
    )
    regions.extend(
        _Region(polygon, base + ring, {ring: float(blade.total[ring])})
        for ring, polygon in zip(rings.tolist(), shapely.polygons(outlines), strict=True)
    )
    if not regions:
        return []
    regions = _mended(regions)
    shapes = np.array([region.polygon for region in regions])
    wide = 2 * shapely.area(shapes) > sliver * shapely.length(shapes)
    return [region for region, keep in zip(regions, wide.tolist(), strict=True) if keep]


def _depths(blade: Blade, regions: list[_Region]) -> Ints:
    """How many outlines of its own part lie around each region, one inside the other, (r,).

    A region inside a hole of another is such a one (a slit or a corner that touches makes them one
    part), and one inside two outlines drawn as closed lines, the inner within the outer: where two
    cross, the blade cuts both apart and what they share is a piece of its own.
    """
    depth = np.zeros(len(regions), np.int64)
    by_part: dict[int, list[int]] = defaultdict(list)
    for row, region in enumerate(regions):
        by_part[region.part].append(row)
    for rows in by_part.values():
        if len(rows) == 1:
            continue
        faces = [regions[row].polygon for row in rows]
        inner = shapely.point_on_surface(np.array(faces))
        used = {line for row in rows for line in regions[row].lines}
        loops = [r for r in sorted(used) if blade.closed[r]]
        by_loops = _nested(blade, loops, inner) if len(loops) > 1 else np.zeros(len(rows), np.int64)
        depth[rows] = np.maximum(by_loops, _in_holes(faces, inner))
        depth[rows] += _notches(blade, [regions[row] for row in rows], inner)
    return depth


def _notches(blade: Blade, regions: list[_Region], inner: Shapes) -> Ints:
    """1 for regions that are the waste of a slot: a small bite out of one closed outline.

    Such a region lies inside the outline, and one open line from its edge and back cuts it off: a
    longer way than along the edge. A tab or a corner that a line cuts off has the longer way of
    its own, and falls out as a piece.
    """
    notch = np.zeros(len(regions), np.int64)
    largest: dict[int, float] = defaultdict(float)
    for region in regions:
        for line in region.lines:
            largest[line] = max(largest[line], region.polygon.area)
    for row, region in enumerate(regions):
        outlines = [line for line in region.lines if blade.closed[line]]
        if len(region.lines) != 2 or len(outlines) != 1:
            continue
        mouth = region.lines[outlines[0]]
        if sum(region.lines.values()) - mouth <= mouth + SAME_MM:
            continue
        if region.polygon.area < _BITE * largest[outlines[0]]:
            within = shapely.Polygon(blade.points_of(outlines[0]))
            notch[row] = int(shapely.intersects(within, inner[row]))
    return notch


def _in_holes(faces: list[shapely.Polygon], inner: Shapes) -> Ints:
    """In how many of the faces' holes each of the points `inner` lies."""
    holes = [shapely.Polygon(ring) for face in faces for ring in face.interiors]
    if not holes:
        return np.zeros(len(inner), np.int64)
    which = shapely.STRtree(holes).query(inner, "within")[0]
    return np.bincount(which, minlength=len(inner))


def _nested(blade: Blade, loops: list[int], inner: Shapes) -> Ints:
    """How many of the nested `loops` (closed lines) lie around each of the points, less one."""
    shapes = shapely.make_valid(
        np.array([shapely.Polygon(blade.points_of(loop)) for loop in loops])
    )
    by_size = np.argsort(-shapely.area(shapes), kind="stable")
    shapes = shapes[by_size]
    roomy = shapely.buffer(shapes, 0.05)
    around = shapely.contains(shapes[None, :], inner[:, None])
    holds = shapely.covers(roomy[:, None], shapes[None, :])
    out = []
    for row in around:
        chain: dict[int, int] = {}
        for loop in np.flatnonzero(row).tolist():  # larger ones first
            chain[loop] = 1 + max((n for k, n in chain.items() if holds[k, loop]), default=0)
        out.append(max(chain.values(), default=1) - 1)
    return np.array(out, np.int64)


def find_faces(blade: Blade, network: Network, sliver: float) -> list[Face]:
    """All faces, larger parts first where nested; regions thinner than `sliver` mm are left out."""
    regions = _regions(blade, network, sliver)
    if not regions:
        return []
    polygons = np.array([region.polygon for region in regions])
    part = np.array([region.part for region in regions])
    depth = _depths(blade, regions)
    parts, first = np.unique(part, return_index=True)
    corner = shapely.get_point(shapely.get_exterior_ring(polygons[first]), 0)
    face, inside = shapely.STRtree(corner).query(polygons, "contains")
    area = shapely.area(polygons)
    largest = np.zeros(len(parts))
    of_part = np.searchsorted(parts, part)
    np.maximum.at(largest, of_part, area)
    around = (part[face] != parts[inside]) & (area[face] > largest[inside])
    face, inside = face[around], inside[around]
    parent = np.full(len(parts), -1)
    for row in np.argsort(-area[face], kind="stable").tolist():
        parent[inside[row]] = face[row]  # the smallest comes last
    card = _card_or_waste(parent, of_part, depth)
    return [
        Face(region.polygon, int(of_part[row]), region.lines, card[row], int(parent[of_part[row]]))
        for row, region in enumerate(regions)
    ]


def _card_or_waste(parent: Ints, of_part: Ints, depth: Ints) -> list[bool]:
    """Card or waste for each face: inside card a part is a hole, inside a hole it is card again."""
    known: dict[int, bool] = {-1: False}

    def state_of(face: int) -> bool:
        trail = []
        while face not in known:
            trail.append(face)
            face = int(parent[of_part[face]])
        state = known[face]
        for step in reversed(trail):
            state = (not state) ^ bool(depth[step] % 2)
            known[step] = state
        return state

    return [state_of(row) for row in range(len(of_part))]


def faces_at(
    points: Floats, faces: list[Face], unless: list[tuple[int, ...]] | None = None
) -> Ints:
    """The innermost face around each point (n, 2), -1 on the bare sheet.

    A face bounded by a line in `unless[n]` does not count for point n.
    """
    found = np.full(len(points), -1)
    if not faces or not len(points):
        return found
    tree = shapely.STRtree([face.polygon for face in faces])
    which, face = tree.query(shapely.points(points), "intersects")
    # Polygons of outer faces still cover their holes: the smallest face around a point decides.
    by_size = np.argsort(-shapely.area(tree.geometries)[face], kind="stable")
    for point, of in zip(which[by_size].tolist(), face[by_size].tolist(), strict=True):
        if not unless or set(unless[point]).isdisjoint(faces[of].lines):
            found[point] = of
    return found


def is_card(faces: list[Face], places: Ints) -> Bools:
    """Which of the faces numbered in `places` are card; -1, the bare sheet, is not."""
    return np.array([face.card for face in faces] + [False])[places]
