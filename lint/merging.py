"""Many findings of one kind in one file, reported as one with all its places.

Rules and repair look at each by itself; this is for the reader, who would not read forty alike.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from msgspec.structs import replace

from matready.lint.finding import box_around
from matready.lint.results import FindingRecord

MANY = 10  # so many of one kind are still told one by one

_NUMBERS = re.compile(r"\d[\d.,]*")


def merged(findings: Sequence[FindingRecord]) -> list[FindingRecord]:
    """The findings in their order; of each kind that has more than MANY, one with its count.

    A kind is a rule's findings of one severity and grade whose sentences differ in numbers only;
    where many are left of one rule, all that it says. The one that stays is that which is farthest
    past its limit.
    """
    return _by(_rule, _by(_sentence, findings))


def sentence_of(finding: FindingRecord) -> str:
    """What a finding says, without its numbers and the name of its piece."""
    return _NUMBERS.sub("0", finding.message.replace(finding.piece or "\0", ""))


def _by(
    kind: Callable[[FindingRecord], tuple[str | None, ...]], findings: Sequence[FindingRecord]
) -> list[FindingRecord]:
    kinds: dict[tuple[str | None, ...], list[FindingRecord]] = {}
    for finding in findings:
        kinds.setdefault(kind(finding), []).append(finding)
    told = []
    for finding in findings:
        alike = kinds[kind(finding)]
        if len(alike) <= MANY:
            told.append(finding)
        elif finding is alike[0]:
            told.append(_one_for_all(alike))
    return told


def _rule(finding: FindingRecord) -> tuple[str | None, ...]:
    return finding.rule, finding.severity, finding.fix


def _sentence(finding: FindingRecord) -> tuple[str | None, ...]:
    return (*_rule(finding), sentence_of(finding))


def _one_for_all(alike: Sequence[FindingRecord]) -> FindingRecord:
    boxes = [finding.box_mm for finding in alike if finding.box_mm is not None]
    worst = max(alike, key=_excess)
    return replace(
        worst,
        box_mm=box_around(boxes) if boxes else None,
        elements=tuple(dict.fromkeys(one for finding in alike for one in finding.elements)),
        count=sum(finding.count for finding in alike),
        places_mm=tuple(place for finding in alike for place in _places(finding)),
    )


def _places(finding: FindingRecord) -> tuple[tuple[float, float], ...]:
    return finding.places_mm or ((finding.at_mm,) if finding.at_mm is not None else ())


def _excess(finding: FindingRecord) -> float:
    """How far past its limit a finding is, as a share of the limit."""
    measured = finding.measured
    return abs(measured.value - measured.limit) / (measured.limit or 1.0) if measured else 0.0
