"""The page of a real drawing, made larger so that parts have room beside the art."""

from __future__ import annotations

import re
from dataclasses import dataclass
from random import Random

from tests.planting.pages import number
from tests.planting.pieces import Box
from tests.planting.strokes import Matrix

CELL_MM = 62.0  # room for one cluster, whichever way it is turned
APART_MM = 8.0  # between the art and the strip

# CSS Values and Units 3, absolute lengths.
_UNITS = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96}
_ROOT = re.compile(r"<svg\b[^>]*>", re.DOTALL)
_VIEW = re.compile(r'viewBox="([^"]*)"')


@dataclass(frozen=True)
class Sheet:
    """A page: the root's start tag, the art's text, what takes user units to mm, the cells."""

    head: str
    art: str
    matrix: Matrix
    width_mm: float
    strip: Box
    cells: tuple[complex, ...]


def enlarge(text: str, count: int, rng: Random) -> Sheet:
    """Give a real drawing a page of sensible size with `count` free cells beside its art."""
    found, view = _ROOT.search(text), _VIEW.search(text)
    assert found is not None
    assert view is not None
    left, top, wide, high = (float(v) for v in view[1].replace(",", " ").split())
    scale = rng.uniform(60, 140) / max(wide, high)
    art_w, art_h = wide * scale, high * scale
    if rng.random() < 0.5:  # a column at the right
        strip = (art_w + APART_MM, 0.0, art_w + APART_MM + CELL_MM, CELL_MM * count)
        cells = [complex(strip[0] + CELL_MM / 2, CELL_MM * (i + 0.5)) for i in range(count)]
    else:  # a row below
        strip = (0.0, art_h + APART_MM, CELL_MM * count, art_h + APART_MM + CELL_MM)
        cells = [complex(CELL_MM * (i + 0.5), strip[1] + CELL_MM / 2) for i in range(count)]
    size = max(art_w, strip[2]), max(art_h, strip[3])
    unit = rng.choice(["mm", "mm", "mm", "cm", "in", "pt", "pc", "px"])
    per = _UNITS[unit]
    width, height = (number(v / per, 6) + unit for v in size)
    box = " ".join(number(v, 7) for v in (left, top, size[0] / scale, size[1] / scale))
    tag = re.sub(r'\s(?:width|height|viewBox)="[^"]*"', "", found[0])
    attributes = [f'width="{width}"', f'height="{height}"', f'viewBox="{box}"']
    rng.shuffle(attributes)
    head = tag.replace("<svg", "<svg " + " ".join(attributes), 1)
    body = text[found.end() : text.rindex("</svg>")].strip("\n")
    matrix = Matrix(scale, 0, 0, scale, -left * scale, -top * scale)
    return Sheet(head, body, matrix, size[0], strip, tuple(cells))
