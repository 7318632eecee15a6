"""Checks of the judge itself: does a drawing show what its truth says?

Independent of the linter: faces between the cut lines are worked out by shapely (GEOS), the written
file is drawn by a general SVG renderer (resvg).
"""

from __future__ import annotations

import io
from collections.abc import Iterator

import numpy as np
import shapely
from PIL import Image, ImageDraw, ImageFilter
from shapely.geometry import LineString, Polygon

from tests.planting.cases import Case
from tests.planting.pieces import corners, pairs, trace, width_of

PIXELS_PER_MM = 5


def cut_lines(case: Case) -> list[LineString]:
    """All cut lines of a drawing, before they were written."""
    out = []
    for mark in case.draft.marks:
        for sub in mark.subs if mark.role == "cut" else ():
            points = pairs(sub.chain)
            out.append(LineString(points + points[:1] if sub.closed else points))
    return out


def faces(case: Case) -> list[Polygon]:
    """What falls out when every cut line is followed; slivers of rounding are left out."""
    lines = shapely.union_all(np.array(cut_lines(case), dtype=object), grid_size=0.005)
    found = shapely.polygonize(np.array([lines], dtype=object))
    return [face for face in found.geoms if face.area / face.length > 0.02]


def untruths(case: Case) -> Iterator[str]:
    """What the truth about a drawing's pieces gets wrong."""
    left = faces(case)
    pieces = case.draft.sheet.pieces
    for piece in pieces:
        card = piece.polygon
        same = [f for f in left if f.symmetric_difference(card).area < 0.03 * card.length]
        if not same:
            yield f"{piece.name} does not fall out"
            continue
        left.remove(same[0])
        outside = [s for s in piece.scores if not card.buffer(0.02).covers(trace(s))]
        if outside:
            yield f"{piece.name}: a fold leaves the piece"
    holes = [Polygon(corners(hole)) for piece in pieces for hole in piece.holes]
    for face in left:
        if not any(hole.contains(face.representative_point()) for hole in holes):
            yield f"one more piece at {face.bounds}"
    small = {e.place.wkt for e in case.expected if e.rule == "undersize-piece"}
    limits = [(p.polygon, 3.0) for p in pieces] + [(hole, least_width(hole)) for hole in holes]
    for shape, limit in limits:
        if (width_of(shape) < limit) != (shape.wkt in small):
            yield f"{width_of(shape):.2f} mm wide at {shape.bounds}"


def least_width(hole: Polygon) -> float:
    """The limit for a hole, in mm: of a slot, four times as long as wide, half of the others'.

    Half the way around a strip is its length and its width.
    """
    width = width_of(hole)
    return 0.5 if hole.length / 2 - width >= 4 * width else 1.0


def pictures(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """The file as a renderer shows it, and the lines as they were meant; True where dark."""
    import resvg_py

    assert case.draft.page is not None and case.draft.page.size is not None
    wide = case.draft.page.size[0]
    png = resvg_py.svg_to_bytes(
        svg_string=case.text,
        dpi=96,
        width=round(wide * PIXELS_PER_MM),
        background="white",
        skip_system_fonts=True,
    )
    shown = Image.open(io.BytesIO(bytes(png))).convert("L")
    scale = shown.width / wide
    meant = Image.new("L", shown.size, 0)
    pen = ImageDraw.Draw(meant)
    for mark in case.draft.marks:
        for sub in mark.subs:
            points = [(x * scale, y * scale) for x, y in pairs(sub.chain)]
            pen.line(points + points[:1] if sub.closed else points, fill=255, width=1)
    return np.asarray(shown) < 250, np.asarray(meant) > 0


def strays(dark: np.ndarray, other: np.ndarray) -> float:
    """The share of dark pixels that are more than three pixels from any dark one of the other."""
    near = Image.fromarray(other.astype(np.uint8) * 255).filter(ImageFilter.MaxFilter(7))
    return float((dark & ~(np.asarray(near) > 0)).sum() / max(1, dark.sum()))
