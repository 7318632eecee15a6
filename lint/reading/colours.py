"""Colours and paints of SVG and CSS, to "#rrggbb"."""

from __future__ import annotations

import re
from functools import lru_cache

# What parse_paint answers besides "#rrggbb".
NONE = "none"
SERVER = "url"
CURRENT = "currentcolor"
UNKNOWN_SPACE = "unknown-space"

_HEX = re.compile(r"#([0-9a-f]{6}|[0-9a-f]{3})")
_FALLBACK = re.compile(r"\s+icc-color\(.*", re.DOTALL)


@lru_cache(maxsize=4096)
def parse_paint(text: str) -> str | None:
    """A paint as "#rrggbb", NONE, SERVER (url(...)), CURRENT or UNKNOWN_SPACE; None if invalid.

    A colour without any opacity is NONE. UNKNOWN_SPACE is a valid colour that sRGB does not
    describe (lab, oklch and their kin).
    """
    text = text.strip().lower()
    found = _HEX.fullmatch(text)
    if found:
        digits = found[1]
        return text if len(digits) == 6 else "#" + "".join(digit * 2 for digit in digits)
    if text in (NONE, "transparent"):
        return NONE
    if text.startswith("url("):
        return SERVER
    return _parse_colour(_FALLBACK.sub("", text))


def _parse_colour(text: str) -> str | None:
    from tinycss2.color4 import parse_color

    if len(text) > 200:  # no colour is that long, and nesting would only tire the parser
        return None
    colour = parse_color(text)
    if colour is None:
        return None
    if isinstance(colour, str):
        return CURRENT
    if colour.alpha == 0:
        return NONE
    if colour.space in ("hsl", "hwb"):
        colour = colour.to("srgb")
    if colour.space != "srgb":
        return UNKNOWN_SPACE
    levels = (min(max(round((part or 0) * 255), 0), 255) for part in colour.coordinates)
    return "#" + "".join(f"{level:02x}" for level in levels)
