"""Findings by a mark that stays the same while other things in their file change.

Programs that keep findings from run to run tell by it which are new. It is made of the rule and of
where a finding lies in its piece (on the page, where it lies in none), never of lines in the file:
so it outlives other lines above, another layout, another order, and a piece that was moved.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence

from matready.lint.finding import Box
from matready.lint.merging import sentence_of
from matready.lint.results import FindingRecord, PieceRecord

# Places are told to 1 mm. One step ends where no usual number lies (whole, half and tenth
# millimetres, sixteenths of an inch): else a rounding would move such a place to the next step.
_STEP_ENDS_MM = 0.444

_BY_PLACE = re.compile(r"piece-\d+")  # a piece without a name: lint/cutting/naming.py
_SAME_NAME = re.compile(r" \(\d+\)$")  # and one of several that have the same

_Identity = tuple[str, ...]


def fingerprints(findings: Sequence[FindingRecord], pieces: Sequence[PieceRecord]) -> list[str]:
    """A mark for each finding of one file, 32 hexadecimal digits, none of them twice.

    What nothing else tells apart is numbered from the top of the page on.
    """
    boxes = {piece.name: piece.box_mm for piece in pieces}
    identities = [_identity(finding, boxes) for finding in findings]
    order = sorted(range(len(findings)), key=lambda n: (identities[n], _place(findings[n])))
    met: Counter[_Identity] = Counter()
    marks = [""] * len(findings)
    for n in order:
        met[identities[n]] += 1
        told = "\n".join((*identities[n], str(met[identities[n]])))
        marks[n] = hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()[:32]
    return marks


def _place(finding: FindingRecord) -> tuple[object, ...]:
    x, y = finding.at_mm or (0.0, 0.0)
    return y, x, finding.message, finding.line, finding.column


def _identity(finding: FindingRecord, boxes: Mapping[str, Box]) -> _Identity:
    if finding.at_mm is None or finding.count > 1:  # of many, another may be the worst tomorrow
        kind = finding.elements[0].rpartition("/")[2].partition("[")[0]
        return finding.rule, kind, sentence_of(finding)
    piece = finding.piece or ""
    box = boxes.get(piece, (0.0, 0.0, 0.0, 0.0))
    x, y = finding.at_mm[0] - box[0], finding.at_mm[1] - box[1]
    size = f"{_step(box[2] - box[0])} {_step(box[3] - box[1])}"
    name = size if _BY_PLACE.fullmatch(piece) else _SAME_NAME.sub("", piece)
    return finding.rule, name, f"{_step(x)} {_step(y)}"


def _step(millimetres: float) -> int:
    return math.floor(millimetres + 1 - _STEP_ENDS_MM)
