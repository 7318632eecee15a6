"""Texts and pictures, which draw no line, as blocks: about where they lie, with their words."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from matready.lint.cutting import Cutout
from matready.lint.drawing import Sight
from matready.lint.figures.records import Block
from matready.lint.finding import Box, boxes_meet

_SHOWN = 40  # characters of a text that are shown
_SMALLEST_MM = 0.05  # a side of less cannot be seen
_FARTHEST_MM = 1e6
_LETTER = 0.5  # the breadth of a letter, as a share of its height, in a common typeface
_FILLED = 0.9  # so much of a block its words fill across
_HIGHEST = 0.8  # and so much of its height


def blocks_of(cutout: Cutout, only_mm: Box | None = None) -> list[Block]:
    """A block for each text and picture that is seen, or for those that reach into a box."""
    return [
        _block(sight)
        for sight in seen_sights(cutout)
        if only_mm is None or boxes_meet(sight.box, only_mm)
    ]


def seen_sights(cutout: Cutout) -> list[Sight]:
    """The texts and pictures that say or show something, at a place where that can be seen."""
    return [
        sight
        for sight in cutout.drawing.sights
        if (sight.href if sight.kind == "image" else sight.words) and _is_sensible(sight.box)
    ]


def boxes_named(cutout: Cutout, elements: Sequence[object]) -> list[Box]:
    """Where the texts and pictures lie that some elements are."""
    named = {id(element) for element in elements}
    return [sight.box for sight in seen_sights(cutout) if id(sight.element) in named]


def _is_sensible(box: Box) -> bool:
    x0, y0, x1, y1 = box
    sizes = x1 - x0, y1 - y0
    near = all(isfinite(value) and abs(value) < _FARTHEST_MM for value in box)
    return near and min(sizes) >= _SMALLEST_MM


def _block(sight: Sight) -> Block:
    words = "picture" if sight.kind == "image" else _shortened(sight.words)
    x0, y0, x1, y1 = (round(value, 3) for value in sight.box)
    letter_mm = min(_HIGHEST * (y1 - y0), _FILLED * (x1 - x0) / (_LETTER * len(words)))
    return Block((x0, y0, x1, y1), words, round(letter_mm, 3), _LETTER * letter_mm * len(words))


def _shortened(words: str) -> str:
    """The beginning of a text, without characters that would turn or hide what is around it."""
    plain = "".join(letter if letter.isprintable() else " " for letter in words)
    return plain if len(plain) <= _SHOWN else plain[: _SHOWN - 1].rstrip() + "…"
