"""One drawing looked at by the rules: its cutout, all that they say, and the report of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from matready.lint import cutting
from matready.lint.allowances import Allowances
from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import CUT, DRAW, SCORE
from matready.lint.drawing import Drawing
from matready.lint.finding import Box, Finding, Unchecked, boxes_meet
from matready.lint.merging import merged
from matready.lint.reading import read_drawing
from matready.lint.results import (
    ALLOWING,
    LEFT_OUT,
    READING,
    Checked,
    FileReport,
    FindingRecord,
    LineCounts,
    MeasuredRecord,
    NotChecked,
    PieceRecord,
)
from matready.lint.scale import doubt_of
from matready.lint.settings import Settings

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.rule import Rule
    from matready.lint.source import Source


@dataclass(frozen=True, eq=False, slots=True)
class Inspection:
    """What the rules say of one drawing, rule by rule.

    `yielded` are findings that only come of others, and `silenced` is how many the drawing itself
    allows: neither are in `said`. `misnamed` are sentences about what it allows that no rule finds.
    """

    cutout: Cutout
    said: tuple[tuple[Rule, Finding | Unchecked], ...]
    yielded: tuple[tuple[Rule, Finding], ...] = ()
    silenced: int = 0
    misnamed: tuple[str, ...] = ()

    def findings(self) -> Iterator[tuple[Rule, Finding]]:
        """The findings alone."""
        for rule, said in self.said:
            if isinstance(said, Finding):
                yield rule, said

    def unchecked(self) -> set[str]:
        """Names of rules that could not look at something."""
        return {rule.name for rule, said in self.said if isinstance(said, Unchecked)}


def inspect_source(source: Source, rules: Sequence[Rule], settings: Settings) -> Inspection:
    """Read, cut and check; raises Unreadable where uses multiply without end."""
    drawing = read_drawing(source, settings.distances.flatten_mm)
    return inspect_cutout(cutting.cut(drawing, settings), rules, settings)


def inspect_cutout(cutout: Cutout, rules: Sequence[Rule], settings: Settings) -> Inspection:
    """What rules say of a cutout."""
    chosen = [rule for rule in rules if settings.wants(rule)]
    doubt = doubt_of(cutout) if any(rule.needs_size for rule in chosen) else None
    said = [
        (rule, one)
        for rule in chosen
        for one in (
            [Unchecked(doubt)] if doubt and rule.needs_size else _run(rule, cutout, settings)
        )
    ]
    # What comes of a cause stays left out where the cause is silenced.
    causes, yielded = _causes(cutout, said)
    allowances = Allowances(cutout.drawing)
    heard = tuple(
        (rule, one)
        for rule, one in causes
        if not (isinstance(one, Finding) and allowances.silence(rule, one))
    )
    misnamed = tuple(allowances.misnamed(rule.name for rule in rules))
    return Inspection(cutout, heard, tuple(yielded), len(causes) - len(heard), misnamed)


def _causes(
    cutout: Cutout, said: Sequence[tuple[Rule, Finding | Unchecked]]
) -> tuple[list[tuple[Rule, Finding | Unchecked]], list[tuple[Rule, Finding]]]:
    """What was said, apart from findings that tell only what comes of another one."""
    kept: list[tuple[Rule, Finding | Unchecked]] = []
    yielded: list[tuple[Rule, Finding]] = []
    told: dict[str, list[tuple[set[_Element], Box]]] = {}
    for rule, one in said:
        if isinstance(one, Finding) and one.box is not None:
            told.setdefault(rule.name, []).append((set(elements_of(cutout, one)), one.box))
    for rule, one in said:
        causes = [cause for name in rule.yields_to for cause in told.get(name, ())]
        if causes and isinstance(one, Finding) and one.box is not None:
            # What stands for many comes of others only where each of the many does.
            spots = [(x, y, x, y) for x, y in one.places] if len(one.places) > 1 else [one.box]
            own = {*elements_of(cutout, one), *map(cutout.drawing.shown, one.rests_on)}
            near = cutout.distances.hairline_mm
            boxes = [box for elements, box in causes if own & elements]
            if all(any(boxes_meet(spot, box, near) for box in boxes) for spot in spots):
                yielded.append((rule, one))
                continue
        kept.append((rule, one))
    return kept, yielded


def elements_of(cutout: Cutout, found: Finding) -> list[_Element]:
    """The elements that a finding is about, as the file shows them, the most telling first."""
    shown = (cutout.drawing.shown(node) for node in found.nodes)
    return list(dict.fromkeys((*shown, *found.elements)))


def _run(rule: Rule, cutout: Cutout, settings: Settings) -> list[Finding | Unchecked]:
    """What a rule says; a rule that breaks says so instead of ending the run."""
    if rule.check is None:  # it is about sets of files: see lint/sets.py
        return []
    try:
        return list(rule.check(cutout, settings.limits(rule)))
    except Exception as error:  # a rule's mistake must not cost the user the other rules' findings
        return [Unchecked(broke(error))]


def broke(error: Exception) -> str:
    """What is said of a rule that broke."""
    return f"the rule broke on this file ({type(error).__name__}: {error}); please report it"


def checked(inspection: Inspection, settings: Settings) -> Checked:
    """The inspection as plain data."""
    cutout, drawing = inspection.cutout, inspection.cutout.drawing
    findings = [record_of(cutout, rule, found, settings) for rule, found in inspection.findings()]
    report = FileReport(
        path=drawing.source.name,
        size_mm=_rounded(drawing.page.size_mm) if drawing.page.size_mm else None,
        lines=LineCounts(cutout.count(CUT), cutout.count(SCORE), cutout.count(DRAW)),
        pieces=tuple(
            PieceRecord(
                piece.name, _rounded(piece.box), round(piece.card.area, 3), len(piece.holes),
                len(piece.folds),
            )
            for piece in cutout.pieces
        ),
        findings=tuple(merged(findings)),
        not_checked=not_checked(inspection),
        silenced=inspection.silenced,
    )  # fmt: skip
    return Checked(report, cutout.clues(), drawing.page.in_inches)


def not_checked(inspection: Inspection) -> tuple[NotChecked, ...]:
    """What was not read, left out, allowed in vain, and what rules could not look at."""
    drawing = inspection.cutout.drawing
    skipped = [NotChecked(READING, note.reason) for note in drawing.notes]
    skipped += [NotChecked(LEFT_OUT, reason) for reason in _left_out(drawing)]
    skipped += [NotChecked(ALLOWING, sentence) for sentence in inspection.misnamed]
    for rule, said in inspection.said:
        if isinstance(said, Unchecked):
            skipped.append(NotChecked(rule.name, said.reason))
    return tuple(skipped)


def _left_out(drawing: Drawing) -> list[str]:
    """What of the file puts no cut line down, and is no matter of a rule, in plain words."""
    put_no_line = Counter(drawing.put_no_line)
    put_no_line.subtract(sight.kind for sight in drawing.sights)
    kinds = [f"{count} {kind}" for kind, count in sorted(put_no_line.items()) if count > 0]
    hidden = drawing.hidden - len({one.element for one in drawing.unseen})
    kinds += [f"{hidden} that no one sees"] if hidden > 0 else []
    kinds += [f"{drawing.geometry.dots} of no length"] if drawing.geometry.dots else []
    return [f"what puts no cut line down ({', '.join(kinds)})"] if kinds else []


def record_of(cutout: Cutout, rule: Rule, found: Finding, settings: Settings) -> FindingRecord:
    """The finding as plain data."""
    source, elements = cutout.drawing.source, elements_of(cutout, found)
    severity = settings.severity(rule) or found.severity or rule.severity
    measured, span = found.measured, source.span(elements[0])
    return FindingRecord(
        rule=rule.name,
        severity=severity.value,
        message=found.message,
        at_mm=found.at and _rounded(found.at),
        box_mm=found.box and _rounded(found.box),
        line=span.line,
        column=span.column,
        elements=tuple(source.position(element) for element in elements),
        piece=found.piece,
        measured=MeasuredRecord(round(measured.value, 3), measured.unit, measured.limit)
        if measured
        else None,
        fix=found.fix.grade.value if found.fix else None,
        asked=rule.asked and found.fix is not None,
        count=max(len(found.places), 1),
        places_mm=tuple(_rounded(place) for place in found.places),
    )


def _rounded(values: Any) -> Any:
    """A tuple of lengths rounded to a thousandth of a millimetre."""
    return tuple(round(float(value), 3) + 0.0 for value in values)
