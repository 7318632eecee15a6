"""What a close-up shows: which part of the page, how many times its size, and its scale bar."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matready.lint.finding import Box

FRAME_MM = (60.0, 45.0)  # a close-up on paper and, by CSS Values 3, on a screen
SEEN_MM = 3.0  # what was measured is drawn at least this wide
_TIMES = (
    0.05,
    0.1,
    0.15,
    0.2,
    0.25,
    0.3,
    0.4,
    0.5,
    0.6,
    0.75,
    1.0,
    2.0,
    5.0,
    10.0,
    20.0,
    50.0,
    100.0,
    200.0,
)
_BARS_MM = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
_CALM = 0.7  # the rest of the frame shows what is around
_CLOSEST = 10.0  # a matter of no size and no measure is looked at no closer
_BAR_MM = 10.0  # a scale bar is at least this long


class Window(NamedTuple):
    """A part of the page, `times` its size: x, y, width and height in mm of the page."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    times: float

    @property
    def bar_mm(self) -> float:
        """The length of the scale bar, in mm of the page: a round number."""
        return next((bar for bar in _BARS_MM if bar * self.times >= _BAR_MM), _BARS_MM[-1])


def window_around(
    box: Box,
    at: tuple[float, float],
    measured_mm: float | None = None,
    frame_mm: tuple[float, float] = FRAME_MM,
    calm: float = _CALM,
) -> Window:
    """The close-up in which a matter in `box` can be seen, and what was measured of it too.

    Where both do not go together, `at` is in the middle. `calm` is how much of the frame the matter
    may fill.
    """
    width, height = box[2] - box[0], box[3] - box[1]
    fit = min(
        _CLOSEST,
        calm * frame_mm[0] / max(width, 1e-6),
        calm * frame_mm[1] / max(height, 1e-6),
    )
    times = max((each for each in _TIMES if each <= fit), default=_TIMES[0])
    if measured_mm:
        wanted = SEEN_MM / measured_mm
        times = max(times, min((each for each in _TIMES if each >= wanted), default=_TIMES[-1]))
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2) if times <= fit else at
    return window_at(middle, times, frame_mm)


def window_at(
    middle: tuple[float, float], times: float, frame_mm: tuple[float, float] = FRAME_MM
) -> Window:
    """The close-up of a place at a stated number of times its size."""
    width, height = frame_mm[0] / times, frame_mm[1] / times
    return Window(
        round(middle[0] - width / 2, 3),
        round(middle[1] - height / 2, 3),
        round(width, 3),
        round(height, 3),
        times,
    )


def times_to_fit(
    sizes_mm: Sequence[tuple[float, float]], frame_mm: tuple[float, float] = FRAME_MM
) -> float:
    """How many times their size all of some pages can be shown in a frame."""
    fit = min(
        min(frame_mm[0] / max(width, 1e-6), frame_mm[1] / max(height, 1e-6))
        for width, height in sizes_mm
    )
    return max((each for each in _TIMES if each <= fit), default=_TIMES[0])
