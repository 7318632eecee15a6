"""The proof of a layout: exact, on the shapes themselves, whatever the search believed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

import shapely
from shapely.affinity import rotate, translate

from matready.lint.sheets.packing import Packing, Place
from matready.lint.sheets.papers import Sheet
from matready.lint.sheets.raster import Shape

TOLERANCE_MM = 1e-6
"""Sums of coordinates are rounded; no blade and no eye knows a millionth of a millimetre."""

# Without a gap shapes may touch; an overlap of the tolerance along a metre is none.
_OVERLAP_MM2 = 1e-3


class Misplaced(ValueError):
    """A layout that breaks its promise; the message is one sentence."""


def verify(
    shapes: Sequence[Shape],
    sheets: Sequence[Sheet],
    packing: Packing,
    *,
    gap_mm: float,
    margin_mm: float,
    names: Sequence[str] = (),
) -> None:
    """Prove that each shape lies on one sheet or is named as left out, within margins, gaps kept.

    Args:
        shapes: as they were packed, in mm.
        sheets: that were given.
        packing: what came of it.
        gap_mm: between any two shapes, at least.
        margin_mm: from the edge of a sheet, at least.
        names: of the shapes, for the message; without them their numbers.

    Raises:
        Misplaced: the first promise that does not hold.
    """
    named = list(names) or [f"shape {n + 1}" for n in range(len(shapes))]
    _prove_all_there(packing, named)
    _prove_sheets(packing, sheets)
    on: dict[int, list[int]] = defaultdict(list)
    laid: dict[int, Shape] = {}
    for n, place in enumerate(packing.places):
        if place is not None:
            laid[n] = _laid(shapes[n], place)
            on[place.sheet].append(n)
    for sheet, numbers in on.items():
        used = packing.used[sheet]
        room = shapely.box(
            margin_mm, margin_mm, used.width_mm - margin_mm, used.height_mm - margin_mm
        )
        for n in numbers:
            _prove_inside(laid[n], room, named[n], margin_mm)
        _prove_apart([laid[n] for n in numbers], [named[n] for n in numbers], gap_mm)


def _prove_all_there(packing: Packing, names: Sequence[str]) -> None:
    """Each shape is on one sheet or told of once."""
    if len(packing.places) != len(names):
        raise Misplaced(f"{len(names)} pieces were to be laid, and {len(packing.places)} were.")
    told = Counter([*packing.too_big, *packing.without_room])
    for n, (name, place) in enumerate(zip(names, packing.places, strict=True)):
        if told[n] + (place is not None) != 1:
            raise Misplaced(f"{name} is neither on one sheet nor told of as left out once.")


def _prove_sheets(packing: Packing, sheets: Sequence[Sheet]) -> None:
    """Each used sheet is one of those at hand, no more of them than there are, and none empty."""
    filled = {place.sheet for place in packing.places if place is not None}
    if filled != set(range(len(packing.used))):
        raise Misplaced(
            f"{len(packing.used)} sheets are used, but {len(filled)} of them hold pieces."
        )
    for given, count in Counter(used.given for used in packing.used).items():
        at_hand = sheets[given].count
        if at_hand is not None and count > at_hand:
            raise Misplaced(f"{count} sheets of one size are used, and {at_hand} are at hand.")
    for used in packing.used:
        sheet = sheets[used.given]
        if (used.width_mm, used.height_mm) != (sheet.width_mm, sheet.height_mm):
            raise Misplaced(f"A sheet of {used.width_mm:g} × {used.height_mm:g} mm is not at hand.")


def _laid(shape: Shape, place: Place) -> Shape:
    """The shape where it lies, by the general library's own turn and shift."""
    laid = rotate(shape, place.turn_deg, origin=(0, 0))
    return translate(laid, place.dx, place.dy)


def _prove_inside(shape: Shape, room: shapely.Polygon, name: str, margin_mm: float) -> None:
    x0, y0, x1, y1 = shape.bounds
    left, top, right, bottom = room.bounds
    over = max(left - x0, top - y0, x1 - right, y1 - bottom)
    if room.is_empty or over > TOLERANCE_MM:
        raise Misplaced(f"{name} reaches {over:.4f} mm into the margin of {margin_mm:g} mm.")


def _prove_apart(shapes: Sequence[Shape], names: Sequence[str], gap_mm: float) -> None:
    """No two overlap, and none is nearer to another than the gap."""
    tree = shapely.STRtree(shapes)
    near = tree.query(shapes, predicate="dwithin", distance=gap_mm)
    for one, other in sorted(zip(*near.tolist(), strict=True)):
        if one >= other:
            continue
        distance = shapely.distance(shapes[one], shapes[other])
        if distance < gap_mm - TOLERANCE_MM:
            raise Misplaced(
                f"{names[one]} and {names[other]} are {distance:.4f} mm apart, "
                f"less than the gap of {gap_mm:g} mm."
            )
        if (
            distance == 0
            and shapely.area(shapely.intersection(shapes[one], shapes[other])) > _OVERLAP_MM2
        ):
            raise Misplaced(f"{names[one]} and {names[other]} overlap.")
