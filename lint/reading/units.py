"""Numbers and lengths of SVG and CSS, to user units (CSS px).

Font-relative lengths are measured roughly: em by the element's font size (16 px unless the file
says otherwise), ex and ch as half of it, rem as 16 px. Lengths relative to a browser's window
(vw, vh and their kin) have no measure on a page.
"""

from __future__ import annotations

import re
from functools import lru_cache
from math import hypot, isfinite, sqrt
from typing import NamedTuple

from matready.lint.sizes import MM_PER_INCH

MM_PER_PX = MM_PER_INCH / 96  # CSS Values 3, "Absolute lengths": 1in = 2.54cm = 96px
ROOT_FONT_PX = 16.0
_PX = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96 / 2.54,
    "mm": 96 / MM_PER_INCH,
    "q": 96 / 101.6,
    "pt": 96 / 72,
    "pc": 16.0,
    "rem": ROOT_FONT_PX,
}
_FONT_PX = {"em": 1.0, "ex": 0.5, "ch": 0.5}
PHYSICAL = frozenset(("in", "cm", "mm", "q", "pt", "pc"))

NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
WHITE = " \t\r\n\f"
_LENGTH = re.compile(rf"[{WHITE}]*({NUMBER})([a-zA-Z]*|%)[{WHITE}]*")
# Atomic groups: without them a hostile list of numbers is tried in 2^n ways.
_SEPARATOR = rf"(?>[{WHITE}]*,[{WHITE}]*|[{WHITE}]+|(?=[+.-]))"
_NUMBERS = re.compile(rf"[{WHITE}]*(?>{NUMBER})(?>{_SEPARATOR}(?>{NUMBER}))*+[{WHITE}]*")
_ONE_NUMBER = re.compile(NUMBER)


class Length(NamedTuple):
    """A number with its unit in lower case: "" for none, "%" for a percentage."""

    number: float
    unit: str


class Extent(NamedTuple):
    """The viewport that percentages are taken of, in user units; None where it has no size."""

    width: float | None
    height: float | None

    @property
    def diagonal(self) -> float | None:
        """What a percentage of neither width nor height is taken of (SVG 2, 8.9)."""
        if self.width is None or self.height is None:
            return None
        return hypot(self.width, self.height) / sqrt(2)


@lru_cache(maxsize=8192)
def parse_length(text: str) -> Length | None:
    """A length or percentage; None for text that is none, or not finite."""
    found = _LENGTH.fullmatch(text)
    if found is None:
        return None
    length = Length(float(found[1]), found[2].lower())
    known = length.unit == "%" or length.unit in _PX or length.unit in _FONT_PX
    return length if known and isfinite(length.number) else None


def to_user(
    length: Length, percent_of: float | None, font_px: float = ROOT_FONT_PX
) -> float | None:
    """A length in user units; None for a percentage of nothing and for what is not finite."""
    if length.unit == "%":
        size = None if percent_of is None else length.number / 100 * percent_of
    elif length.unit in _FONT_PX:
        size = length.number * _FONT_PX[length.unit] * font_px
    else:
        size = length.number * _PX[length.unit]
    return size if size is not None and isfinite(size) else None


def format_number(value: float, decimals: int) -> str:
    """The number in plain digits: no exponent, no trailing zeros, no minus before a zero."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def parse_numbers(text: str) -> tuple[float, ...] | None:
    """Numbers separated by spaces or commas; None for anything else, or not finite."""
    if not _NUMBERS.fullmatch(text):
        return None
    numbers = tuple(float(number) for number in _ONE_NUMBER.findall(text))
    return numbers if all(map(isfinite, numbers)) else None
