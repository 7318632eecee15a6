"""Sizes of sheets and mats: names, and the form WIDTHxHEIGHT with a unit."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite

MM_PER_INCH = 25.4  # exact, by definition
_EIGHTH_MM = MM_PER_INCH / 8
_SAME_EIGHTHS = 0.001
_MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH}

# ISO 216, main series A and B: width and height in mm, portrait.
_ISO_216 = {
    "A0": (841.0, 1189.0), "A1": (594.0, 841.0), "A2": (420.0, 594.0), "A3": (297.0, 420.0),
    "A4": (210.0, 297.0), "A5": (148.0, 210.0), "A6": (105.0, 148.0), "A7": (74.0, 105.0),
    "A8": (52.0, 74.0), "A9": (37.0, 52.0), "A10": (26.0, 37.0),
    "B0": (1000.0, 1414.0), "B1": (707.0, 1000.0), "B2": (500.0, 707.0), "B3": (353.0, 500.0),
    "B4": (250.0, 353.0), "B5": (176.0, 250.0), "B6": (125.0, 176.0), "B7": (88.0, 125.0),
    "B8": (62.0, 88.0), "B9": (44.0, 62.0), "B10": (31.0, 44.0),
}  # fmt: skip

# W3C CSS Paged Media 3, the keywords of `size`; its A and B names are those of ISO 216 above.
_CSS_PAGED_MEDIA_3 = {
    "JIS-B5": (182.0, 257.0),
    "JIS-B4": (257.0, 364.0),
    "Letter": (215.9, 279.4),  # 8.5 by 11 in
    "Legal": (215.9, 355.6),  # 8.5 by 14 in
    "Ledger": (279.4, 431.8),  # 11 by 17 in
}

NAMED: dict[str, tuple[float, float]] = {**_ISO_216, **_CSS_PAGED_MEDIA_3}
"""Width and height in mm, portrait, of every size that has a name."""

_BY_LOWER_NAME = {name.lower(): size for name, size in NAMED.items()}
# The likeness below which difflib, too, takes two words for strangers; and how many letters of a
# name are enough to tell it by.
_NEAR, _PART = 0.6, 3
_NUMBER = r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
_BY_SIDES = re.compile(rf"{_NUMBER}\s*(mm|cm|in)?\s*[x×]\s*{_NUMBER}\s*(mm|cm|in)?")
_FORMS = "write WIDTHxHEIGHT with mm, cm or in, such as 12x12in or 210x297mm, or a name such as A4"


@dataclass(frozen=True, slots=True)
class KnownPage:
    """A page that people draw on; `name` is understood by parse_size, sides are in mm, portrait."""

    name: str
    width_mm: float
    height_mm: float


def parse_size(text: str) -> tuple[float, float]:
    """Width and height in mm of `12x12in`, `21x29.7cm`, `A4`, `Letter` and the like.

    Letter case does not matter, `×` does for `x`, and sides keep the order they are given in.
    Raises ValueError with one plain sentence that says what is wrong and what to write.
    """
    lower = text.strip().lower()
    if lower in _BY_LOWER_NAME:
        return _BY_LOWER_NAME[lower]
    shown = f'"{text.strip()[:40]}"'
    sides = _BY_SIDES.fullmatch(lower)
    if sides is None:
        near = nearest(lower, NAMED)
        hint = f"the nearest name is {near}: " if near else ""
        raise ValueError(f"{shown} is not a size; {hint}{_FORMS}")
    width, width_unit, height, unit = sides.groups()
    if unit is None:
        raise ValueError(f"{shown} does not say its unit; {_FORMS}")
    size = _in_mm(width, width_unit or unit), _in_mm(height, unit)
    if not all(side > 0 and isfinite(side) for side in size):
        raise ValueError(f"{shown} is no size that a sheet can have; {_FORMS}")
    return size


def in_inches(size_mm: Iterable[float]) -> bool:
    """Whether sides are whole eighths of an inch, as those of mats and papers told in inches are.

    Sides of less than 127 mm that are told in whole mm never are.
    """
    return all(
        abs(side / _EIGHTH_MM - round(side / _EIGHTH_MM)) < _SAME_EIGHTHS for side in size_mm
    )


def size_as_text(name: str) -> str:
    """A size as a sentence shows it: "12 × 12 in" of `12x12in`, and a name as it is."""
    sides = _BY_SIDES.fullmatch(name.lower())
    if sides is None:
        return name
    width, width_unit, height, unit = sides.groups()
    first = f"{width} {width_unit}" if width_unit not in (None, unit) else width
    return f"{first} × {height} {unit}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like `word`, whatever the letter case; None if none is much like it."""
    from difflib import SequenceMatcher  # only ever needed to word an error

    short = word.casefold()[:60]  # no name is longer, and comparing long texts takes long

    def likeness(candidate: str) -> float:
        other = candidate.casefold()
        part = _NEAR if len(short) >= _PART and short in other else 0.0
        return max(part, SequenceMatcher(None, short, other).ratio())

    near = max(known, key=likeness, default=None)
    return near if near is not None and likeness(near) >= _NEAR else None


def _in_mm(number: str, unit: str) -> float:
    # 12 * 25.4 is 304.79999999999995 in binary; a nanometre is less than any page is cut to.
    return round(float(number) * _MM_PER_UNIT[unit], 6)


def _page(name: str) -> KnownPage:
    return KnownPage(name, *parse_size(name))


# Mats of 12 by 12 and 12 by 24 in: common practice, no source. Scrapbook paper of 12x12, 8x8 and
# 6x6 in: the article "Different Sizes of Scrapbooking Paper". The rest: the tables above.
KNOWN_PAGES: tuple[KnownPage, ...] = tuple(
    _page(name)
    for name in (
        "12x12in", "12x24in", "8x8in", "6x6in",
        "Letter", "Legal", "Ledger", "A3", "A4", "A5", "A6",
    )
)  # fmt: skip
"""Pages that paper craft is drawn on, to tell a page of the right size from one gone wrong."""
