"""What a shell offers at the Tab key: by way of click and of bash itself, and what that loads."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.shell_completion import CompletionItem, ShellComplete

from matready.lint.cli import main
from matready.lint.sizes import parse_size
from matready.lint.stocks import STOCKS
from matready.rules import RULES

RULE_NAMES = sorted(rule.name for rule in RULES)


def _offered(*words: str) -> list[CompletionItem]:
    """What is offered for the last word, the others being typed already."""
    shell = ShellComplete(main, {}, "matready", "_MATREADY_COMPLETE")
    return shell.get_completions(list(words[:-1]), words[-1])


def _names(*words: str) -> list[str]:
    return [item.value for item in _offered(*words)]


@pytest.mark.parametrize(
    "words", [("lint", "--rule"), ("lint", "--skip"), ("fix", "--rule"), ("rules",)]
)
def test_every_rule_is_offered_with_what_it_finds(words: tuple[str, ...]) -> None:
    offered = {item.value: item.help for item in _offered(*words, "")}
    assert offered == {rule.name: rule.summary for rule in RULES}


def test_only_names_that_begin_so_are_offered() -> None:
    assert _names("rules", "d") == [name for name in RULE_NAMES if name.startswith("d")]
    assert _names("rules", "no-such") == []
    assert _names("lint", "--mat", "lett") == ["Letter"]


def test_stocks_are_offered_with_those_of_the_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert set(_names("lint", "--stock", "")) == set(STOCKS)
    (tmp_path / "matready.toml").write_text('[stocks.stage-board]\nlike = "card-300"\n', "utf-8")
    assert _names("fix", "--stock", "st") == ["stage-board"]
    below = tmp_path / "scenes"
    below.mkdir()
    (below / "felt.toml").write_text("[stocks.felt]\nthickness_mm = 1\n", "utf-8")
    monkeypatch.chdir(below)
    assert _names("lint", "--stock", "st") == ["stage-board"]
    assert _names("lint", "--config", "felt.toml", "--stock", "f") == ["felt"]


@pytest.mark.parametrize("text", ["stocks = 3", "[stocks", "\udcff", "mat = 'A4'"])
def test_settings_that_cannot_be_read_take_no_stock_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "matready.toml").write_bytes(text.encode("utf-8", "surrogateescape"))
    assert set(_names("lint", "--stock", "")) == set(STOCKS)


def test_every_size_that_is_offered_is_understood() -> None:
    offered = _offered("lint", "--mat", "")
    assert {"A4", "Letter", "12x12in"} <= {item.value for item in offered}
    for item in offered:
        width, height = parse_size(item.value)
        assert item.help == f"{width:g} × {height:g} mm"


def test_paths_are_left_to_the_shell() -> None:
    assert [item.type for item in _offered("lint", "arch")] == ["file"]
    assert [item.type for item in _offered("lint", "--config", "mat")] == ["file"]
    assert [item.type for item in _offered("fix", "--out", "fix")] == ["dir"]


_ASKS = """
import sys
from click.shell_completion import ShellComplete
from matready.lint.cli import main
shell = ShellComplete(main, {}, "matready", "_MATREADY_COMPLETE")
for option in ("--rule", "--stock", "--mat"):
    assert len(shell.get_completions(["lint", option], "")) > 5
print(*{name.split(".")[0] for name in sys.modules}, "matready.rules" in sys.modules)
"""


def test_an_offer_loads_nothing_heavy() -> None:
    run = subprocess.run([sys.executable, "-c", _ASKS], capture_output=True, text=True, check=True)
    assert {"numpy", "shapely", "lxml", "True"}.isdisjoint(run.stdout.split())


# As bash does at the Tab key (its manual, "Programmable Completion"): it sets COMP_WORDS and
# COMP_CWORD, calls the function that `complete` named, and takes COMPREPLY.
_AT_TAB = """
eval "$(_MATREADY_COMPLETE=bash_source matready)"
complete -p matready
COMP_WORDS=(matready rules do) COMP_CWORD=2
_matready_completion matready
echo "${COMPREPLY[@]}"
"""


def test_bash_offers_them_after_the_one_line(tmp_path: Path) -> None:
    program = tmp_path / "matready"
    code = "from matready.lint.cli import main; main(prog_name='matready')"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{code}"\n', "utf-8")
    program.chmod(0o755)
    around = {**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}"}
    run = subprocess.run(
        ["bash", "--norc", "-c", _AT_TAB], env=around, capture_output=True, text=True, check=True
    )
    registered, offered = run.stdout.splitlines()
    assert registered.endswith("-F _matready_completion matready")
    assert (offered, run.stderr) == ("double-cut", "")
