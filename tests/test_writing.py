"""Files are replaced whole or not at all, and copies go where they may and nowhere else."""

from __future__ import annotations

import errno
import os
import resource
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from matready.lint.folders import NO_SVG
from matready.lint.repair.targets import Claims, Job, find_jobs, reason_against
from matready.lint.repair.writing import (
    LEFTOVER,
    LEFTOVER_AFTER_S,
    NotWritten,
    digest,
    sweep,
    write_copy,
    write_in_place,
)

OLD = b"<svg><!-- the curtain as drawn --></svg>"
NEW = b"<svg><!-- the curtain as fixed --></svg>\r\n"


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    path = tmp_path / "curtain.svg"
    path.write_bytes(OLD)
    return path


def _in_place(path: Path) -> None:
    write_in_place(path, NEW, digest(OLD))


def _refused(write: Callable[[], object]) -> str:
    with pytest.raises(NotWritten) as refusal:
        write()
    text = str(refusal.value)
    assert "\n" not in text
    return text


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


# In place


def test_a_file_is_replaced_and_nothing_else_is_left(drawing: Path) -> None:
    _in_place(drawing)
    assert drawing.read_bytes() == NEW
    assert _names(drawing.parent) == ["curtain.svg"]


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_permission_bits_are_kept(drawing: Path, mode: int) -> None:
    drawing.chmod(mode)
    _in_place(drawing)
    assert stat.S_IMODE(drawing.stat().st_mode) == mode


def test_a_private_file_is_never_open_to_others(
    drawing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawing.chmod(0o600)
    seen: list[tuple[int, int]] = []
    plain = os.fsync

    def watch(handle: int) -> None:
        about = os.fstat(handle)
        if stat.S_ISREG(about.st_mode):
            seen.append((stat.S_IMODE(about.st_mode), about.st_size))
        plain(handle)

    monkeypatch.setattr(os, "fsync", watch)
    _in_place(drawing)
    assert seen == [(0o600, len(NEW))]


def test_owner_and_attributes_are_carried_over_where_the_system_has_them(
    drawing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    owners: list[tuple[int, int]] = []
    attributes: list[tuple[str, bytes]] = []

    def chown(path: Path, owner: int, group: int) -> None:
        owners.append((owner, group))

    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(os, "chown", chown, raising=False)
    monkeypatch.setattr(os, "listxattr", lambda path: ["user.one", "user.two"], raising=False)
    monkeypatch.setattr(os, "getxattr", lambda path, name: name.encode(), raising=False)

    def setxattr(path: Path, name: str, value: bytes) -> None:
        if name == "user.one":
            raise PermissionError
        attributes.append((name, value))

    monkeypatch.setattr(os, "setxattr", setxattr, raising=False)
    _in_place(drawing)
    assert owners[-1] == (drawing.stat().st_uid, drawing.stat().st_gid)
    assert attributes == [("user.two", b"user.two")]


def test_a_system_without_owners_attributes_and_folder_handles_will_do(
    drawing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # As on Windows, where a folder cannot be opened (docs.python.org, os: availability).
    monkeypatch.setattr(sys, "platform", "win32")
    for name in ("chown", "listxattr", "setxattr", "getxattr"):
        monkeypatch.delattr(os, name, raising=False)

    def no_folders(path: Any, *args: Any) -> int:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(os, "open", no_folders)
    _in_place(drawing)
    assert drawing.read_bytes() == NEW


def test_the_new_bytes_are_on_the_disk_before_they_take_the_place(
    drawing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # rename() replaces in one step (POSIX.1-2017, rename), but promises nothing of the contents.
    steps: list[str] = []
    sync, replace = os.fsync, os.replace

    def watched_sync(handle: int) -> None:
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        sync(handle)

    def watched_replace(*args: Any, **kwargs: Any) -> None:
        steps.append("replace")
        replace(*args, **kwargs)

    monkeypatch.setattr(os, "fsync", watched_sync)
    monkeypatch.setattr(os, "replace", watched_replace)
    _in_place(drawing)
    assert steps == ["file", "replace", "folder"]


def test_a_link_stays_a_link_and_its_file_is_replaced(drawing: Path) -> None:
    (drawing.parent / "shelf").mkdir()
    link = drawing.parent / "shelf" / "link.svg"
    link.symlink_to("../curtain.svg")
    _in_place(link)
    assert link.is_symlink()
    assert drawing.read_bytes() == NEW
    assert not drawing.is_symlink()


def test_a_hard_link_is_refused(drawing: Path) -> None:
    twin = drawing.with_name("twin.svg")
    twin.hardlink_to(drawing)
    assert "hard link" in _refused(lambda: _in_place(drawing))
    assert drawing.read_bytes() == twin.read_bytes() == OLD
    assert _names(drawing.parent) == ["curtain.svg", "twin.svg"]


def test_a_file_that_changed_since_it_was_read_is_refused(drawing: Path) -> None:
    about = drawing.stat()
    other = OLD.replace(b"drawn", b"DRAWN")
    drawing.write_bytes(other)
    os.utime(drawing, ns=(about.st_atime_ns, about.st_mtime_ns))  # of the same size and time
    assert "changed" in _refused(lambda: _in_place(drawing))
    assert drawing.read_bytes() == other
    assert _names(drawing.parent) == ["curtain.svg"]


def test_a_file_that_is_gone_or_that_became_a_folder_is_refused(drawing: Path) -> None:
    drawing.unlink()
    assert "moved away" in _refused(lambda: _in_place(drawing))
    drawing.mkdir()
    assert "in the way" in _refused(lambda: _in_place(drawing))
    drawing.rmdir()
    drawing.symlink_to(drawing.name)
    _refused(lambda: _in_place(drawing))


def test_a_read_only_file_is_refused_even_to_an_administrator(drawing: Path) -> None:
    drawing.chmod(0o444)
    assert "read-only" in _refused(lambda: _in_place(drawing))
    assert "read-only" in _refused(lambda: write_copy(drawing, NEW))
    assert drawing.read_bytes() == OLD


@contextmanager
def _as_an_ordinary_user() -> Iterator[None]:
    """Without an administrator's rights, to whom every folder is open."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)  # "nobody", by common practice
    try:
        yield
    finally:
        os.seteuid(0)


def test_a_folder_that_may_not_be_written_is_refused() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        drawing = folder / "curtain.svg"
        drawing.write_bytes(OLD)
        drawing.chmod(0o666)
        folder.chmod(0o555)
        try:
            with _as_an_ordinary_user():
                assert "may not write" in _refused(lambda: _in_place(drawing))
                assert "may not write" in _refused(lambda: write_copy(folder / "new.svg", NEW))
                assert "may not write" in _refused(lambda: write_copy(folder / "a/new.svg", NEW))
            assert (_names(folder), drawing.read_bytes()) == (["curtain.svg"], OLD)
        finally:
            folder.chmod(0o755)


@pytest.mark.parametrize("write", [write_copy, lambda path, data: write_in_place(path, data, b"")])
def test_a_disk_that_takes_no_more_leaves_the_old_file_and_nothing_else(
    drawing: Path, write: Callable[[Path, bytes], None]
) -> None:
    # A real refusal of the system: no file may grow beyond the limit (POSIX, RLIMIT_FSIZE).
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
    try:
        text = _refused(lambda: write(drawing, b"x" * 5000))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert text.startswith("it could not be written (")
    assert drawing.read_bytes() == OLD
    assert _names(drawing.parent) == ["curtain.svg"]


@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("error", [OSError(errno.EIO, "Input/output error"), KeyboardInterrupt()])
def test_whatever_breaks_leaves_the_old_file_and_nothing_else(
    drawing: Path, monkeypatch: pytest.MonkeyPatch, step: str, error: BaseException
) -> None:
    def breaks(*args: Any, **kwargs: Any) -> None:
        raise error

    monkeypatch.setattr(os, step, breaks)
    with pytest.raises((NotWritten, KeyboardInterrupt)):
        _in_place(drawing)
    assert drawing.read_bytes() == OLD
    assert _names(drawing.parent) == ["curtain.svg"]


# A child process for every line of Python that writing takes: it is killed when it comes to it.
_KILLED_AT_EACH_LINE = """
import os, signal, sys
from pathlib import Path
from matready.lint.repair import writing

how, folder = sys.argv[1], Path(sys.argv[2])
target = folder / "curtain.svg"
old, new = b"drawn" * 50_000, b"fixed!" * 50_000

def write():
    if how == "in place":
        writing.write_in_place(target, new, writing.digest(old))
    else:
        writing.write_copy(target, new)

def killed_at(line):
    count = 0
    def trace(frame, event, arg):
        nonlocal count
        count += event == "line"
        if count == line:
            os.kill(os.getpid(), signal.SIGKILL)
        return trace
    sys.settrace(trace)
    write()
    os._exit(0)

for line in range(1, 10_000):
    target.write_bytes(old)
    child = os.fork() or killed_at(line)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    there = target.read_bytes()
    if status == -signal.SIGKILL:
        print("old" if there == old else "new" if there == new else "BROKEN")
    else:
        print("done" if (status, there) == (0, new) else "BROKEN")
        break
"""


@pytest.mark.parametrize("how", ["in place", "copy"])
def test_killed_at_any_line_the_old_or_the_new_file_is_there_whole(
    tmp_path: Path, how: str
) -> None:
    result = subprocess.run(
        [sys.executable, "-c", _KILLED_AT_EACH_LINE, how, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
    )
    *killed, last = result.stdout.split()
    assert last == "done"
    # First the old one, from one line on the new one, and never anything else.
    assert killed == sorted(killed, reverse=True)
    assert killed.count("old") > 15
    assert killed.count("new") > 3
    left = {path.name for path in tmp_path.iterdir()} - {"curtain.svg"}
    assert left
    assert all(LEFTOVER.fullmatch(name) for name in left)


# Copies


def test_a_copy_makes_its_folders_and_has_the_usual_permissions(tmp_path: Path) -> None:
    target = tmp_path / "a" / "b" / "c.svg"
    write_copy(target, NEW)
    plain = tmp_path / "plain"
    plain.write_bytes(b"")
    assert target.read_bytes() == NEW
    assert target.stat().st_mode == plain.stat().st_mode
    assert _names(target.parent) == ["c.svg"]


def test_an_older_copy_is_replaced_and_keeps_its_permissions(drawing: Path) -> None:
    drawing.chmod(0o640)
    write_copy(drawing, NEW)
    assert drawing.read_bytes() == NEW
    assert stat.S_IMODE(drawing.stat().st_mode) == 0o640


def test_what_is_in_the_way_of_a_copy_is_not_replaced(drawing: Path) -> None:
    folder = drawing.parent / "wing.svg"
    folder.mkdir()
    assert "in the way" in _refused(lambda: write_copy(folder, NEW))
    assert "folder is needed" in _refused(lambda: write_copy(drawing / "wing.svg", NEW))
    pipe = drawing.parent / "pipe.svg"
    os.mkfifo(pipe)
    assert "in the way" in _refused(lambda: write_copy(pipe, NEW))
    assert _names(drawing.parent) == ["curtain.svg", "pipe.svg", "wing.svg"]


def test_a_name_that_no_system_takes_is_refused(tmp_path: Path) -> None:
    _refused(lambda: write_copy(tmp_path / ("a" * 5000), NEW))
    _refused(lambda: write_copy(tmp_path / "a\0b", NEW))
    assert _names(tmp_path) == []


def test_a_name_as_long_as_the_system_allows_can_be_written(tmp_path: Path) -> None:
    longest = os.pathconf(tmp_path, "PC_NAME_MAX")
    target = tmp_path / ("a" * (longest - 4) + ".svg")
    write_copy(target, OLD)
    _in_place(target)
    assert target.read_bytes() == NEW


def test_leftovers_are_cleared_once_no_run_can_need_them(tmp_path: Path) -> None:
    old, fresh, foreign = (
        tmp_path / name
        for name in (
            ".matready-0123456789abcdef.tmp",
            ".matready-fedcba9876543210.tmp",
            ".matready-notes.tmp",
        )
    )
    then = time.time() - LEFTOVER_AFTER_S - 60
    for path in (old, fresh, foreign):
        path.write_bytes(b"")
        if path is not fresh:
            os.utime(path, (then, then))
    sweep(tmp_path)
    sweep(tmp_path / "gone")
    assert _names(tmp_path) == [fresh.name, foreign.name]


def test_what_is_being_written_is_hidden_and_known_as_a_leftover(
    drawing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []
    monkeypatch.setattr(os, "fsync", lambda handle: seen.extend(_names(drawing.parent)))
    _in_place(drawing)
    (name,) = {name for name in seen if name != "curtain.svg"}
    assert name.startswith(".")
    assert LEFTOVER.fullmatch(name)


# Where copies go


def _make(top: Path, *names: str) -> None:
    for name in names:
        path = top / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(OLD)


def _targets(top: Path, *paths: str, out: str = "out") -> dict[str, str]:
    found = find_jobs([top / path for path in paths], top / out)
    assert found.refused == ()
    return {
        job.source.relative_to(top).as_posix(): job.target.relative_to(top).as_posix()
        for job in found.jobs
        if job.target
    }


def test_copies_keep_the_structure_below_each_path(tmp_path: Path) -> None:
    _make(tmp_path, "a/b/c.svg", "a/d.svgz", "e/f.svg", "g/h.svg", "g/i.svg")
    assert _targets(tmp_path, "a", "e", "g/h.svg") == {
        "a/b/c.svg": "out/b/c.svg",
        "a/d.svgz": "out/d.svgz",
        "e/f.svg": "out/f.svg",
        "g/h.svg": "out/h.svg",
    }


def test_a_folder_may_be_named_by_dots(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _make(tmp_path, "a/b/c.svg", "a/d.svg")
    monkeypatch.chdir(tmp_path / "a")
    out = Path("../out")
    for path in (Path(), Path("../a"), tmp_path / "a"):
        assert [job.target for job in find_jobs([path], out).jobs] == [
            out / "b" / "c.svg",
            out / "d.svg",
        ]


def test_a_file_met_twice_has_one_job(tmp_path: Path) -> None:
    _make(tmp_path, "a/b.svg", "a/c.svg")
    (tmp_path / "link").symlink_to("a")
    assert _targets(tmp_path, "a/b.svg", "a", "link") == {
        "a/b.svg": "out/b.svg",
        "a/c.svg": "out/c.svg",
    }


def test_earlier_copies_are_no_sources(tmp_path: Path) -> None:
    _make(tmp_path, "a/b.svg", "a/out/b.svg", "a/out/deep/c.svg")
    assert _targets(tmp_path, "a", out="a/out") == {"a/b.svg": "a/out/b.svg"}
    (tmp_path / "a" / "again").symlink_to("out")
    assert _targets(tmp_path, "a", out="a/out") == {"a/b.svg": "a/out/b.svg"}
    (tmp_path / "a" / "b.svg").unlink()
    found = find_jobs([tmp_path / "a"], tmp_path / "a" / "out")
    assert (found.jobs, found.refused) == ((), ((tmp_path / "a", NO_SVG),))


def test_a_folder_below_the_one_for_copies_is_read(tmp_path: Path) -> None:
    _make(tmp_path, "a/b/c.svg")
    assert _targets(tmp_path, "a/b", out="a") == {"a/b/c.svg": "a/c.svg"}


def test_what_leads_to_no_file_is_refused_as_in_a_lint(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert find_jobs([tmp_path / "empty"], None).refused == ((tmp_path / "empty", NO_SVG),)


def test_the_folder_for_copies_is_none_that_is_read_and_no_file(tmp_path: Path) -> None:
    _make(tmp_path, "a/b.svg")
    (tmp_path / "link").symlink_to("a")
    for out in ("a", "link", "a/../a"):
        assert "is the folder that is read" in str(reason_against(tmp_path / out, [tmp_path / "a"]))
    assert "is a file" in str(reason_against(tmp_path / "a" / "b.svg", []))
    (tmp_path / "nowhere").symlink_to("gone")
    assert reason_against(tmp_path / "nowhere", []) is not None
    assert reason_against(tmp_path / "new" / "folder", [tmp_path / "a"]) is None


def _claims(top: Path, *sources: str) -> Claims:
    return Claims(top / "out", [top / name for name in sources])


def _job(top: Path, source: str, target: str) -> Job:
    return Job(top / source, top / target)


def test_two_sources_do_not_get_one_name(tmp_path: Path) -> None:
    _make(tmp_path, "a/c.svg", "b/c.svg", "out/x")
    (tmp_path / "out" / "same").symlink_to(tmp_path / "out")
    claims = _claims(tmp_path, "a/c.svg", "b/c.svg")
    claims.claim(_job(tmp_path, "a/c.svg", "out/c.svg"))
    for target in ("out/c.svg", "out/same/c.svg"):
        text = _refused(partial(claims.claim, _job(tmp_path, "b/c.svg", target)))
        assert str(tmp_path / "a" / "c.svg") in text


def test_two_names_that_the_disk_takes_for_one_are_one(tmp_path: Path) -> None:
    # Two names with one file behind them: so "C.svg" and "c.svg" look where letter case is lost.
    _make(tmp_path, "a/C.svg", "b/c.svg")
    claims = _claims(tmp_path, "a/C.svg", "b/c.svg")
    first = _job(tmp_path, "a/C.svg", "out/C.svg")
    claims.claim(first)
    write_copy(tmp_path / "out" / "C.svg", NEW)
    claims.written(first)
    (tmp_path / "out" / "c.svg").hardlink_to(tmp_path / "out" / "C.svg")
    text = _refused(lambda: claims.claim(_job(tmp_path, "b/c.svg", "out/c.svg")))
    assert str(tmp_path / "a" / "C.svg") in text


@pytest.mark.parametrize("kind", ["the file", "hard link", "link"])
def test_no_source_is_overwritten(tmp_path: Path, kind: str) -> None:
    _make(tmp_path, "a/b.svg", "out/c.svg", "out/x")
    target = tmp_path / "out" / "c.svg"
    source = tmp_path / "a" / "b.svg"
    if kind == "the file":
        source = target
    else:
        target.unlink()
        if kind == "hard link":
            target.hardlink_to(source)
        else:
            source = tmp_path / "out" / "x"
            target.symlink_to("x")
    claims = Claims(tmp_path / "out", [source])
    text = _refused(lambda: claims.claim(Job(tmp_path / "a" / "b.svg", target)))
    assert f"the source {source}" in text


def test_no_copy_leaves_its_folder_by_a_link(tmp_path: Path) -> None:
    _make(tmp_path, "a/b.svg", "out/x", "away/y")
    (tmp_path / "out" / "folder").symlink_to(tmp_path / "away")
    (tmp_path / "out" / "file.svg").symlink_to(tmp_path / "away" / "y")
    (tmp_path / "out" / "nowhere.svg").symlink_to(tmp_path / "away" / "new.svg")
    (tmp_path / "out" / "up").symlink_to("..")
    (tmp_path / "away" / "back.svg").symlink_to(tmp_path / "out" / "x")
    claims = _claims(tmp_path, "a/b.svg")
    inside = ("file.svg", "nowhere.svg")
    for target in (*inside, "folder/b.svg", "folder/back.svg", "up/b.svg", "up/out2/b.svg"):
        text = _refused(partial(claims.claim, _job(tmp_path, "a/b.svg", f"out/{target}")))
        assert "leads out" in text


def test_the_folder_for_copies_may_be_a_link_itself(tmp_path: Path) -> None:
    _make(tmp_path, "a/b.svg", "away/y")
    (tmp_path / "out").symlink_to("away")
    _claims(tmp_path, "a/b.svg").claim(_job(tmp_path, "a/b.svg", "out/b.svg"))
