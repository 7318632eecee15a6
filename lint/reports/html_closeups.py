"""The close-ups of a finding: as it is and, where a fix is known, as it will be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from matready.lint.figures.paths import number_text as n
from matready.lint.figures.records import ALIKE, MOVED, SIZE, Figure, Moving, Spot
from matready.lint.figures.windows import Window
from matready.lint.reports.as_text import shown
from matready.lint.reports.html_words import length, sentence, times_as_text
from matready.lint.results import FindingRecord

_FAR = 0.2  # times life size


@dataclass(frozen=True, slots=True)
class CloseUp:
    """One picture: the part of the page in `view_box`, drawn `times` its size in a frame.

    `figure` None means the file's own picture, which is on the page already. `sight` says how the
    matter is drawn (figures/records.py), `after` whether this is the repaired copy.
    """

    caption: str
    label: str
    view_box: str
    times: str
    bar_mm: float
    bar: str
    sight: str
    after: bool = False
    figure: Figure | None = None
    halo: str = ""
    moving: Moving | None = None
    far: bool = False  # so far away that lines have to be thin


def close_ups(record: FindingRecord, spot: Spot, in_inches: bool) -> Iterator[CloseUp]:
    """One picture, or two where a fix changes what is seen."""
    window = spot.window
    if window is None or (spot.sight == ALIKE and window.times < 1):
        return  # the drawing itself shows as much
    before, after = _captions(spot)
    changes = bool(spot.after) or (spot.sight == MOVED and bool(spot.cure))
    yield _close_up(before, spot, window, in_inches, record, halo=spot.halo)
    if changes:
        yield _close_up(after, spot, window, in_inches, record, after=True, figure=spot.after)


def _captions(spot: Spot) -> tuple[str, str]:
    """What stands below both pictures."""
    after = sentence(f"after the fix: {shown(spot.cure)}")
    if spot.sight == MOVED:
        left = "As it is: move the piece, and its folds stay behind"
        return f"{left}.", f"{after[:-1]}, so all of it moves."
    if spot.sight == SIZE:
        return "As it is read now.", after
    return ("As it is.", after) if spot.after else ("As it is.", "")


def _close_up(
    caption: str,
    spot: Spot,
    window: Window,
    in_inches: bool,
    record: FindingRecord,
    *,
    after: bool = False,
    figure: Figure | None = None,
    halo: str = "",
) -> CloseUp:
    times = times_as_text(window.times)
    return CloseUp(
        caption=caption,
        label=f"{'After' if after else 'Before'}, {times}: {shown(record.message)}",
        view_box=" ".join(map(n, window[:4])),
        times=times,
        bar_mm=round(window.bar_mm * window.times, 3),
        bar=length(window.bar_mm, in_inches),
        sight=spot.sight,
        after=after,
        figure=figure,
        halo=halo,
        moving=spot.moving,
        far=window.times < _FAR,
    )
