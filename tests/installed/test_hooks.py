"""The hooks for git, run by the pre-commit package in a repository of someone else."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.conftest import ROOT
from tests.installed.commands import Environ, run

FIXTURES = ROOT / "fixtures"
# A gap that is closed for certain, and an outline that no one but its author can close.
GAP = FIXTURES / "hairline-gap" / "flagged" / "corner-a-tenth-short.svg"
OPEN = FIXTURES / "open-outline" / "flagged" / "three-lines-of-four.svg"
ROOF = FIXTURES / "unmatched-tab" / "flagged" / "roof-two-millimetres-longer"

CONFIG = """\
repos:
  - repo: {repository}
    rev: {revision}
    hooks:
      - id: matready-fix
      - id: matready-lint
"""


class Theatre(NamedTuple):
    """Someone's repository of drawings, with both hooks installed."""

    folder: Path
    env: Environ

    def git(self, *args: str, status: int = 0) -> str:
        """What git says on both streams."""
        return run("git", *args, cwd=self.folder, env=self.env, status=status, err=True).stdout

    def hooks(self, *args: str, status: int = 0) -> str:
        """What the hooks say when they are started by hand."""
        command = (sys.executable, "-m", "pre_commit", *args)
        return run(*command, cwd=self.folder, env=self.env, status=status, err=True).stdout

    def put(self, source: Path, name: str) -> Path:
        """Copy a drawing into the repository and stage it."""
        target = self.folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)
        self.git("add", name)
        return target

    def commits(self) -> int:
        """How many commits there are."""
        return len(self.git("log", "--all", "--oneline").splitlines())


@pytest.fixture(scope="session")
def installed(repository: Path, tmp_path_factory: pytest.TempPathFactory, outside: Environ) -> Path:
    """A repository whose hooks are ready; it holds the configuration and nothing else."""
    folder = tmp_path_factory.mktemp("theatre")
    theatre = Theatre(folder, outside)
    revision = run("git", "rev-parse", "HEAD", cwd=repository, env=outside).stdout.strip()
    config = CONFIG.format(repository=repository.as_posix(), revision=revision)
    (folder / ".pre-commit-config.yaml").write_text(config, "utf-8")
    theatre.git("init", "--quiet")
    theatre.git("add", ".")
    theatre.git("commit", "--quiet", "--message", "Hooks")
    theatre.hooks("install", "--install-hooks")
    return folder


@pytest.fixture
def theatre(installed: Path, tmp_path: Path, outside: Environ) -> Theatre:
    """A copy of that repository for one test."""
    return Theatre(Path(shutil.copytree(installed, tmp_path / "theatre")), outside)


def test_a_faulty_drawing_is_held_back_fixed_and_taken(theatre: Theatre) -> None:
    drawing = theatre.put(GAP, "sheets/arch.svg")
    said = theatre.git("commit", "--message", "Arch", status=1)
    assert "files were modified by this hook" in said
    assert "hairline-gap" in said
    assert theatre.commits() == 1
    fixed = drawing.read_bytes()
    assert fixed == (FIXTURES / "hairline-gap" / "fixed" / GAP.name).read_bytes()
    theatre.git("add", "sheets/arch.svg")
    theatre.git("commit", "--message", "Arch")
    assert theatre.commits() == 2
    assert theatre.git("show", "HEAD:sheets/arch.svg").encode() == fixed


def test_what_only_its_author_can_mend_is_held_back_and_left_alone(theatre: Theatre) -> None:
    drawing = theatre.put(OPEN, "flag.svg")
    said = theatre.git("commit", "--message", "Flag", status=1)
    assert "open-outline" in said
    assert "files were modified by this hook" not in said
    assert theatre.commits() == 1
    assert drawing.read_bytes() == OPEN.read_bytes()


def test_a_set_is_judged_only_where_all_of_it_is_there(theatre: Theatre) -> None:
    linted = theatre._replace(env=theatre.env | {"SKIP": "matready-fix"})
    linted.put(ROOF / "walls.svg", "walls.svg")
    linted.git("commit", "--message", "Walls")
    # The tab of this roof fits no wall, but the roof is alone in its commit.
    linted.put(ROOF / "roof.svg", "roof.svg")
    linted.git("commit", "--message", "Roof")
    assert linted.commits() == 3
    assert "unmatched-tab" in linted.hooks("run", "--all-files", status=1)


def test_other_files_are_none_of_its_business(theatre: Theatre) -> None:
    (theatre.folder / "notes.txt").write_text("<svg> is no drawing here\n", "utf-8")
    theatre.git("add", "notes.txt")
    said = theatre.git("commit", "--message", "Notes")
    assert said.count("Skipped") == 2
    assert theatre.commits() == 2
