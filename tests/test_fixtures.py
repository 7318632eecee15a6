"""Each drawing in fixtures/<rule>/clean and fixtures/<rule>/flagged gives just what it should.

A clean drawing has no finding, unless a `.json` of the same name lists findings of other rules. A
flagged one has the findings of its `.json`. That file may also hold "limits" for the folder's rule
and "mat" (mm), which are used in place of the defaults. `pytest --record` writes the findings.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import pytest

from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
KINDS = ("clean", "flagged")
SAME_MM = 0.02  # twice what flattening may move a point: another GEOS may place it a little off

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Case:
    """One drawing, the rule that it is about, and what is expected of it."""

    drawing: Path
    rule: str

    @property
    def clean(self) -> bool:
        """True for the near misses, on which the rule must keep quiet."""
        return self.drawing.parent.name == "clean"

    @property
    def expected_file(self) -> Path:
        return self.drawing.with_suffix(".json")

    def expected(self) -> dict[str, Any]:
        """The content of the sibling `.json`, or nothing."""
        if not self.expected_file.exists():
            return {}
        content: dict[str, Any] = json.loads(self.expected_file.read_text("utf-8"))
        return content

    def findings(self, limits: dict[str, Any] | None = None) -> list[dict[str, Any]]:
        """What the program finds, with the case's own limits unless others are given."""
        expected = self.expected()
        mat = expected.get("mat")
        settings = Settings(
            mat=tuple(mat) if mat else None,
            rules={self.rule: {**expected.get("limits", {}), **(limits or {})}},
        )
        report = lint_bytes(self.drawing.read_bytes(), self.drawing.name, RULES, settings)
        found: list[dict[str, Any]] = msgspec.json.decode(msgspec.json.encode(report.findings))
        return found


CASES = [
    Case(drawing, rule.name)
    for rule in RULES
    for kind in KINDS
    for drawing in sorted((FIXTURES / rule.name / kind).glob("*.svg"))
]


def case_name(case: Case) -> str:
    return case.drawing.relative_to(FIXTURES).with_suffix("").as_posix()


def same(found: Any, expected: Any) -> bool:
    """Compare findings: numbers within SAME_MM, also those inside a sentence; all else exactly."""
    if isinstance(expected, bool) or expected is None:
        return found is expected
    if isinstance(expected, int | float):
        return isinstance(found, int | float) and abs(found - expected) <= SAME_MM
    if isinstance(expected, str) and isinstance(found, str):
        numbers = zip(_NUMBER.findall(found), _NUMBER.findall(expected), strict=False)
        return _NUMBER.sub("0", found) == _NUMBER.sub("0", expected) and all(
            abs(float(a) - float(b)) <= SAME_MM for a, b in numbers
        )
    if isinstance(expected, list) and isinstance(found, list):
        return len(found) == len(expected) and all(map(same, found, expected))
    if isinstance(expected, dict) and isinstance(found, dict):
        return found.keys() == expected.keys() and all(
            _exact(key, found[key], expected[key]) for key in expected
        )
    return False


def _exact(key: str, found: Any, expected: Any) -> bool:
    """Lines and positions in the file are counted, not measured."""
    return bool(found == expected) if key in ("line", "elements") else same(found, expected)


@pytest.mark.parametrize("case", CASES, ids=case_name)
def test_a_drawing_gives_the_findings_that_stand_beside_it(case: Case, record: bool) -> None:
    found = case.findings()
    own = [finding for finding in found if finding["rule"] == case.rule]
    if case.clean:
        assert own == [], "a near miss must not be flagged"
    else:
        assert own, "a flagged drawing must be flagged by its own rule"
    if record:
        _write(case, found)
    expected = case.expected().get("findings", [])
    assert same(found, expected), json.dumps({"found": found, "expected": expected}, indent=2)


def _write(case: Case, found: list[dict[str, Any]]) -> None:
    """Write the findings, keep the rest; a clean drawing with nothing to say needs no file."""
    content = {**case.expected(), "findings": found}
    if content == {"findings": []}:
        case.expected_file.unlink(missing_ok=True)
        return
    text = json.dumps(content, indent=2, ensure_ascii=False) + "\n"
    case.expected_file.write_text(text, "utf-8", newline="\n")


def test_there_are_drawings_to_look_at() -> None:
    assert len(CASES) > 2 * len(RULES)


def test_the_comparison_sees_what_it_should() -> None:
    finding = {
        "message": "ends stop 0.12 mm short",
        "at_mm": [40.2, 96.0],
        "line": 22,
        "elements": ["/svg/path[3]"],
        "piece": "door",
        "measured": None,
    }
    assert same(finding, dict(finding))
    assert same({**finding, "at_mm": [40.21, 95.99]}, finding)
    assert same({**finding, "message": "ends stop 0.13 mm short"}, finding)
    for changed in (
        {"message": "ends stop 0.22 mm short"},
        {"message": "ends stay 0.12 mm short"},
        {"message": "ends stop short"},
        {"at_mm": [40.3, 96.0]},
        {"at_mm": [40.2]},
        {"line": 23},
        {"elements": ["/svg/path[4]"]},
        {"piece": None},
        {"measured": {"value": 1.0}},
        {"more": 1},
    ):
        assert not same({**finding, **changed}, finding), changed
    assert not same([finding, finding], [finding])
