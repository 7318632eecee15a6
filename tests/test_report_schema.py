"""The schemas of the JSON reports, held against the code and against what the program says.

The validator is the package jsonschema, which implements JSON Schema draft 2020-12.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from matready.lint.cli import main
from matready.lint.report_schema import OPTIONAL, schema_of
from matready.lint.results import FixReport, Report
from matready.lint.sheets.cutting_list import CuttingList

from tests.conftest import ROOT
from tests.drawn import page, path
from tests.test_fixtures import FIXTURES

SHIPPED = {
    Report: ROOT / "lint" / "report.schema.json",
    FixReport: ROOT / "lint" / "fix.schema.json",
    CuttingList: ROOT / "lint" / "sheets.schema.json",
}
GAP = page(path("M20 20h30v20h-30v-19.9", name="door"))

each_report = pytest.mark.parametrize("kind", SHIPPED, ids=lambda kind: kind.__name__)


@cache
def _shipped(kind: type[Report | FixReport | CuttingList]) -> Any:
    return Draft202012Validator(json.loads(SHIPPED[kind].read_text("utf-8")))


def _errors(report: Any, kind: type[Report | FixReport | CuttingList]) -> list[str]:
    return [f"{one.json_path}: {one.message}"[:300] for one in _shipped(kind).iter_errors(report)]


def _said(*args: str | Path) -> Any:
    result = CliRunner().invoke(main, [*map(str, args), "--format", "json"])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return json.loads(result.stdout)


@each_report
def test_a_shipped_schema_is_what_the_code_gives(
    kind: type[Report | FixReport | CuttingList], record: bool
) -> None:
    text = json.dumps(schema_of(kind), indent=2, ensure_ascii=False) + "\n"
    if record:
        SHIPPED[kind].write_text(text, "utf-8", newline="\n")
    told = SHIPPED[kind].read_text("utf-8")
    assert told == text, "run pytest --record tests/test_report_schema.py"


@each_report
def test_a_schema_is_one_of_draft_2020_12_and_lets_nothing_unknown_in(
    kind: type[Report | FixReport | CuttingList],
) -> None:
    schema = json.loads(SHIPPED[kind].read_text("utf-8"))
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    Draft202012Validator.check_schema(schema)
    for part in (schema, *schema["$defs"].values()):
        assert part["additionalProperties"] is False
        assert set(part["properties"]) - set(part["required"]) <= OPTIONAL
        assert part["title"]
        assert part["description"]


@cache
def _of_a_lint() -> Any:
    """Of the demo, a set with a finding of its own, a file without a size, an unreadable one."""
    folder = sorted((FIXTURES / "repeat-file" / "flagged").glob("*/"))[0]
    hostile = [FIXTURES / "hostile" / f"{name}.svg" for name in ("empty", "no-size", "prefixed")]
    report = _said("lint", FIXTURES / "puppet-theatre", folder, *hostile)
    assert report["set"]
    assert report["unreadable"]
    assert any(file["not_checked"] for file in report["files"])
    assert any(file["size_mm"] is None for file in report["files"])
    return report


def test_what_a_lint_says_is_valid() -> None:
    assert _errors(_of_a_lint(), Report) == []


def test_every_recorded_finding_is_valid_and_uses_every_key() -> None:
    """Those beside the fixtures are what the program says, as other tests hold."""
    rows = [
        row
        for expected in FIXTURES.rglob("*.json")
        for row in json.loads(expected.read_text("utf-8")).get("findings", [])
    ]
    alone = [row for row in rows if "files" not in row]
    in_sets = [row for row in rows if "files" in row]
    report = {**_of_a_lint(), "set": in_sets}
    report["files"] = [{**report["files"][0], "findings": alone}]
    assert _errors(report, Report) == []
    parts = json.loads(SHIPPED[Report].read_text("utf-8"))["$defs"]
    assert {key for row in rows for key in row} == set(parts["SetFindingRecord"]["properties"])


def test_what_a_fix_says_is_valid(tmp_path: Path) -> None:
    (tmp_path / "door.svg").write_bytes(GAP)
    (tmp_path / "notes.svg").write_bytes(b"notes")
    refused = FIXTURES / "mixed-line" / "flagged" / "dashes-before-the-outline.svg"
    (tmp_path / "refused.svg").write_bytes(refused.read_bytes())
    (tmp_path / "sealed.svg").write_bytes(GAP)
    (tmp_path / "sealed.svg").chmod(0o444)
    (tmp_path / "left.svg").write_bytes(page('<text x="9" y="99">stage door</text>'))
    report = _said("fix", tmp_path, "--in-place")
    assert _errors(report, FixReport) == []
    assert report["unreadable"]
    assert report["unwritten"]
    for key in ("fixed", "not_fixed", "left"):
        assert any(file[key] for file in report["files"]), key


def test_what_sheets_says_is_valid(tmp_path: Path) -> None:
    """With a piece that is refused, a text that is left out, a file that is not read."""
    folder = tmp_path / "set"
    folder.mkdir()
    fold = path("M20 50h40", 'class="score" fill="none" stroke="#c2603a"')
    walls = (path("M20 20h40v60h-40z", name="wall"), fold, path("M90 20h50v60h-50z", name="roof"))
    (folder / "walls.svg").write_bytes(page(*walls, '<text x="9" y="99">stage door</text>'))
    (folder / "door.svg").write_bytes(GAP)
    (folder / "notes.svg").write_bytes(b"notes")
    papers = ("--paper", "cream=100x100mm", "--mat", "12x12in", "--time", "0")
    report = _said("sheets", folder, *papers, "--out", tmp_path / "out")
    assert _errors(report, CuttingList) == []
    assert json.loads((tmp_path / "out" / "cutting-list.json").read_text("utf-8")) == report
    assert report["left_out"]
    assert len(report["refused"]) == 2
    assert all(mat["parts"] and mat["papers"] for mat in report["mats"])
    del report["mats"][0]["parts"][0]["copy"]
    assert _errors(report, CuttingList), "a key that is missing is told"


def _nodes(node: Any) -> Iterator[dict[str, Any]]:
    """Every object of a report."""
    if isinstance(node, dict):
        yield node
    for one in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        yield from _nodes(one)


def _of_another_type(value: object) -> object:
    return 3 if isinstance(value, str) else "3" if isinstance(value, int | float) else {"3": 3}


@settings(max_examples=40)
@given(st.data())
def test_a_spoilt_report_is_not_valid(data: st.DataObject) -> None:
    """A key too many, one too few, or a value of another type, anywhere."""
    report = copy.deepcopy(_of_a_lint())
    report["files"] = report["files"][:: len(report["files"]) // 3]
    node = data.draw(st.sampled_from(list(_nodes(report))))
    key = data.draw(st.sampled_from(sorted(set(node))))
    how = data.draw(st.sampled_from(["more", "less", "other"]))
    if how == "more":
        node[f"{key}s"] = node[key]
    elif how == "less" and key not in OPTIONAL:
        del node[key]
    else:
        node[key] = _of_another_type(node[key])
    assert _errors(report, Report)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("severity", "error"),
        ("fix", "sure"),
        ("line", 0),
        ("column", 0),
        ("line", 1.5),
        ("count", 0),
        ("elements", []),
        ("elements", ["svg/path"]),
        ("elements", ["/svg/path[0]"]),
        ("at_mm", [1.0]),
        ("box_mm", [1.0, 2.0]),
    ],
)
def test_a_value_that_cannot_be_is_not_valid(key: str, value: object) -> None:
    report = copy.deepcopy(_of_a_lint())
    finding = next(file for file in report["files"] if file["findings"])["findings"][0]
    finding[key] = value
    assert len(_errors(report, Report)) == 1
    assert not _errors(_of_a_lint(), Report)
