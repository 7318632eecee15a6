"""Each drawing in fixtures/<rule>/clean and fixtures/<rule>/flagged gives just what it should.

A clean drawing has no finding, unless a `.json` of the same name lists findings of other rules. A
flagged one has the findings of its `.json`. What other rules call merely untidy is left out of
both. That file may also hold "limits" for the folder's rule, "mat" (mm) and "read" (as in
[read]), which are used in place of the defaults.

A drawing of the same name in fixtures/<rule>/fixed is the copy that a repair writes, byte for byte;
where there is none, its rule can put nothing right. "not_fixed" in the `.json` says what is left
and why. In fixtures/several rules meet in one drawing; findings and copy stand beside it likewise.
`pytest --record` writes all of these.
"""

from __future__ import annotations

import dataclasses
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import pytest

from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Reading, Settings
from matready.rules import RULES

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
KINDS = ("clean", "flagged")
SEVERAL = "several"
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

    @property
    def fixed_file(self) -> Path:
        """The copy that a repair writes."""
        folder = self.drawing.parent
        return (folder if self.rule == SEVERAL else folder.parent) / "fixed" / self.drawing.name

    def settings(self, limits: dict[str, Any] | None = None) -> Settings:
        """The case's own limits and mat, with other limits put over them."""
        expected = self.expected()
        mat = expected.get("mat")
        return Settings(
            mat=tuple(mat) if mat else None,
            read=Reading(**expected.get("read", {})),
            rules={self.rule: {**expected.get("limits", {}), **(limits or {})}},
        )

    def repaired(self, data: bytes) -> Repaired:
        """What the folder's rule, or all of them where several meet, mends in these bytes."""
        only = frozenset() if self.rule == SEVERAL else frozenset([self.rule])
        settings = dataclasses.replace(self.settings(), only=only)
        return repair(data, self.drawing.name, RULES, settings, reshape=True)

    def findings(self, limits: dict[str, Any] | None = None) -> list[dict[str, Any]]:
        """What the program finds, with the case's own limits unless others are given."""
        settings = self.settings(limits)
        report = lint_bytes(self.drawing.read_bytes(), self.drawing.name, RULES, settings)
        found: list[dict[str, Any]] = msgspec.json.decode(msgspec.json.encode(report.findings))
        return [f for f in found if f["rule"] == self.rule or self._counts(f)]

    def _counts(self, finding: dict[str, Any]) -> bool:
        return self.rule == SEVERAL or finding["severity"] != "tidy"


CASES = [
    Case(drawing, rule.name)
    for rule in RULES
    for kind in KINDS
    for drawing in sorted((FIXTURES / rule.name / kind).glob("*.svg"))
]


MEETINGS = [Case(drawing, SEVERAL) for drawing in sorted((FIXTURES / SEVERAL).glob("*.svg"))]


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
    """Lines, columns and positions in the file are counted, not measured."""
    return (
        bool(found == expected) if key in ("line", "column", "elements") else same(found, expected)
    )


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


@pytest.mark.parametrize("case", MEETINGS, ids=case_name)
def test_where_rules_meet_each_says_its_own(case: Case, record: bool) -> None:
    found = case.findings()
    assert len({finding["rule"] for finding in found}) > 1
    if record:
        _write(case, found)
    assert same(found, case.expected()["findings"])


@pytest.mark.parametrize("case", [*CASES, *MEETINGS], ids=case_name)
def test_a_repair_writes_the_copy_that_stands_in_fixed(case: Case, record: bool) -> None:
    data = case.drawing.read_bytes()
    done = case.repaired(data)
    if case.clean:
        assert done.data == data, "what is in order must not be changed"
        return
    refused = [[one.finding.rule, one.reason] for one in done.not_fixed]
    if record:
        _write_fixed(case, None if done.data == data else done.data)
        _write_json(case, {**case.expected(), "not_fixed": refused})
    expected = case.fixed_file.read_bytes() if case.fixed_file.exists() else data
    assert done.data.decode("utf-8") == expected.decode("utf-8")
    assert bool(done.fixed) == (done.data != data)
    again = case.repaired(done.data)
    assert again.data == done.data, "a second repair must change nothing"
    assert refused == case.expected().get("not_fixed", [])


def _write_fixed(case: Case, data: bytes | None) -> None:
    if data is None:
        case.fixed_file.unlink(missing_ok=True)
        return
    case.fixed_file.parent.mkdir(exist_ok=True)
    case.fixed_file.write_bytes(data)


def _write(case: Case, found: list[dict[str, Any]]) -> None:
    """Write the findings, keep the rest; a clean drawing with nothing to say needs no file."""
    _write_json(case, {**case.expected(), "findings": found})


def _write_json(case: Case, content: dict[str, Any]) -> None:
    if not content.get("not_fixed"):
        content.pop("not_fixed", None)
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
        "column": 7,
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
        {"column": 8},
        {"elements": ["/svg/path[4]"]},
        {"piece": None},
        {"measured": {"value": 1.0}},
        {"more": 1},
    ):
        assert not same({**finding, **changed}, finding), changed
    assert not same([finding, finding], [finding])
