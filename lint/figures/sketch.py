"""A file's picture with a spot for each finding, before and after its fix."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from msgspec.structs import replace

from matready.lint.cutting import Cutout
from matready.lint.figures.figure import figure_of
from matready.lint.figures.records import ALIKE, MOVED, SIZE, Sketch, Spot
from matready.lint.figures.spots import key_of, matched, spot_of
from matready.lint.figures.windows import times_to_fit, window_at
from matready.lint.finding import Grade
from matready.lint.inspection import Inspection, record_of

if TYPE_CHECKING:
    from matready.lint.results import FileReport, FindingRecord
    from matready.lint.rule import Rule
    from matready.lint.settings import Settings

_SAME_MM = 0.01  # pages whose sides differ by less are of one size
_Key = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class _Copy:
    """What a repair made of a drawing; by finding what was done, or what stood in its way."""

    cutout: Cutout
    done: dict[_Key, str]
    refused: dict[_Key, str]
    moved_mm: float


def sketch_of(
    inspection: Inspection, report: FileReport, rules: Sequence[Rule], settings: Settings
) -> Sketch:
    """The sketch of a drawing that was looked at; fixes are made in memory only."""
    cutout, records = inspection.cutout, report.findings
    each = [
        (record_of(cutout, rule, found, settings), found) for rule, found in inspection.findings()
    ]
    gathering = {rule.name for rule in rules if rule.gathers}
    spots = [
        spot_of(cutout, found, record.rule in gathering)
        for record, found in zip(records, matched(records, each), strict=True)
    ]
    sketch = Sketch(figure_of(cutout), tuple(spots))
    # What `fix` does unasked is shown as it does it, and apart from that what it does when asked.
    unasked = {key_of(one) for one in records if one.fix == Grade.SAFE and not one.asked}
    rest = {key_of(one) for one in records if one.fix} - unasked
    if unasked:
        sketch = _with_cures(sketch, records, unasked, inspection, rules, settings, reshape=False)
    if rest:
        wanted = frozenset(rule.name for rule in rules if settings.wants(rule))
        asking = dataclasses.replace(settings, only=wanted)
        sketch = _with_cures(sketch, records, rest, inspection, rules, asking, reshape=True)
    return sketch


def _with_cures(
    sketch: Sketch,
    records: Sequence[FindingRecord],
    about: set[_Key],
    inspection: Inspection,
    rules: Sequence[Rule],
    settings: Settings,
    *,
    reshape: bool,
) -> Sketch:
    """The sketch with what a repair makes of the findings it is about."""
    cutout = inspection.cutout
    try:
        copy = _repaired(inspection, rules, settings, reshape)
    except Exception as error:  # a mistake of the repair must not cost the user the findings
        why = f"the repair broke on it ({type(error).__name__}: {error}); please report it"
        copy = _Copy(cutout, {}, dict.fromkeys(about, why), 0.0)
    spots = list(sketch.spots)
    for k, record in enumerate(records):
        key = key_of(record)
        if key in about and key in copy.done:
            spots[k] = _cured(spots[k], copy.done[key], cutout, copy.cutout)
        elif key in about and key in copy.refused:
            spots[k] = replace(spots[k], refused=copy.refused[key])
    moved = sketch.moved_mm if reshape else copy.moved_mm
    return replace(sketch, spots=tuple(spots), moved_mm=moved)


def _repaired(
    inspection: Inspection, rules: Sequence[Rule], settings: Settings, reshape: bool
) -> _Copy:
    # Loaded here because most drawings need no repair.
    from matready.lint.repair import mend

    mended = mend(inspection, rules, settings, reshape)
    return _Copy(
        mended.copy.cutout,
        {key_of(one): one.done for one in mended.repaired.fixed},
        {key_of(one.finding): one.reason for one in mended.repaired.not_fixed},
        mended.repaired.moved_mm,
    )


def _cured(spot: Spot, done: str, before: Cutout, after: Cutout) -> Spot:
    """The spot with what was done about it, and with the same window of the copy where it tells."""
    if spot.window is None or spot.sight in (MOVED, ALIKE):
        return replace(spot, cure=done)
    old, new = before.drawing.page.size_mm, after.drawing.page.size_mm
    if spot.sight == SIZE and new is not None:
        sizes = [new, old or new]
        middle = max(size[0] for size in sizes) / 2, max(size[1] for size in sizes) / 2
        window = window_at(middle, times_to_fit(sizes))
        return replace(spot, cure=done, window=window, after=figure_of(after))
    if _differ(old, new):
        return replace(spot, cure=done)  # everything lies elsewhere: the same window shows nothing
    x, y, width, height, _ = spot.window
    # A little more than is seen, so that no line ends in sight where it was clipped.
    box = x - width / 8, y - height / 8, x + width * 9 / 8, y + height * 9 / 8
    return replace(spot, cure=done, after=figure_of(after, box))


def _differ(one: tuple[float, float] | None, other: tuple[float, float] | None) -> bool:
    if one is None or other is None:
        return one is not other
    return max(abs(a - b) for a, b in zip(one, other, strict=True)) > _SAME_MM
