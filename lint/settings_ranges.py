"""Between which bounds each number of a settings file has to lie: beyond them it is a slip.

All bounds are common practice, no source, unless a line says more.
"""

from __future__ import annotations

from typing import NamedTuple


class Range(NamedTuple):
    """The least and the most that a number may be, in its unit."""

    least: float
    most: float
    unit: str

    def told(self) -> str:
        """As a refusal says it: "between 0 and 5 mm"."""
        share = ", as a share" if self.unit == "share" else ""
        unit = "" if self.unit in ("share", "count", "") else f" {self.unit}"
        return f"between {_plain(self.least)} and {_plain(self.most)}{unit}{share}"


def _plain(number: float) -> str:
    return f"{number:,.4f}".rstrip("0").rstrip(".")


# SVG 2 asks a reader for single precision only, whose step on a page of 12 in is 0.00003 mm; a
# distance below this one would tell nothing but rounding.
LEAST_MM = 0.0001

DISTANCES = {
    # A gap that is twice as wide as the least hole is one that somebody drew.
    "join_mm": Range(LEAST_MM, 1, "mm"),
    # Windows of a small house are 5 mm wide: with more, fix would close them.
    "hairline_mm": Range(LEAST_MM, 5, "mm"),
    # Strips of 1 mm can be cut, and so their two sides are not one line.
    "same_place_mm": Range(LEAST_MM, 1, "mm"),
    # Half of same_place_mm at most, which is asked for besides.
    "flatten_mm": Range(LEAST_MM, 0.5, "mm"),
}

_OF_UNIT = {
    # A third of the usual mat: no limit of a blade, of paper or of a drawing's neatness is so long.
    "mm": Range(0, 100, "mm"),
    "share": Range(0, 1, "share"),
    "degrees": Range(0, 180, "degrees"),
    # More points than any line has that a program still opens.
    "count": Range(0, 100_000, "count"),
}

_OF_STOCK = {
    # Tissue is 0.03 mm and 12 g/m²; a blade that is dragged along cuts no more than 10 mm, and at
    # the usual bulk so much weighs 8.7 kg.
    "thickness_mm": Range(0.01, 10, "mm"),
    "grammage_g_m2": Range(1, 8_000, "g/m²"),
}

ON_MAT = {
    # 100 mm on each side leave nothing of a sheet of 8 in.
    "margin_mm": Range(0, 100, "mm"),
    "gap_mm": Range(0, 100, "mm"),
    # Below, a sheet takes days; no carriage moves a blade by a metre a second.
    "speed_mm_s": Range(0.1, 1_000, "mm/s"),
}


def range_of_limit(unit: str) -> Range:
    """The bounds of a rule's limit in that unit."""
    return _OF_UNIT.get(unit, _OF_UNIT["count"])


def range_of_stock(name: str, unit: str) -> Range:
    """The bounds of one of a stock's numbers."""
    return _OF_STOCK.get(name) or range_of_limit(unit)
