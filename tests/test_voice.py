"""How the command line speaks: every slip is one plain sentence, and no stream brings a traceback.

What a program does on a full disk or a closed stream is held against Linux itself: /dev/full (its
manual page full(4)) fails every write with ENOSPC.
"""

from __future__ import annotations

import os
import shlex
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from matready.lint.cli import main

from tests.test_cli import CLEAN, ENTRY


def _said(*args: str | Path) -> str:
    """The one sentence on standard error of a command that is wrong."""
    result = CliRunner().invoke(main, [str(arg) for arg in args], prog_name="matready")
    assert isinstance(result.exception, SystemExit), result.exception
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1
    return result.stderr.removeprefix("matready: ").rstrip("\n")


@pytest.mark.parametrize(
    ("command", "sentence"),
    [
        (
            "lint --stok x a",
            "no option --stok; the nearest is --stock, and `matready lint --help` lists them all",
        ),
        ("fix a -out fixed", "there is no option -out; with two dashes there is: --out"),
        ("lint a -mat=A4", "there is no option -mat; with two dashes there is: --mat"),
        (
            "lint a --fix",
            "there is no option --fix; that is a command of its own: matready fix, see",
        ),
        ("lint a --json", "there is no option --json; write --format json, and `matready lint"),
        ("lint a --out b", "there is no option --out; matready fix has one, and `matready lint"),
        ("lint a --quiet", "there is no option --quiet; `matready lint --help` lists them all"),
        ("lint a --hepl", "there is no option --hepl; the nearest is --help, and `matready lint"),
        ("--quick", "there is no option --quick; `matready --help` lists them all"),
        ("lnit", 'there is no command "lnit"; the nearest is lint, and `matready --help`'),
        ("huge", 'there is no command "huge"; `matready --help` tells of all there are'),
        (
            "lint --jobs two a",
            '--jobs must be a whole number, at least 1, not "two"; see `matready',
        ),
        ("lint --jobs 0 a", '--jobs must be a whole number, at least 1, not "0"; see `matready'),
        ("sheets --time -3 a", "--time must be a number, at least 0, not "),
        ("lint --format yaml a", '--format must be text, json or sarif, not "yaml"; see `matready'),
        ("lint --mat", "--mat needs something after it: --mat SIZE; see `matready lint --help`"),
        ("sheets a --gap", "--gap needs something after it: --gap LENGTH; see `matready sheets -"),
        ("lint --watch=1 a", "--watch stands by itself; leave out what follows its ="),
        (
            "rules double-cut b",
            '"b" is too much here; leave it out, or see `matready rules --help`',
        ),
        ("rules xyz", 'no rule is named "xyz"; `matready rules` lists them all'),
        ("lint --stock felt a", 'no stock is named "felt"; there are paper-80, '),
        ("lint --mat huge a", '"huge" is not a size; write WIDTHxHEIGHT with mm'),
        ("lint https://example.org/a.svg", "https://example.org/a.svg is an address; download it"),
    ],
)
def test_a_slip_is_one_sentence_that_says_what_to_do(command: str, sentence: str) -> None:
    said = _said(*shlex.split(command))
    assert sentence in said
    assert "Usage" not in said


def test_a_folder_in_the_command_s_place_is_told_as_one(tmp_path: Path) -> None:
    assert _said(tmp_path).endswith("but a file or folder of this name: matready lint checks it")


@pytest.mark.parametrize("command", ["lint", "fix --dry-run", "sheets --mat A4 --out mats"])
def test_a_name_with_spaces_and_without_quotes_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("our foot lights.svg").write_text(CLEAN)
    Path("door.svg").write_text(CLEAN)
    said = _said(*command.split(), "door.svg", "our", "foot", "lights.svg")
    assert said == (
        'there is no "our" but there is "our foot lights.svg"; '
        'put a name that has spaces in quotes: "our foot lights.svg"'
    )


@pytest.mark.parametrize("command", ["lint", "fix --dry-run", "sheets --mat A4 --out mats"])
def test_a_file_that_may_not_be_read_does_not_keep_the_others_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("door.svg", "floor.svg"):
        Path(name).write_text(CLEAN)
    may, read = os.access, Path.read_bytes

    # The tests may run as root, who may read everything.
    def access(path: str | Path, *args: int) -> bool:
        return Path(path).name != "floor.svg" and may(path, *args)

    def read_bytes(path: Path) -> bytes:
        if path.name == "floor.svg":
            raise PermissionError(13, "Permission denied", str(path))
        return read(path)

    monkeypatch.setattr(os, "access", access)
    monkeypatch.setattr(Path, "read_bytes", read_bytes)
    args = [*command.split(), "door.svg", "floor.svg"]
    result = CliRunner().invoke(main, args, prog_name="matready")
    assert result.exit_code == 2
    assert "floor.svg: not read: you may not read this file; change its" in result.stderr
    assert "1 file" in result.output


def test_a_full_disk_is_one_sentence_and_a_closed_stream_is_none(tmp_path: Path) -> None:
    (tmp_path / "door.svg").write_text(CLEAN)

    def run(command: str, more: str) -> tuple[int, str]:
        line = shlex.join([*ENTRY, *command.split()])
        done = subprocess.run(
            ["bash", "-c", f"{line} {more}"],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
        )
        return done.returncode, done.stderr

    for command in ("lint door.svg", "lint --help"):
        status, said = run(command, ">/dev/full")
        assert status == 2
        assert said == (
            "matready: standard output could not be written (no space left on device); "
            "make room there, or send it somewhere else\n"
        )
    assert run("lint --help", ">/dev/full 2>/dev/full") == (2, "")
    assert run("lint door.svg", ">&-") == (0, "")
