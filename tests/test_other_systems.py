"""What differs where the program was not written: how processes start, what streams can write."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path, PurePath, PurePosixPath, PureWindowsPath
from typing import Any

import pytest

from matready.lint import cores
from matready.lint.reports.as_diff import as_diff
from matready.lint.settings import Settings

ENTRY = """
import multiprocessing
import sys

from matready.lint.cli import main

if __name__ == "__main__":
    multiprocessing.set_start_method(sys.argv.pop(1))
    main(prog_name="matready")
"""
GAP = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">'
    '<path id="bühne" d="M10 10h30v40h-30v-39.8" fill="none" stroke="#000"/></svg>'
)


def _lint(folder: Path, start: str, jobs: int, encoding: str) -> tuple[bytes, bytes]:
    """What a run prints on standard output and standard error."""
    program = folder / "program.py"
    program.write_text(ENTRY, "utf-8")
    run = subprocess.run(
        [sys.executable, program, start, "lint", "sheets", "--format=json", f"--jobs={jobs}"],
        cwd=folder,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        capture_output=True,
        check=False,
    )
    assert run.returncode == 1, run.stderr.decode()
    return run.stdout, run.stderr


def test_processes_that_start_anew_do_the_same_work(tmp_path: Path) -> None:
    # Windows and macOS start them so, not as copies of the first: docs.python.org, multiprocessing,
    # "Contexts and start methods". What they are sent must bear being sent.
    sheets = tmp_path / "sheets"
    sheets.mkdir()
    for n in range(2):
        (sheets / f"bühne-{n}.svg").write_text(GAP, "utf-8")
    usual, _ = _lint(tmp_path, "fork", 1, "utf-8")
    # JSON between programs is UTF-8 (RFC 8259, section 8.1), also where streams have a code page.
    anew, errors = _lint(tmp_path, "spawn", 2, "cp1252")
    assert errors == b""
    assert anew == usual
    report: dict[str, Any] = json.loads(anew.decode("utf-8"))
    assert [file["path"] for file in report["files"]] == [
        str(Path("sheets", f"bühne-{n}.svg")) for n in range(2)
    ]
    assert {file["findings"][0]["rule"] for file in report["files"]} == {"hairline-gap"}


def test_many_cores_are_not_more_than_windows_can_wait_for(monkeypatch: pytest.MonkeyPatch) -> None:
    class Made(Exception):
        pass

    def make(workers: int, **_: Any) -> None:
        # The standard library itself refuses what Windows cannot do.
        monkeypatch.setattr(sys, "platform", "win32")
        with pytest.raises(ValueError, match="max_workers must be <="):
            ProcessPoolExecutor(100)
        ProcessPoolExecutor(workers).shutdown()
        raise Made

    monkeypatch.setattr(cores, "ProcessPoolExecutor", make)
    paths, settings = [Path()] * 100, [Settings()] * 100
    with pytest.raises(Made):
        list(cores.each(lambda *_: None, paths, (), settings, 100))


@pytest.mark.parametrize(
    "path",
    [
        PureWindowsPath(r"theatre\sheets\arch.svg"),
        PureWindowsPath("T:/theatre/sheets/arch.svg"),
        PureWindowsPath(r"\\server\share\theatre\sheets\arch.svg"),
        PurePosixPath("/theatre/sheets/arch.svg"),
        PurePosixPath("theatre/sheets/arch.svg"),
    ],
    ids=str,
)
def test_a_diff_names_the_file_from_the_top_on(path: PurePath) -> None:
    # "a/" and "b/" before a path below the top folder, with / between: git-diff, "Generating patch
    # text with -p". A drive or a root in it could not be applied anywhere.
    first, second, *_ = as_diff(path, "<svg>\n", "<svg/>\n").splitlines()
    assert (first, second) == ("--- a/theatre/sheets/arch.svg", "+++ b/theatre/sheets/arch.svg")
