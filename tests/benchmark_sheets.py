"""How few mats a project takes, and how long it is packed for, side by side in one run.

Run from the top of the checkout: python -m tests.benchmark_sheets [--esicup FOLDER]

It needs two general packers beside the test packages: pip install rectpack spyrrow

Projects are generated, with a fixed seed each. Beside the mats of `matready sheets` stand the bound
that no layout can beat, and what the bounding boxes of the pieces take: on shelves, the plain way
(first fit by decreasing height, as in Coffman, Garey, Johnson and Tarjan, 1980), by rectpack as it
does without being told otherwise, and by the best of its ways. "Fewer" is against rectpack, "at
most" what a layout with as few mats as the bound would save. Times are processor time; ratios are
what can be compared between machines.

FOLDER holds instances of the ESICUP collection of nesting problems, as its XML or as the JSON that
its pages name: FOLDER/**/fu.xml or fu.json and so on. They are strips of given height to be made as
short as can be; density is the area of the pieces over that of the strip. The packer was made for
mats, which are filled differently, so these tell how tight it packs and nothing else.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import shapely
from lxml import etree
from shapely.affinity import rotate, scale, translate

from matready.lint.sheets.packing import Packing, pack
from matready.lint.sheets.papers import Sheet
from matready.lint.sheets.verify import verify

from tests.benchmark import peak_mib, show

MAT = Sheet(304.8, 304.8)
MARGIN_MM, GAP_MM = 6.0, 2.0
QUARTERS = (0.0, 90.0, 180.0, 270.0)
COUNTS = (20, 60, 200)
SEEDS = (1, 2, 3)
SECONDS = 10.0  # the default of the command
STEPS_PER_MM = 1000  # rectpack takes whole numbers


def yardstick(name: str) -> Any:
    """A module of a general packer; the program ends in one sentence where it is not installed."""
    try:
        return import_module(name)
    except ModuleNotFoundError:
        sys.exit(f"{name} is not installed here: pip install rectpack spyrrow")


# Projects of a puppet theatre in card stock


def _panel(chance: random.Random) -> shapely.Polygon:
    """A wall with tabs, some with a window."""
    w, h, tab = chance.uniform(40, 110), chance.uniform(40, 140), chance.uniform(8, 12)
    slope = tab * 0.6
    tabs = [
        [(0, 0), (slope, -tab), (w - slope, -tab), (w, 0)],
        [(w, 0), (w + tab, slope), (w + tab, h - slope), (w, h)],
        [(0, h), (slope, h + tab), (w - slope, h + tab), (w, h)],
        [(0, 0), (-tab, slope), (-tab, h - slope), (0, h)],
    ]
    wall = shapely.box(0, 0, w, h)
    for side in chance.sample(range(4), chance.randint(1, 3)):
        wall = wall.union(shapely.Polygon(tabs[side]))
    if chance.random() < 0.4:
        wall = wall.difference(shapely.box(w * 0.3, h * 0.3, w * 0.65, h * 0.6))
    return wall


def _gable(chance: random.Random) -> shapely.Polygon:
    w, h, roof = chance.uniform(50, 110), chance.uniform(40, 90), chance.uniform(20, 60)
    return shapely.Polygon([(0, 0), (w, 0), (w, h), (w / 2, h + roof), (0, h)])


def _strip(chance: random.Random) -> shapely.Polygon:
    """A rail of the curtain."""
    return shapely.box(0, 0, chance.uniform(100, 260), chance.uniform(10, 30))


def _ring(chance: random.Random) -> shapely.Polygon:
    """The rim of a lamp."""
    outer, inner = chance.uniform(25, 70), chance.uniform(0.5, 0.8)
    disc = shapely.Point(0, 0).buffer(outer, 32)
    return disc.difference(shapely.Point(0, 0).buffer(outer * inner, 32))


def _frame(chance: random.Random) -> shapely.Polygon:
    """A frame of a backdrop."""
    w, h, bar = chance.uniform(60, 160), chance.uniform(60, 200), chance.uniform(8, 16)
    return shapely.box(0, 0, w, h).difference(shapely.box(bar, bar, w - bar, h - bar))


def _star(chance: random.Random) -> shapely.Polygon:
    tips, radius = chance.randint(5, 9), chance.uniform(8, 22)
    corners = [radius * (1 if k % 2 else 0.5) for k in range(2 * tips)]
    return shapely.Polygon(
        [
            (r * math.cos(k * math.pi / tips), r * math.sin(k * math.pi / tips))
            for k, r in enumerate(corners)
        ]
    )


MIXES: dict[str, list[Callable[[random.Random], shapely.Polygon]]] = {
    "panels": [*[_panel] * 5, _gable, _gable, _strip, _strip],
    "mixed": [*[_panel] * 3, _gable, _strip, _ring, _frame, _star, _star, _star],
    "decorative": [_ring, _ring, *[_frame] * 3, *[_star] * 5],
}


def project(mix: str, count: int, seed: int) -> list[shapely.Polygon]:
    """So many pieces of a mix, in mm."""
    chance = random.Random(seed * 1000 + count)
    return [chance.choice(MIXES[mix])(chance) for _ in range(count)]


def compare_mats() -> None:
    """Mats against the bound and against bounding boxes, summed over projects of one kind."""
    rows = []
    for count in COUNTS:
        for mix in MIXES:
            results = [_one_project(project(mix, count, seed)) for seed in SEEDS]
            bound, mats, shelves, plain, best = (sum(r[k] for r in results) for k in range(5))
            seconds, theirs = (sum(r[k] for r in results) / len(SEEDS) for k in (5, 6))
            rows.append(
                (
                    f"{count} pieces, {mix}",
                    *("/".join(str(int(r[k])) for r in results) for k in range(5)),
                    f"{mats / bound:.2f}",
                    *(f"{100 * (1 - mats / other):.0f} %" for other in (shelves, plain, best)),
                    f"{100 * (1 - bound / plain):.0f} %",
                    f"{seconds:.1f}",
                    f"{max(r[7] for r in results):.1f}",
                    f"{theirs:.2f}",
                )
            )
    show(
        f"Mats of 12 × 12 in, margin {MARGIN_MM:g} mm, gap {GAP_MM:g} mm, of {len(SEEDS)} projects",
        (
            "",
            "bound",
            "matready",
            "shelves",
            "boxes",
            "boxes, best",
            "mats/bound",
            "than shelves",
            "fewer",
            "than best",
            "at most",
            "s",
            "s, clock",
            "s boxes",
        ),
        rows,
    )


def _one_project(pieces: list[shapely.Polygon]) -> tuple[float, ...]:
    """Bound, mats; by boxes on shelves, by rectpack, by its best; seconds of both, by the clock."""
    clock, start = time.monotonic(), time.process_time()
    packing = pack(
        pieces,
        [MAT],
        gap_mm=GAP_MM,
        margin_mm=MARGIN_MM,
        turns_deg=QUARTERS,
        seed=0,
        seconds=SECONDS,
    )
    spent, waited = time.process_time() - start, time.monotonic() - clock
    verify(pieces, [MAT], packing, gap_mm=GAP_MM, margin_mm=MARGIN_MM)
    rectpack = yardstick("rectpack")
    ways = (rectpack.MaxRectsBssf, rectpack.SkylineBlWm)
    start = time.process_time()
    plain = _mats_by_boxes(pieces, ways[0], rectpack.PackingBin.BBF)
    theirs = time.process_time() - start
    best = min(
        _mats_by_boxes(pieces, way, choice)
        for way in ways
        for choice in (rectpack.PackingBin.BBF, rectpack.PackingBin.BFF)
    )
    shelves = _mats_by_shelves(pieces)
    return packing.bound, len(packing.used), shelves, plain, best, spent, theirs, waited


def _mats_by_shelves(pieces: list[shapely.Polygon]) -> int:
    """Mats for the bounding boxes, lying down, in rows as high as their first, first fit."""
    room = MAT.width_mm - 2 * MARGIN_MM + GAP_MM
    boxes = [(x1 - x0 + GAP_MM, y1 - y0 + GAP_MM) for x0, y0, x1, y1 in (p.bounds for p in pieces)]
    lying = sorted(((min(box), max(box)) for box in boxes), reverse=True)
    shelves: list[tuple[float, float]] = []  # of each how high it is, and how much is left
    for height, width in lying:
        left = [k for k, (_, free) in enumerate(shelves) if width <= free]
        if left:
            shelves[left[0]] = (shelves[left[0]][0], shelves[left[0]][1] - width)
        else:
            shelves.append((height, room - width))
    mats: list[float] = []  # of each how much height is left
    for height, _ in shelves:
        mat = next((k for k, free in enumerate(mats) if height <= free), len(mats))
        mats[mat : mat + 1] = [(mats[mat] if mat < len(mats) else room) - height]
    return len(mats)


def _mats_by_boxes(pieces: list[shapely.Polygon], way: type[Any], choice: Any) -> int:
    """Mats that the bounding boxes of pieces take, the gap at their right and lower side."""
    rectpack = yardstick("rectpack")
    packer = rectpack.newPacker(
        bin_algo=choice, pack_algo=way, sort_algo=rectpack.SORT_AREA, rotation=True
    )
    room = (MAT.width_mm - 2 * MARGIN_MM + GAP_MM) * STEPS_PER_MM
    packer.add_bin(int(room), int(room), count=float("inf"))
    for piece in pieces:
        x0, y0, x1, y1 = piece.bounds
        sides = (math.ceil((side + GAP_MM) * STEPS_PER_MM) for side in (x1 - x0, y1 - y0))
        packer.add_rect(*sides)
    packer.pack()
    assert sum(len(mat) for mat in packer) == len(pieces)
    return len(packer)


# Strips


@dataclass(frozen=True, slots=True)
class Strip:
    """An instance: a strip of given height, and shapes with how many of each and their turns."""

    name: str
    height: float
    shapes: tuple[tuple[shapely.Polygon, int, tuple[float, ...]], ...]

    @property
    def area(self) -> float:
        """Of all pieces."""
        return float(sum(shape.area * count for shape, count, _ in self.shapes))


# Lengths of the best layouts published with arXiv 2509.13329, the heights being ESICUP's own.
RECORDS = {
    "fu": 30.843,
    "jakobs1": 10.980,
    "jakobs2": 22.000,
    "shapes0": 57.012,
    "shapes1": 52.002,
    "dagli": 56.087,
    "marques": 75.176,
    "albano": 9692.056,
    "mao": 1696.802,
    "shirts": 59.393,
    "swim": 5541.653,
    "trousers": 235.172,
    "dighe1": 100.0,  # a jigsaw, so this is known to be the best
    "dighe2": 100.0,
}
STRIP_MM = 300.0  # the height to which an instance is scaled: a cell is a three-hundredth of it
STRIP_SECONDS = 20.0  # by the clock, for each of both
TRY_SECONDS = 5.0
SHORTER = 0.985  # each try has so much of the length that was reached


def read_strips(folder: Path) -> Iterator[Strip]:
    """The instances in a folder that have a record, by name."""
    found = {path.stem: path for path in sorted(folder.rglob("*.xml"))}
    found |= {path.stem: path for path in sorted(folder.rglob("*.json"))}
    for name in RECORDS:
        if name in found:
            path = found[name]
            yield _from_json(path) if path.suffix == ".json" else _from_xml(path)


def _from_json(path: Path) -> Strip:
    data = json.loads(path.read_text("utf-8"))
    shapes = []
    for item in data["Items"]:
        corners = item["Shape"].get("Data") or item["Shape"]["Outer"]
        turns = tuple(item["AllowedOrientations"])
        shapes.append((shapely.Polygon(corners), item["Demand"], turns))
    return Strip(path.stem, float(data["Strip"]["Height"]), tuple(shapes))


def _from_xml(path: Path) -> Strip:
    """The format of ESICUP: polygons by id, in segments; a board and a lot that refer to them."""
    root = etree.parse(path, etree.XMLParser(resolve_entities=False, no_network=True)).getroot()
    polygons = {
        polygon.get("id"): shapely.Polygon(
            [
                (float(segment.get("x0", 0)), float(segment.get("y0", 0)))
                for segment in polygon.iterfind("{*}lines/{*}segment")
            ]
        )
        for polygon in root.iterfind("{*}polygons/{*}polygon")
    }
    shapes = []
    for piece in root.iterfind("{*}problem/{*}lot/{*}piece"):
        turns = tuple(float(e.get("angle", 0)) for e in piece.iterfind(".//{*}enumeration"))
        polygon = polygons[_component(piece)]
        shapes.append((polygon, int(piece.get("quantity", 1)), turns or (0.0,)))
    board = root.find("{*}problem/{*}boards/{*}piece")
    assert board is not None, f"{path} has no board"
    _, y0, _, y1 = polygons[_component(board)].bounds
    return Strip(path.stem, y1 - y0, tuple(shapes))


def _component(piece: etree._Element) -> str | None:
    component = piece.find("{*}component")
    assert component is not None
    return component.get("idPolygon")


def compare_strips(folder: Path) -> None:
    """Density of strips: ours, that of a packer for strips, and the record."""
    rows = []
    for strip in read_strips(folder):
        clock = time.monotonic()
        ours = _length(strip)
        waited = time.monotonic() - clock
        clock = time.monotonic()
        theirs = _their_length(strip)
        theirs_waited = time.monotonic() - clock
        full = strip.area / strip.height
        rows.append(
            (
                f"{strip.name}, {sum(count for _, count, _ in strip.shapes)} pieces",
                *(f"{100 * full / length:.1f} %" for length in (ours, theirs)),
                f"{100 * full / RECORDS[strip.name]:.1f} %",
                f"{waited:.0f}",
                f"{theirs_waited:.0f}",
            )
        )
    show(
        "Density of strips",
        ("", "matready", "spyrrow", "record", "s by the clock", "s spyrrow"),
        rows,
    )


def _length(strip: Strip) -> float:
    """The shortest length that was found: each try has a little less than was reached."""
    factor = STRIP_MM / strip.height
    turns = strip.shapes[0][2]
    assert all(other == turns for _, _, other in strip.shapes), "one set of turns for all pieces"
    pieces = [
        scale(shape, factor, factor, origin=(0, 0))
        for shape, count, _ in strip.shapes
        for _ in range(count)
    ]
    best = math.inf
    room = 2.0 * strip.area / strip.height * factor
    end = time.monotonic() + STRIP_SECONDS
    for seed in range(1000):
        if time.monotonic() > end:
            break
        sheet = Sheet(room, STRIP_MM, 1)
        packing = pack(
            pieces,
            [sheet],
            gap_mm=0.0,
            margin_mm=0.0,
            turns_deg=turns,
            seed=seed,
            seconds=TRY_SECONDS,
        )
        if not packing.without_room:
            verify(pieces, [sheet], packing, gap_mm=0.0, margin_mm=0.0)
            best = _reach(pieces, packing)
            room = best * SHORTER
        elif math.isinf(best):
            room *= 1.2
    return best / factor


def _reach(pieces: list[shapely.Polygon], packing: Packing) -> float:
    return float(
        max(
            translate(rotate(piece, place.turn_deg, origin=(0, 0)), place.dx).bounds[2]
            for piece, place in zip(pieces, packing.places, strict=True)
            if place is not None
        )
    )


def _their_length(strip: Strip) -> float:
    spyrrow = yardstick("spyrrow")
    items = [
        spyrrow.Item(str(k), list(shape.exterior.coords), count, list(turns))
        for k, (shape, count, turns) in enumerate(strip.shapes)
    ]
    instance = spyrrow.StripPackingInstance(strip.name, strip.height, items)
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=int(STRIP_SECONDS), num_workers=1, seed=0
    )
    return float(instance.solve(config).width)


def main() -> None:
    """All comparisons."""
    parser = argparse.ArgumentParser(description="Mats and strips, packed side by side.")
    parser.add_argument("--esicup", type=Path, help="a folder with instances of ESICUP")
    parser.add_argument("--only", choices=("mats", "strips"), help="one half of it")
    wishes = parser.parse_args()
    if wishes.only != "strips":
        compare_mats()
        print(f"\n  Memory at most: {peak_mib():.0f} MiB")
    if wishes.esicup and wishes.only != "mats":
        compare_strips(wishes.esicup)


if __name__ == "__main__":
    main()
