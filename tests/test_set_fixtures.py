"""Each folder in fixtures/<rule>/clean and flagged of a rule over sets gives just what it should.

A folder is one set. In a clean one its rule finds nothing, in a flagged one the findings that are
in the `.json` beside the folder. That file may also hold "limits" to use in place of the defaults.
`pytest --record` writes the findings.
"""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import pytest

from matready.lint.results import Checked
from matready.lint.runner import lint_paths
from matready.lint.sets import check_sets
from matready.lint.settings import Settings, SettingsFinder
from matready.rules import RULES

from tests.test_fixtures import FIXTURES, KINDS, same

SET_RULES = [rule for rule in RULES if rule.check_set is not None]


@dataclass(frozen=True, slots=True)
class SetCase:
    """One folder of drawings and the rule that it is about."""

    folder: Path
    rule: str

    @property
    def clean(self) -> bool:
        """True for the near misses, on which the rule must keep quiet."""
        return self.folder.parent.name == "clean"

    @property
    def drawings(self) -> list[Path]:
        return sorted(self.folder.glob("*.svg"))

    @property
    def expected_file(self) -> Path:
        return self.folder.with_suffix(".json")

    def expected(self) -> dict[str, Any]:
        """The content of the sibling `.json`, or nothing."""
        if not self.expected_file.exists():
            return {}
        content: dict[str, Any] = json.loads(self.expected_file.read_text("utf-8"))
        return content

    def findings(self, limits: dict[str, Any] | None = None) -> list[dict[str, Any]]:
        """What its rule finds, with the case's own limits unless others are given."""
        own = {self.rule: {**self.expected().get("limits", {}), **(limits or {})}}

        def amend(settings: Settings) -> Settings:
            return dataclasses.replace(settings, rules=own, only=frozenset([self.rule]))

        finder = SettingsFinder(None, RULES, amend)
        outcomes = list(lint_paths(self.drawings, RULES, finder, jobs=1))
        noted, found = check_sets(outcomes, RULES, finder)
        assert all(isinstance(one, Checked) and not one.report.not_checked for one in noted)
        rows: list[dict[str, Any]] = msgspec.json.decode(msgspec.json.encode(found))
        return [{**row, "files": [Path(path).name for path in row["files"]]} for row in rows]


SET_CASES = [
    SetCase(folder, rule.name)
    for rule in SET_RULES
    for kind in KINDS
    for folder in sorted((FIXTURES / rule.name / kind).glob("*/"))
]


@pytest.mark.parametrize(
    "case", SET_CASES, ids=lambda case: case.folder.relative_to(FIXTURES).as_posix()
)
def test_a_set_gives_the_findings_that_stand_beside_it(case: SetCase, record: bool) -> None:
    found = case.findings()
    assert bool(found) != case.clean
    if record and found:
        content = {**case.expected(), "findings": found}
        text = json.dumps(content, indent=2, ensure_ascii=False) + "\n"
        case.expected_file.write_text(text, "utf-8", newline="\n")
    expected = case.expected().get("findings", [])
    assert same(found, expected), json.dumps({"found": found, "expected": expected}, indent=2)
