"""What earlier runs have written is not taken for the user's own, and the other way round."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from matready.lint import earlier
from matready.lint.cli import main
from matready.lint.earlier import RECORD, record_as_bytes, record_line, recorded_copies
from matready.lint.repair.record import CopyRecord
from matready.lint.repair.writing import NotWritten

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
CUT = 'fill="none" stroke="#000"'
# The door's own ends stop 0.2 mm short of each other: a fault, and one that has a fix.
GAP = f'{HEAD}<path id="door" d="M10 10h30v40h-30v-39.8" {CUT}/></svg>\n'
WALL = f'{HEAD}<rect id="wall" x="10" y="10" width="60" height="50" {CUT}/></svg>\n'
MOON = f'{HEAD}<circle id="moon" cx="50" cy="50" r="20" {CUT}/></svg>\n'


def _run(*args: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(arg) for arg in args], prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of two drawings, which is the one to work in."""
    _write(tmp_path, "door", GAP)
    _write(tmp_path, "wall", WALL)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _write(folder: Path, name: str, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.svg"
    path.write_text(text, "utf-8")
    return path


def _fix(*more: str) -> Result:
    return _run("fix", ".", "--out", "fixed", *more)


# Copies over the user's own drawings


def _drawn_there(folder: Path) -> None:
    _write(folder / "fixed", "door", MOON)


def _edited_after_a_run(folder: Path) -> None:
    assert _fix().exit_code == 0
    copy = folder / "fixed" / "door.svg"
    copy.write_text(copy.read_text().replace("door", "gate"))


@pytest.mark.parametrize("before", [_drawn_there, _edited_after_a_run])
def test_a_drawing_of_the_users_own_is_kept_and_the_others_are_done(
    folder: Path, before: Callable[[Path], None]
) -> None:
    before(folder)
    own = (folder / "fixed" / "door.svg").read_text()
    _write(folder, "wall", WALL.replace("60", "61"))
    for more in (["--dry-run"], ["--format", "json"], []):
        files = {path: path.read_bytes() for path in folder.rglob("*.svg")}
        result = _fix(*more)
        assert result.exit_code == 2
        refused = [line for line in result.stderr.splitlines() if ": not written: " in line]
        path = Path("fixed", "door.svg")
        assert len(refused) == 1
        assert refused[0].startswith(f"door.svg: not written: {path} is no copy of an earlier fix")
        if "--dry-run" in more:
            assert {path: path.read_bytes() for path in folder.rglob("*.svg")} == files
        else:
            assert (folder / "fixed" / "wall.svg").read_bytes() == files[folder / "wall.svg"]
        assert (folder / "fixed" / "door.svg").read_text() == own
        if "json" in more:
            (unwritten,) = json.loads(result.stdout)["unwritten"]
            assert unwritten["path"] == "door.svg"


def test_copies_follow_their_drawings_without_a_question(folder: Path) -> None:
    for width in (60, 61, 62):
        _write(folder, "wall", WALL.replace("60", str(width)))
        result = _fix()
        assert (result.exit_code, result.stderr) == (0, "")
        assert f'width="{width}"' in (folder / "fixed" / "wall.svg").read_text()
    copies = recorded_copies(folder / "fixed")
    assert copies == {
        name: {hashlib.sha256((folder / "fixed" / name).read_bytes()).hexdigest()}
        for name in ("door.svg", "wall.svg")
    }
    before = (folder / "fixed" / RECORD).stat()
    assert _fix().exit_code == 0
    assert (folder / "fixed" / RECORD).stat() == before, "there was nothing new to record"


def test_what_is_just_what_would_be_written_is_no_reason_to_refuse(folder: Path) -> None:
    _write(folder / "fixed", "wall", WALL)
    assert _fix().exit_code == 0


def test_a_copy_that_cannot_be_replaced_is_still_known_when_it_can(folder: Path) -> None:
    assert _fix().exit_code == 0
    copy = folder / "fixed" / "wall.svg"
    copy.chmod(0o444)
    for width, mode, status in ((61, 0o444, 2), (62, 0o644, 0)):
        copy.chmod(mode)
        _write(folder, "wall", WALL.replace("60", str(width)))
        assert _fix().exit_code == status
    assert 'width="62"' in copy.read_text()


def test_a_folder_of_copies_may_be_filled_in_several_runs(folder: Path) -> None:
    for name in ("door.svg", "wall.svg", "door.svg"):
        assert _run("fix", name, "--out", "fixed").exit_code == 0
    assert set(recorded_copies(folder / "fixed") or ()) == {"door.svg", "wall.svg"}
    _write(folder, "door", GAP.replace("door", "gate"))
    assert _fix().exit_code == 0


# The record


def _refuses(out: Path, name: str = "door.svg") -> bool:
    try:
        CopyRecord(out).check(out / name, b"other")
    except NotWritten:
        return True
    return False


def test_a_copy_is_recorded_by_the_sum_that_the_standard_gives(tmp_path: Path) -> None:
    CopyRecord(tmp_path).write(tmp_path / "a.svg", b"abc")
    # The example of FIPS 180-4 for SHA-256 (NIST, one-block message "abc").
    sum_ = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert recorded_copies(tmp_path) == {"a.svg": {sum_}}
    assert not _refuses(tmp_path, "a.svg")
    (tmp_path / "A.SVG").write_bytes(b"abc")  # for disks that take both for one
    assert not _refuses(tmp_path, "A.SVG")
    (tmp_path / "b.svg").write_bytes(b"abc")
    assert _refuses(tmp_path, "b.svg")


_GOOD = record_line("door.svg", hashlib.sha256(b"abc").hexdigest())
_HEAD = record_as_bytes({})


@pytest.mark.parametrize(
    ("data", "known"),
    [
        (_HEAD + _GOOD, True),
        (_HEAD + b"\n" + _GOOD.rstrip(), True),
        (_HEAD + b'{"name": "do\n' + _GOOD, True),
        (_HEAD + b"[" * 100_000 + b"\n7\n[]\n\xff\n" + _GOOD, True),
        (_HEAD + b'{"name": 7, "sha256": []}\n{"name": []}\n' + _GOOD, True),
        (_GOOD, False),
        (_HEAD.replace(b"copies-1", b"copies-2") + _GOOD, False),
        (b"the moon\n" + _GOOD, False),
        (b"\xff" + _HEAD + _GOOD, False),
        (b"", False),
    ],
)
def test_a_faulty_record_knows_what_can_be_read_and_no_more(
    tmp_path: Path, data: bytes, known: bool
) -> None:
    (tmp_path / "door.svg").write_bytes(b"abc")
    (tmp_path / RECORD).write_bytes(data)
    assert _refuses(tmp_path) is not known
    CopyRecord(tmp_path).write(tmp_path / "new.svg", b"new")
    assert not _refuses(tmp_path, "new.svg")
    assert _refuses(tmp_path) is not known


def test_what_is_no_file_or_too_large_is_no_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for make in (os.mkfifo, os.mkdir):  # to read a pipe would never end
        make(tmp_path / RECORD)
        assert recorded_copies(tmp_path) is None
        with pytest.raises(NotWritten):
            CopyRecord(tmp_path).write(tmp_path / "door.svg", b"abc")
        assert not (tmp_path / "door.svg").exists(), "no copy that the next run would not know"
        (tmp_path / RECORD).rename(tmp_path / make.__name__)
    (tmp_path / RECORD).write_bytes(_HEAD + _GOOD)
    assert recorded_copies(tmp_path)
    monkeypatch.setattr(earlier, "_LARGEST", 50)
    assert recorded_copies(tmp_path) is None


@settings(max_examples=30)
@given(st.dictionaries(st.text(), st.sets(st.text(), min_size=1)))
def test_a_record_is_read_as_it_was_written(copies: dict[str, set[str]]) -> None:
    first, *lines = record_as_bytes(copies).splitlines()
    pairs = [(line["name"], line["sha256"]) for line in map(json.loads, lines)]  # RFC 8259
    assert json.loads(first) == {"schema": "matready/copies-1"}
    assert sorted(pairs) == sorted((name, one) for name in copies for one in copies[name])
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, RECORD).write_bytes(record_as_bytes(copies))
        assert recorded_copies(Path(folder)) == copies


# A child process for every line of Python that a run's writing takes: killed when it comes to it.
_KILLED_AT_EACH_LINE = """
import os, signal, sys
from pathlib import Path
from matready.lint.repair.record import CopyRecord
from matready.lint.repair.writing import NotWritten

out = Path(sys.argv[1])
door, wall, own = (out / f"{name}.svg" for name in ("door", "wall", "moon"))

os.fsync = lambda handle: None  # a kill takes nothing from what the system has been given

def killed_at(line):
    count = 0
    def trace(frame, event, arg):
        nonlocal count
        if "/lint/" not in frame.f_code.co_filename:
            return None
        count += event == "line"
        if count == line:
            os.kill(os.getpid(), signal.SIGKILL)
        return trace
    sys.settrace(trace)
    record = CopyRecord(out)
    for target in (door, wall):
        data = b"copy %d" % line
        record.check(target, data)
        record.write(target, data)
    record.finish()
    os._exit(0)

def refused(target):
    try:
        CopyRecord(out).check(target, b"new")
    except NotWritten:
        return True
    return False

own.write_bytes(b"drawn")
for line in range(1, 10_000):
    if line % 7 == 0:
        for path in out.iterdir():  # also from the first copy on
            if path != own:
                path.unlink()
    status = os.waitstatus_to_exitcode(os.waitpid(os.fork() or killed_at(line), 0)[1])
    if status not in (0, -signal.SIGKILL) or refused(door) or refused(wall) or not refused(own):
        print("BROKEN at", line)
        break
    if status == 0:
        print("done after", line)
        break
"""


def test_killed_at_any_line_a_run_leaves_no_copy_that_the_next_one_refuses(tmp_path: Path) -> None:
    asked = [sys.executable, "-c", _KILLED_AT_EACH_LINE, str(tmp_path)]
    result = subprocess.run(asked, capture_output=True, text=True, check=True)
    done, after, lines = result.stdout.split()
    assert (done, after) == ("done", "after")
    assert int(lines) > 100
