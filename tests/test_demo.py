"""The demo set has the faults that its generator put in, at their places, and no others."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from matready.lint.runner import lint_bytes, lint_paths
from matready.lint.sets import check_sets
from matready.lint.settings import SettingsFinder
from matready.rules import RULES

from tests.conftest import ROOT
from tests.drawn import box_of

FOLDER = ROOT / "fixtures" / "puppet-theatre"
NEAR_MM = 0.5


def _generator() -> ModuleType:
    path = ROOT / "fixtures" / "draw_puppet_theatre.py"
    spec = importlib.util.spec_from_file_location("draw_puppet_theatre", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


GENERATOR = _generator()


def test_the_folder_holds_just_what_is_drawn() -> None:
    assert sorted(path.name for path in FOLDER.iterdir()) == sorted(GENERATOR.DRAWINGS)


@pytest.mark.parametrize("name", GENERATOR.DRAWINGS)
def test_a_sheet_has_its_faults_and_no_others(name: str) -> None:
    report = lint_bytes((FOLDER / name).read_bytes(), name, RULES)
    left = list(report.findings)
    for fault in GENERATOR.FAULTS[name]:
        x, y = fault.at_mm
        found = [
            finding
            for finding in left
            if finding.rule == fault.rule
            and box_of(finding)[0] - NEAR_MM <= x <= box_of(finding)[2] + NEAR_MM
            and box_of(finding)[1] - NEAR_MM <= y <= box_of(finding)[3] + NEAR_MM
        ]
        assert len(found) == 1, fault
        left.remove(found[0])
    assert left == []


def test_the_set_has_its_faults_and_no_others() -> None:
    finder = SettingsFinder(None, RULES)
    paths = sorted(FOLDER.iterdir())
    _, found = check_sets(list(lint_paths(paths, RULES, finder, jobs=1)), RULES, finder)
    assert [(each.rule, Path(each.files[0]).name) for each in found] == [
        (rule, name) for rule, _, name in GENERATOR.SET_FAULTS
    ]


def test_the_generator_writes_these_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(GENERATOR, "FOLDER", tmp_path)
    GENERATOR.main()
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (FOLDER / path.name).read_bytes(), path.name
