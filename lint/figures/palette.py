"""The colours of our pictures, each for a light and for a dark room.

Cut and score differ in lightness, in hue and in dash, so that no one needs to tell hues apart:
tests work out their contrast by WCAG 2 and as seen without red or without green.
"""

from __future__ import annotations

from typing import NamedTuple


class Ink(NamedTuple):
    """One colour, "#rrggbb", on light ground and on dark ground."""

    light: str
    dark: str


PALETTE = {
    "room": Ink("#f3f0ea", "#18171c"),  # around the sheet
    "sheet": Ink("#ffffff", "#24222b"),
    "card": Ink("#f0e7d8", "#403a49"),  # what a piece is filled with
    "block": Ink("#d3d1d6", "#5d5a66"),  # a text or picture, which is not cut
    "edge": Ink("#8f877b", "#7d7688"),  # of the sheet
    "cut": Ink("#2e2147", "#ece6fb"),
    "score": Ink("#0a7871", "#4fd0c3"),
    "draw": Ink("#7b7368", "#9d95a8"),
    "halo": Ink("#ffcf40", "#8c6a00"),
    "fault": Ink("#a5123c", "#ff93ab"),
    "caution": Ink("#855300", "#f0b850"),
    "tidy": Ink("#3c5672", "#a8c3e0"),
    "ready": Ink("#276231", "#92d69a"),
    "on-mark": Ink("#ffffff", "#18171c"),  # a number on a marker
}
