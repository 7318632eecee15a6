"""Repair: findings to edits in the source's bytes, and the proof that the copy is as good."""

from __future__ import annotations

import gzip
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from msgspec.structs import replace

from matready.lint.inspection import Inspection, inspect_source, not_checked, record_of
from matready.lint.merging import merged
from matready.lint.repair.loop import Key, Loop, Progress, key_of
from matready.lint.repair.proof import Allowed, Unproven
from matready.lint.results import FindingRecord, FixedRecord, NotFixedRecord, Repaired
from matready.lint.settings import Settings
from matready.lint.source import PACKED, read_source

if TYPE_CHECKING:
    from matready.lint.rule import Rule


@dataclass(frozen=True, eq=False, slots=True)
class Mended:
    """What came of a repair in memory: the report of it, and the copy as the rules last saw it.

    Where nothing was done, that is the drawing itself.
    """

    repaired: Repaired
    copy: Inspection


def repair(
    data: bytes,
    name: str,
    rules: Sequence[Rule],
    settings: Settings,
    reshape: bool = False,
) -> Repaired:
    """Put right what can be put right in one SVG given as bytes, packed or not.

    `reshape`: fixes that change size or shape are made too. Raises Unreadable.
    """
    first = inspect_source(read_source(data, name), rules, settings)
    mended = mend(first, rules, settings, reshape)
    if mended.copy is first:
        return replace(mended.repaired, data=data)
    if data.startswith(PACKED):
        return replace(mended.repaired, data=gzip.compress(mended.repaired.data, mtime=0))
    return mended.repaired


def mend(
    first: Inspection, rules: Sequence[Rule], settings: Settings, reshape: bool = False
) -> Mended:
    """Put right what can be put right in a drawing that these rules have looked at already.

    The copy is as plain as the source was read, never packed.
    """
    loop = Loop(rules, settings, reshape)
    progress = loop.run(first)
    try:
        moved = _proven(loop, first, progress, settings)
    except Unproven:
        # One fix is to blame: with all rules looking after each round it is found and left.
        loop = Loop(rules, settings, reshape, all_look=True)
        progress = loop.run(first)
        try:
            moved = _proven(loop, first, progress, settings)
        except Unproven as why:
            progress, moved = loop.given_up(first, str(why)), 0.0
    not_fixed, left = _remaining(loop, progress, settings)
    repaired = Repaired(
        path=first.cutout.drawing.source.name,
        data=progress.now.cutout.drawing.source.data,
        fixed=tuple(_fixed(progress, first, settings)),
        not_fixed=tuple(not_fixed),
        left=tuple(left),
        not_checked=not_checked(progress.now),
        silenced=progress.now.silenced,
        moved_mm=round(moved, 4),
        in_inches=first.cutout.drawing.page.in_inches,
    )
    return Mended(repaired, progress.now)


def _proven(loop: Loop, first: Inspection, progress: Progress, settings: Settings) -> float:
    """How far anything moved from the source to the copy, all rounds together; raises Unproven."""
    if not progress.done:
        return 0.0
    moved = progress.moved_mm  # just proven
    if progress.rounds > 1:
        # An end may have been moved in two rounds, but never farther than a hairline in all.
        licences = tuple(licence for step, _ in progress.done for licence in step.plan.licences)
        allowed = Allowed(
            settings.distances.hairline_mm, progress.ratio, tuple(progress.added), licences
        )
        moved = loop.proven(first, progress.now, allowed)
    loop.seen_by_all(first, progress)
    return max([moved, *(step.plan.moved_mm for step, _ in progress.done)])


def _fixed(progress: Progress, first: Inspection, settings: Settings) -> list[FixedRecord]:
    """What was done, in the order of the source; lines are the source's where they are known."""
    lines: dict[Key, FindingRecord] = {
        key_of(rule, finding): record_of(first.cutout, rule, finding, settings)
        for rule, finding in first.findings()
    }
    records = []
    for step, inspection in progress.done:
        record = lines.get(step.key)
        if record is None:
            record = record_of(inspection.cutout, step.rule, step.finding, settings)
        records.append(
            FixedRecord(
                rule=record.rule,
                message=record.message,
                done=step.plan.done,
                at_mm=None if record.of_whole_page else record.at_mm,
                line=record.line,
                piece=record.piece,
                grade=step.fix.grade.value,
            )
        )
    return records


def _remaining(
    loop: Loop, progress: Progress, settings: Settings
) -> tuple[list[NotFixedRecord], list[FindingRecord]]:
    """What could not be put right and why, and what no fix was asked or known for."""
    not_fixed, left = [], []
    for rule, finding in progress.now.findings():
        record = record_of(progress.now.cutout, rule, finding, settings)
        if loop.wanted(rule, finding):
            reason = progress.refused[key_of(rule, finding)]
            not_fixed.append(NotFixedRecord(record, reason))
        else:
            left.append(record)
    return not_fixed, merged(left)


__all__ = ["Mended", "mend", "repair"]
