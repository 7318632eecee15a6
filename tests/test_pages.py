"""README.md and DEVELOPERS.md hold: their links lead somewhere, their commands are understood."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.shell_completion import get_completion_class

from matready.lint.cli import main

from tests.conftest import ROOT

PAGES = ("README.md", "DEVELOPERS.md")
RULE_PAGES = [path.relative_to(ROOT).as_posix() for path in sorted(ROOT.glob("rules/pages/*.md"))]
HOOKS = ".pre-commit-hooks.yaml"
# What a page tells of that is still to be made: the rule of the five steps, what fix writes.
TO_BE_MADE = re.compile(r"the[_-]defect")
ROOMS = ("lint/", "rules/", "tests/", "fixtures/", ".ci/")

_FENCED = re.compile(r"^```([a-z]*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
_INLINE = re.compile(r"`([^`\n]+)`")
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_HEADING = re.compile(r"^#+ (.+)$", re.MULTILINE)
_BETWEEN_COMMANDS = re.compile(r"\\?\||&&|[;<>()\"]")
_COMPLETES = re.compile(r"_MATREADY_COMPLETE=([a-z]+)_source")


def _text(page: str) -> str:
    return (ROOT / page).read_text("utf-8")


def _prose(page: str) -> str:
    return _FENCED.sub("", _text(page))


def _headings(page: str) -> set[str]:
    """The names by which links find headings: GitHub's way, which others follow."""
    titles = _HEADING.findall(_prose(page))
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


@pytest.mark.parametrize("page", [*PAGES, *RULE_PAGES])
def test_links_lead_to_what_is_there(page: str) -> None:
    folder = Path(page).parent
    for link in _LINK.findall(_prose(page)):
        target, _, heading = link.partition("#")
        if re.match(r"[a-z]+:", target):
            continue
        assert (ROOT / folder / target).exists(), link
        assert not heading or heading in _headings(str(folder / target) if target else page), link


@pytest.mark.parametrize("page", PAGES)
def test_files_that_are_named_are_there(page: str) -> None:
    named = [
        code.split()[0]
        for code in _INLINE.findall(_prose(page))
        if code.startswith(ROOMS) and not re.search(r"[<{*]", code)
    ]
    gone = [name for name in named if not (ROOT / name).exists()]
    assert [name for name in gone if not TO_BE_MADE.search(name)] == []
    assert named


def _lines(page: str) -> Iterator[str]:
    """Every line that a reader may type: in blocks for the shell, and in the text."""
    for kind, block in _FENCED.findall(_text(page)):
        for line in block.splitlines():
            if kind == "sh" or (kind == "console" and line.startswith("$ ")):
                yield line
    yield from _INLINE.findall(_prose(page))


def _calls(page: str) -> list[list[str]]:
    """The words after each `matready` that is called as a program."""
    calls = []
    for line in _lines(page):
        for part in _BETWEEN_COMMANDS.split(line):
            words = [word for word in part.split() if word != "$"]
            if _COMPLETES.match(" ".join(words)):
                continue
            if words and re.split(r"[/\\]", words[0])[-1] == "matready":
                calls.append(words[1:])
    return calls


def _understood(words: list[str]) -> None:
    """Let click read the words as the program would; raises its UsageError."""
    command: click.Command = main
    if not words[0].startswith("-"):
        assert words[0] in main.commands, words
        command, *words = main.commands[words[0]], *words[1:]
    try:
        command.make_context("matready", words)
    except click.exceptions.Exit as said:  # --help and --version have answered
        assert said.exit_code == 0


@pytest.mark.parametrize("page", PAGES)
def test_commands_are_understood(page: str) -> None:
    calls = [call for call in _calls(page) if call]
    for call in calls:
        _understood(call)
    assert page != "README.md" or len(calls) > 15


def test_options_that_are_named_are_there() -> None:
    known = {
        option
        for command in (main, *main.commands.values())
        for parameter in command.params
        for option in parameter.opts
    } | {"--help"}
    assert set(re.findall(r"`(--[a-z-]+)", _prose("README.md"))) - known == set()


def test_the_readme_completes_for_shells_that_click_knows() -> None:
    for shell in _COMPLETES.findall(_text("README.md")):
        assert get_completion_class(shell) is not None


def test_hooks_call_the_program_as_it_is() -> None:
    hooks = _text(HOOKS)
    names = re.findall(r"^- id: (\S+)$", hooks, re.MULTILINE)
    entries = re.findall(r"^  entry: (.+)$", hooks, re.MULTILINE)
    assert sorted(names) == ["matready-fix", "matready-lint"]
    for entry in entries:
        program, *words = entry.split()
        assert program == "matready"
        _understood([*words, "sheets/arch.svg"])
    assert set(re.findall(r"- id: (\S+)", _text("README.md"))) <= set(names)
