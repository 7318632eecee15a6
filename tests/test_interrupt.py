"""Long runs as who waits for them meets them: how far they are, and what Ctrl-C leaves.

That an interrupted program ends with 128 + SIGINT is what a shell says of it (POSIX, 2.8.2).
"""

from __future__ import annotations

import json
import os
import pty
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from matready.lint import runner, sets
from matready.lint.cli import main
from matready.lint.repair import writing

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
CUT = 'fill="none" stroke="#000"'
# The door's own ends stop 0.2 mm short of each other: a fault, and one that has a fix.
GAP = f'{HEAD}<path id="door" d="M10 10h30v40h-30v-39.8" {CUT}/></svg>\n'

DEADLINE_S = 60.0
COMMANDS = pytest.mark.parametrize("command", ["lint", "fix"])

# The program, in which work on a file named "long" never ends; it leaves a mark when it begins. One
# named "stubborn" goes on after an interrupt too, and leaves a second mark when it hears one. All
# others take a third of a second where the folder is named "slow".
ENTRY = """
import sys
import time
from functools import wraps
from pathlib import Path
from matready.lint import cli, runner

def slow(work):
    @wraps(work)
    def worked(path, *args, **kwargs):
        time.sleep(0.35 * (path.parent.name == "slow"))
        if path.stem in ("long", "stubborn"):
            Path("begun").touch()
            try:
                time.sleep(600)
            except BaseException:
                if path.stem == "long":
                    raise
                Path("heard").touch()
                time.sleep(600)
        return work(path, *args, **kwargs)
    return worked

runner.lint_file = slow(runner.lint_file)
runner.repair_file = slow(runner.repair_file)
cli.main(prog_name="matready")
"""


def _write(folder: Path, *names: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name in names:
        (folder / f"{name}.svg").write_text(GAP, "utf-8")
    return folder


WINGS = tuple(f"a{i}" for i in range(10))
AFTER = tuple(f"z{i}" for i in range(10))


@contextmanager
def _started(folder: Path, *args: str, stderr: int = subprocess.PIPE) -> Iterator[Any]:
    process = subprocess.Popen(
        [sys.executable, "-c", ENTRY, *args],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=stderr,
        text=True,
        start_new_session=True,  # so that an interrupt reaches every process, as from a keyboard
    )
    try:
        yield process
        # Nothing that the program started outlives it, but for the moment that ending takes.
        _wait_until(lambda: not _is_there(process.pid))
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()


def _is_there(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def _wait_until(so: Callable[[], bool]) -> None:
    end = time.monotonic() + DEADLINE_S
    while not so():
        assert time.monotonic() < end
        time.sleep(0.01)


def _wait_for(path: Path, process: subprocess.Popen[str]) -> None:
    _wait_until(lambda: path.exists() or process.poll() is not None)
    assert path.exists(), process.communicate()


def _interrupted(folder: Path, *args: str) -> tuple[str, str]:
    """Standard output and error of a run that is interrupted where the endless file is begun."""
    with _started(folder, *args) as process:
        _wait_for(folder / "begun", process)
        os.killpg(process.pid, signal.SIGINT)
        stdout, stderr = process.communicate(timeout=DEADLINE_S)
        assert process.returncode == 128 + signal.SIGINT
    return stdout, stderr


def _count(stderr: str, rest: str) -> int:
    """How many of the 21 files the one line on standard error says are done."""
    said = re.fullmatch(
        rf"matready: stopped after (\d+) of 21 files; the rest was {rest}\n", stderr
    )
    assert said, stderr
    return int(said[1])


# Ctrl-C, in real processes


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_an_interrupted_lint_reports_what_was_checked(tmp_path: Path, jobs: str) -> None:
    _write(tmp_path / "set", *WINGS, "long", *AFTER)
    stdout, stderr = _interrupted(tmp_path, "lint", "set", "--format", "json", "--jobs", jobs)
    report = json.loads(stdout)
    done = _count(stderr, "not checked, nor was the set as a whole")
    # With two workers the endless file came among the second eight, the first may be under way.
    assert done == 10 if jobs == "1" else done in (0, 8)
    names = [Path(file["path"]).stem for file in report["files"]]
    assert names == [*WINGS][:done]
    assert (report["set"], report["totals"]["fault"]) == ([], done)


def test_an_interrupted_fix_reports_what_was_written(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", *WINGS, "long", *AFTER)
    asked = ("fix", "set", "--in-place", "--format", "json", "--jobs", "2")
    stdout, stderr = _interrupted(tmp_path, *asked)
    written = [Path(file["written"]).name for file in json.loads(stdout)["files"]]
    changed = [path.name for path in sorted(folder.iterdir()) if path.read_text() != GAP]
    assert changed == written
    assert len(written) == _count(stderr, "not fixed")
    assert len(written) in (0, 8)
    # Whole files only: each is as a run that is left alone writes it, and nothing lies beside them.
    whole = _write(tmp_path / "whole", "door")
    assert CliRunner().invoke(main, ["fix", str(whole), "--in-place"]).exit_code == 0
    new = (whole / "door.svg").read_text()
    assert {path.read_text() for path in folder.iterdir()} <= {GAP, new}
    assert len(list(folder.iterdir())) == 21


def test_a_second_interrupt_does_not_wait_for_the_work_in_hand(tmp_path: Path) -> None:
    _write(tmp_path / "set", *WINGS, "stubborn", *AFTER)
    with _started(tmp_path, "lint", "set", "--format", "json", "--jobs", "2") as process:
        for mark in ("begun", "heard"):
            _wait_for(tmp_path / mark, process)
            os.killpg(process.pid, signal.SIGINT)
        stdout, stderr = process.communicate(timeout=DEADLINE_S)
        assert process.returncode == 128 + signal.SIGINT
    done = _count(stderr, "not checked, nor was the set as a whole")
    assert json.loads(stdout)["totals"]["files"] == done


@pytest.mark.parametrize(
    ("command", "end"), [("lint", signal.SIGKILL), ("fix", signal.SIGTERM)], ids=["lint", "fix"]
)
def test_a_worker_that_is_ended_from_outside_costs_no_traceback(
    tmp_path: Path, command: str, end: signal.Signals
) -> None:
    """As where memory runs out, and the system ends what has most of it."""
    _write(tmp_path / "set", *WINGS, "long", *AFTER)
    more = {"lint": [], "fix": ["--in-place"]}[command]
    asked = (command, "set", "--format", "json", "--jobs", "2", *more)
    with _started(tmp_path, *asked) as process:
        _wait_for(tmp_path / "begun", process)
        workers = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        for worker in workers:
            os.kill(int(worker), end)
        stdout, stderr = process.communicate(timeout=DEADLINE_S)
        assert process.returncode == 2
    stopped, lost = stderr.splitlines()
    rest = {"lint": "not checked, nor was the set as a whole", "fix": "not fixed"}[command]
    assert json.loads(stdout)["totals"]["files"] == _count(f"{stopped}\n", rest)
    assert "run this again with --jobs 1" in lost


def test_workers_end_when_the_process_that_reports_is_killed(tmp_path: Path) -> None:
    _write(tmp_path / "set", *WINGS, "long", *AFTER)
    with _started(tmp_path, "lint", "set", "--jobs", "2") as process:
        _wait_for(tmp_path / "begun", process)
        process.kill()
        # They hold standard output too, so this comes back only once they are gone.
        assert process.communicate(timeout=DEADLINE_S) == ("", "")


# Ctrl-C, moment by moment


def _run(*args: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(arg) for arg in args], prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def _interrupt_at(monkeypatch: pytest.MonkeyPatch, work: str, at: int) -> None:
    """Interrupt the work on file number `at`, counted from 0."""
    plain = getattr(runner, work)
    count = iter(range(99))

    def interrupted(*args: Any, **kwargs: Any) -> Any:
        if next(count) == at:
            raise KeyboardInterrupt
        return plain(*args, **kwargs)

    monkeypatch.setattr(runner, work, interrupted)


def test_people_read_what_was_found_and_then_that_it_is_not_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write(tmp_path, "a", "b", "c")
    # They are one drawing thrice; but what a set lacks is known only once all of it was checked.
    assert "repeat-file" in _run("lint", tmp_path).stdout
    _interrupt_at(monkeypatch, "lint_file", 2)
    result = _run("lint", tmp_path)
    assert result.exit_code == 130
    assert "2 files read: 2 faults." in result.stdout
    assert "repeat-file" not in result.stdout
    assert result.stderr == (
        "matready: stopped after 2 of 3 files; "
        "the rest was not checked, nor was the set as a whole\n"
    )


@COMMANDS
def test_before_the_first_file_is_done_json_is_empty_and_valid(
    tmp_path: Path, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    work, more = {"lint": ("lint_file", []), "fix": ("repair_file", ["--in-place"])}[command]
    _interrupt_at(monkeypatch, work, 0)
    result = _run(command, _write(tmp_path, "a"), "--format", "json", *more)
    assert result.exit_code == 130
    report = json.loads(result.stdout)
    assert (report["files"], report["totals"]["files"]) == ([], 0)
    assert "stopped after 0 of 1 file; the rest was not" in result.stderr


def test_while_sets_are_asked_the_files_are_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_args: Any) -> Any:
        raise KeyboardInterrupt

    monkeypatch.setattr(sets, "_ask", interrupted)
    result = _run("lint", _write(tmp_path, "a", "b"))
    assert result.exit_code == 130
    assert "2 files read: 2 faults." in result.stdout
    assert "stopped after 2 of 2 files" in result.stderr


def test_people_read_what_was_fixed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _interrupt_at(monkeypatch, "repair_file", 2)
    result = _run("fix", _write(tmp_path, "a", "b", "c"), "--in-place")
    assert result.exit_code == 130
    assert "2 files done: 2 findings fixed in 2 files" in result.stdout
    assert result.stderr == "matready: stopped after 2 of 3 files; the rest was not fixed\n"
    assert [path.read_text() == GAP for path in sorted(tmp_path.iterdir())] == [False, False, True]


def test_an_interrupt_of_the_report_ends_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_args: Any) -> Any:
        raise KeyboardInterrupt

    monkeypatch.setattr("matready.lint.cli_lint.whole_run", interrupted)
    result = _run("lint", _write(tmp_path, "a"))
    assert (result.exit_code, result.stdout) == (130, "")
    assert result.stderr == "matready: stopped at once, without a whole report\n"


@pytest.mark.parametrize("times", [1, 2])
def test_an_interrupt_waits_until_a_file_is_written_and_noted_but_a_second_one_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, times: int
) -> None:
    plain = os.fsync
    left = [times]

    def late(handle: int) -> None:
        plain(handle)
        while left[0]:
            left[0] -= 1
            os.kill(os.getpid(), signal.SIGINT)

    monkeypatch.setattr(os, "fsync", late)
    result = _run("fix", _write(tmp_path, "a", "b", "c"), "--in-place")
    monkeypatch.undo()
    assert result.exit_code == 130
    changed = [path.name for path in sorted(tmp_path.iterdir()) if path.read_text() != GAP]
    assert changed == ["a.svg"][: 2 - times]
    assert f"stopped after {len(changed)} of 3 files" in result.stderr
    assert not [path for path in tmp_path.iterdir() if writing.LEFTOVER.fullmatch(path.name)]


# On a terminal


@COMMANDS
def test_a_long_run_counts_its_files_on_a_terminal(tmp_path: Path, command: str) -> None:
    """On a pseudo-terminal, as the system makes them (POSIX, posix_openpt)."""
    _write(tmp_path / "slow", "a", "b", "c", "d", "e")
    ours, theirs = pty.openpty()
    more = {"lint": [], "fix": ["--dry-run", "--format", "json"]}[command]
    with _started(tmp_path, command, "slow", *more, stderr=theirs) as process:
        os.close(theirs)
        stdout, _ = process.communicate(timeout=DEADLINE_S)
        assert process.returncode == {"lint": 1, "fix": 0}[command]
    seen = _all_of(ours)
    word = {"lint": "checking", "fix": "fixing"}[command]
    # Not before a second has gone, so not for the first files; then file by file to a line's end.
    counts = [int(count) for count in re.findall(rf"{word} .*?(\d)/5", seen)]
    assert counts == [0, *range(counts[1], 6)]
    assert counts[1] > 1
    assert seen.endswith("\n")
    assert word not in stdout


def _all_of(terminal: int) -> str:
    seen = b""
    try:
        while part := os.read(terminal, 4096):
            seen += part
    except OSError:  # Linux: the other end is closed
        pass
    finally:
        os.close(terminal)
    return seen.decode()


def test_an_interrupt_after_the_end_does_not_take_the_place_of_the_status() -> None:
    # Python runs what was registered last first: the interrupt comes while it shuts down.
    text = (
        "import atexit, signal\n"
        "from matready.lint.console import leave\n"
        "atexit.register(signal.raise_signal, signal.SIGINT)\n"
        "leave(1)\n"
    )
    run = subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, check=False)
    assert (run.returncode, run.stderr) == (1, "")
