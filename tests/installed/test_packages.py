"""The wheel and the sdist: what is in them, and that the wheel does all alone what it should."""

from __future__ import annotations

import json
import shutil
import tarfile
import tomllib
import zipfile
from email.parser import Parser
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from tests.conftest import ROOT
from tests.installed.commands import Environ, Packages, run

DEMO = ROOT / "fixtures" / "puppet-theatre"


def _in_wheel(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as wheel:
        return {name: wheel.read(name) for name in wheel.namelist()}


def _in_sdist(path: Path) -> dict[str, bytes]:
    with tarfile.open(path) as sdist:
        files = (entry for entry in sdist.getmembers() if entry.isfile())
        return {
            entry.name.partition("/")[2]: file.read()
            for entry in files
            if (file := sdist.extractfile(entry)) is not None
        }


def _program_files(tree: Path) -> dict[str, bytes]:
    """Every file of the program in the clone: modules, marks, schemas, templates."""
    return {
        path.relative_to(tree).as_posix(): path.read_bytes()
        for room in ("lint", "rules")
        for path in (tree / room).rglob("*")
        if path.is_file()
    }


def test_the_wheel_holds_the_program_and_nothing_else(packages: Packages, tree: Path) -> None:
    inside = _in_wheel(packages.wheel)
    installed = {name: data for name, data in inside.items() if ".dist-info/" not in name}
    assert installed == {f"matready/{name}": data for name, data in _program_files(tree).items()}
    assert len(installed) > 100


def test_the_wheel_says_what_it_is_and_needs(packages: Packages) -> None:
    project: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    inside = _in_wheel(packages.wheel)
    (metadata,) = (data for name, data in inside.items() if name.endswith("/METADATA"))
    said = Parser().parsestr(metadata.decode("utf-8"))
    needed = [line for line in said.get_all("Requires-Dist", []) if "extra ==" not in line]
    assert sorted(needed) == sorted(project["dependencies"])
    assert (said["Name"], said["Version"]) == (project["name"], project["version"])
    assert said["Requires-Python"] == project["requires-python"]
    assert said.get_payload() == (ROOT / "README.md").read_text("utf-8")


def test_the_sdist_builds_to_the_same_wheel(packages: Packages, tree: Path) -> None:
    assert _in_wheel(packages.wheel_of_sdist) == _in_wheel(packages.wheel)
    inside = _in_sdist(packages.sdist)
    wanted = {**_program_files(tree), "README.md": (tree / "README.md").read_bytes()}
    assert {name: inside.get(name) for name in wanted} == wanted


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    """An empty folder to stand in, with a copy of the demo set beside it."""
    shutil.copytree(DEMO, tmp_path / "theatre")
    folder = tmp_path / "empty"
    folder.mkdir()
    return folder


def test_lint_and_its_json_work(program: Path, empty: Path, outside: Environ) -> None:
    said = run(program, "lint", "../theatre", cwd=empty, env=outside, status=1).stdout
    assert "10 files read" in said
    made = run(program, "lint", "../theatre", "--format", "json", cwd=empty, env=outside, status=1)
    report = json.loads(made.stdout)
    assert report["totals"]["files"] == 10
    named = {one["rule"] for file in report["files"] for one in file["findings"]}
    assert {"hairline-gap", "loose-score"} <= named
    assert list(empty.iterdir()) == []


def test_fix_works(program: Path, empty: Path, outside: Environ) -> None:
    before = {path.name: path.read_bytes() for path in (empty / "../theatre").iterdir()}
    said = run(program, "fix", "../theatre", "--out", "fixed", cwd=empty, env=outside).stdout
    assert "10 files done" in said
    after = {path.name: path.read_bytes() for path in (empty / "fixed").glob("*.svg")}
    assert set(after) == set(before)
    assert after != before
    assert before == {path.name: path.read_bytes() for path in (empty / "../theatre").iterdir()}


def test_rules_and_their_pages_work(program: Path, empty: Path, outside: Environ) -> None:
    listed = run(program, "rules", cwd=empty, env=outside).stdout
    assert "double-cut" in listed
    page = run(program, "rules", "double-cut", cwd=empty, env=outside).stdout
    assert "Why it matters at the machine" in page
    assert run(program, "--version", cwd=empty, env=outside).stdout.startswith("matready ")


def test_the_page_for_a_browser_works(program: Path, empty: Path, outside: Environ) -> None:
    run(program, "lint", "../theatre", "--report", "page.html", cwd=empty, env=outside, status=1)
    page = (empty / "page.html").read_text("utf-8")
    assert page.startswith("<!doctype html>")
    assert "hairline-gap" in page
    assert page.count("<svg") > 10


def test_findings_for_other_programs_work(program: Path, empty: Path, outside: Environ) -> None:
    made = run(program, "lint", "../theatre", "--format", "sarif", cwd=empty, env=outside, status=1)
    assert json.loads(made.stdout)["version"] == "2.1.0"


def test_schemas_come_along(program: Path, tree: Path) -> None:
    paths = sorted(program.parent.parent.glob("**/site-packages/matready/lint/*.schema.json"))
    assert [path.name for path in paths] == sorted(
        path.name for path in (tree / "lint").glob("*.schema.json")
    )
    for path in paths:
        schema = json.loads(path.read_text("utf-8"))
        jsonschema.validators.validator_for(schema).check_schema(schema)


def test_it_is_the_installed_program_that_runs(
    program: Path, empty: Path, outside: Environ
) -> None:
    code = "import matready.lint, matready.rules; print(matready.lint.__file__)"
    where = run(program.parent / "python", "-c", code, cwd=empty, env=outside).stdout
    assert Path(where).is_relative_to(program.parent.parent)
