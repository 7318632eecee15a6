"""`matready fix` as a user and a script meet it: what is written, said, and left alone."""

from __future__ import annotations

import gzip
import json
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from matready.lint import repair as repair_package
from matready.lint.cli import main
from matready.lint.repair import writing
from matready.lint.results import (
    FindingRecord,
    FixedRecord,
    MeasuredRecord,
    NotFixedRecord,
    Repaired,
)
from matready.lint.rule import Rule
from matready.lint.settings import Settings
from matready.lint.source import read_source

HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">\n'
)
RECT = '<rect id="door" x="10" y="10" width="30" height="40" fill="none" stroke="#000"/>\n'
CLEAN = f"{HEAD}{RECT}</svg>\n"
# The door's own ends stop 0.2 mm short of each other: more than joins, less than a hairline.
GAP = f'{HEAD}<path id="door" d="M10 10h30v40h-30v-39.8" fill="none" stroke="#000"/>\n</svg>\n'
# A strip of 0.4 mm is too narrow for a blade, and no fix is known for that.
NARROW = (
    f'{HEAD}<rect id="rod" x="10" y="10" width="0.4" height="40" fill="none" stroke="#000"/></svg>'
)

ENTRY = [sys.executable, "-c", "from matready.lint.cli import main; main(prog_name='matready')"]


def _run(*args: str | Path, stdin: str | None = None) -> Result:
    result = CliRunner().invoke(main, ["fix", *map(str, args)], input=stdin, prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def _write(folder: Path, **drawings: str | bytes) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in drawings.items():
        data = text.encode() if isinstance(text, str) else text
        (folder / f"{name}.svg").write_bytes(data)
    return folder


def _state(*tops: Path) -> dict[Path, tuple[bytes, int, int]]:
    """Everything that a write would change about the files below."""
    files = [path for top in tops for path in top.rglob("*") if path.is_file()]
    return {
        path: (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ino) for path in files
    }


def _drawings(top: Path) -> list[str]:
    return sorted(path.relative_to(top).as_posix() for path in top.rglob("*.svg"))


def _linted(path: Path) -> list[str]:
    result = CliRunner().invoke(main, ["lint", str(path), "--format", "json"])
    (file,) = json.loads(result.stdout)["files"]
    return [finding["rule"] for finding in file["findings"]]


# Where the result goes


def test_copies_are_fixed_and_sources_are_only_read(tmp_path: Path) -> None:
    _write(tmp_path / "set" / "wings", door=GAP)
    _write(tmp_path / "set", wall=CLEAN)
    before = _state(tmp_path / "set")
    result = _run(tmp_path / "set", "--out", tmp_path / "out")
    assert (result.exit_code, result.stderr) == (0, "")
    assert _state(tmp_path / "set") == before
    assert _drawings(tmp_path / "out") == ["wall.svg", "wings/door.svg"]
    assert (tmp_path / "out" / "wall.svg").read_bytes() == CLEAN.encode()
    assert _linted(tmp_path / "set" / "wings" / "door.svg") == ["hairline-gap"]
    assert _linted(tmp_path / "out" / "wings" / "door.svg") == []


def test_in_place_only_what_changed_is_written(tmp_path: Path) -> None:
    _write(tmp_path, door=GAP, wall=CLEAN)
    before = _state(tmp_path)
    assert _run(tmp_path, "--in-place").exit_code == 0
    after = _state(tmp_path)
    assert after[tmp_path / "wall.svg"] == before[tmp_path / "wall.svg"]
    assert after[tmp_path / "door.svg"][0] != before[tmp_path / "door.svg"][0]
    assert _linted(tmp_path / "door.svg") == []
    again = _run(tmp_path, "--in-place")
    assert again.exit_code == 0
    assert "nothing to fix" in again.stdout
    assert _state(tmp_path) == after


def test_a_second_run_over_the_copies_gives_the_same_bytes(tmp_path: Path) -> None:
    _write(tmp_path / "set", door=GAP)
    for _ in range(2):  # the second one replaces an older copy
        assert _run(tmp_path / "set", "--out", tmp_path / "one").exit_code == 0
    assert _run(tmp_path / "one", "--out", tmp_path / "two").exit_code == 0
    one, two = ((tmp_path / out / "door.svg").read_bytes() for out in ("one", "two"))
    assert one == two != GAP.encode()


def test_copies_inside_the_folder_that_is_read_are_not_read(tmp_path: Path) -> None:
    _write(tmp_path, door=GAP)
    for _ in range(2):
        result = _run(tmp_path, "--out", tmp_path / "fixed")
        assert result.exit_code == 0
        assert "1 file done" in result.stdout
    assert _drawings(tmp_path) == ["door.svg", "fixed/door.svg"]


def test_packed_drawings_stay_packed_and_untouched_ones_byte_for_byte(tmp_path: Path) -> None:
    packed = {
        "door.svgz": gzip.compress(GAP.encode()),
        "wall.svgz": gzip.compress(CLEAN.encode(), 1),
    }
    for name, data in packed.items():
        (tmp_path / name).write_bytes(data)
    assert _run(tmp_path, "--out", tmp_path / "out").exit_code == 0
    assert (tmp_path / "out" / "wall.svgz").read_bytes() == packed["wall.svgz"]
    fixed = (tmp_path / "out" / "door.svgz").read_bytes()
    assert fixed[:2] == b"\x1f\x8b"  # RFC 1952, 2.3.1
    assert gzip.decompress(fixed) != GAP.encode()


def test_the_kind_of_text_is_kept(tmp_path: Path) -> None:
    crlf = GAP.replace("\n", "\r\n")
    texts = {
        "utf16": crlf.encode("utf-16"),
        "bom": crlf.encode("utf-8-sig"),
        "latin": (
            '<?xml version="1.0" encoding="ISO-8859-1"?>\n' + GAP.replace("door", "Türe")
        ).encode("latin-1"),
    }
    codecs = {"utf16": "utf-16", "bom": "utf-8-sig", "latin": "latin-1"}
    _write(tmp_path, **texts)
    assert _run(tmp_path, "--in-place").exit_code == 0
    for name, codec in codecs.items():
        data = (tmp_path / f"{name}.svg").read_bytes()
        assert data != texts[name]
        assert data[:2] == texts[name][:2]
        lines, old = (d.decode(codec).split("\n") for d in (data, texts[name]))
        assert [a for a, b in zip(lines, old, strict=True) if a != b] == [
            line for line in lines if "<path" in line
        ]


def test_the_demo_set_is_fixed_once_and_for_all(tmp_path: Path, root: Path) -> None:
    demo = root / "fixtures" / "puppet-theatre"
    before = _state(demo)
    first = _run(demo, "--out", tmp_path / "one", "--format", "json")
    second = _run(tmp_path / "one", "--out", tmp_path / "two", "--format", "json")
    assert _state(demo) == before
    report, again = json.loads(first.stdout), json.loads(second.stdout)
    assert report["totals"]["fixed"] > 0
    assert (again["totals"]["changed"], again["totals"]["fixed"]) == (0, 0)
    for file in report["files"]:
        one, two = (
            (tmp_path / out / Path(file["path"]).name).read_bytes() for out in ("one", "two")
        )
        assert one == two
        assert (one == Path(file["path"]).read_bytes()) is not file["changed"]
        rules = [finding["rule"] for finding in file["left"]]
        rules += [each["finding"]["rule"] for each in file["not_fixed"]]
        assert sorted(_linted(Path(file["written"]))) == sorted(rules)


@pytest.mark.parametrize("how", [["--in-place"], ["--dry-run"]])
def test_hostile_files_are_refused_or_done_and_never_break_anything(
    tmp_path: Path, root: Path, how: list[str]
) -> None:
    for path in (root / "fixtures" / "hostile").iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    before = _state(tmp_path)
    result = _run(tmp_path, *how)
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert "the program broke" not in result.output
    refused = re.findall(r"^(.+): not read: .+$", result.stderr, re.MULTILINE)
    assert len(refused) > 10
    after = _state(tmp_path)
    assert {name: after[Path(name)] for name in refused} == {
        name: before[Path(name)] for name in refused
    }


# A dry run


def _apply(diff: str, old: str) -> str:
    """Apply a unified diff, as POSIX (utility diff, "Diff -u Output Format") defines it."""
    lines = old.splitlines(keepends=True)
    new: list[str] = []
    at = 0
    body = [line for line in re.findall(r"[^\n]*\n", diff) if not line.startswith(("---", "+++"))]
    for index, line in enumerate(body):
        bare = index + 1 < len(body) and body[index + 1].startswith("\\")
        text = line[1:-1] if bare else line[1:]
        if line.startswith("@@"):
            found = re.match(r"@@ -(\d+)(?:,(\d+))? ", line)
            assert found
            start = int(found[1]) - (found[2] != "0")
            new += lines[at:start]
            at = start
        elif line[0] in " -":
            assert lines[at] == text
            at += 1
        if line[0] in " +":
            new.append(text)
    return "".join([*new, *lines[at:]])


@pytest.mark.parametrize("where", [[], ["--out"], ["--in-place"]])
def test_a_dry_run_prints_a_diff_and_writes_nothing(tmp_path: Path, where: list[str]) -> None:
    _write(tmp_path / "set", door=GAP, wall=CLEAN)
    before = _state(tmp_path)
    to = [*where, tmp_path / "out"] if where == ["--out"] else where
    result = _run(tmp_path / "set", "--dry-run", *to)
    assert result.exit_code == 0
    assert _state(tmp_path) == before
    assert [path.name for path in tmp_path.iterdir()] == ["set"]
    name = str(tmp_path / "set" / "door.svg").lstrip("/")
    assert result.stdout.startswith(f"--- a/{name}\n+++ b/{name}\n@@ ")
    assert "wall" not in result.stdout
    assert "nothing was written" in result.stderr
    assert "Test-cut first" in " ".join(result.stderr.split())
    assert _run(tmp_path / "set", "--out", tmp_path / "out").exit_code == 0
    assert _apply(result.stdout, GAP).encode() == (tmp_path / "out" / "door.svg").read_bytes()


def test_a_diff_shows_the_text_of_packed_and_of_other_encodings(tmp_path: Path) -> None:
    named = GAP.replace("door", "Türe")
    (tmp_path / "door.svgz").write_bytes(gzip.compress(named.encode("utf-16")))
    result = _run(tmp_path / "door.svgz", "--dry-run")
    assert '-<path id="Türe"' in result.stdout


def test_a_diff_shows_where_the_last_line_has_no_end(tmp_path: Path) -> None:
    text = GAP.replace("\n", " ")
    _write(tmp_path, door=text)
    diff = _run(tmp_path, "--dry-run").stdout
    assert diff.count("\n\\ No newline at end of file\n") == 2
    _run(tmp_path, "--in-place")
    assert _apply(diff, text).encode() == (tmp_path / "door.svg").read_bytes()


def test_a_dry_run_may_give_json_instead_of_the_diff(tmp_path: Path) -> None:
    _write(tmp_path, door=GAP)
    result = _run(tmp_path, "--dry-run", "--format", "json")
    (file,) = json.loads(result.stdout)["files"]
    assert (file["changed"], file["written"], len(file["fixed"])) == (True, None, 1)
    assert _state(tmp_path)[tmp_path / "door.svg"][0] == GAP.encode()


def test_a_dry_run_does_not_say_that_anything_was_fixed(tmp_path: Path) -> None:
    result = _run(_write(tmp_path, door=GAP), "--dry-run")
    assert "  to fix     hairline-gap  line 2 of the file" in result.stderr
    assert "1 finding can be fixed in 1 file; nothing was written." in result.stderr
    assert "in a copy: " in result.stderr
    tiny = GAP.replace("</svg>", '<circle cx="95" cy="95" r="1" fill="none" stroke="#000"/></svg>')
    result = _run(_write(tmp_path, door=tiny), "--dry-run")
    assert "of the copy as it would be, at 95.0, 95.0 mm" in " ".join(result.stderr.split())


# Wrong use


def _sentence(result: Result) -> str:
    """The one line on standard error."""
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1
    return result.stderr


def test_wrong_use_is_one_sentence(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", door=GAP)
    before = _state(tmp_path)
    assert "nothing to fix" in _sentence(_run("--in-place"))
    for args in (["--out", str(tmp_path / "out"), "--in-place"], []):
        text = _sentence(_run(folder, *args))
        assert "--out" in text
        assert "--in-place" in text
    both: list[str | Path] = [folder, "--dry-run", "--out", tmp_path / "out", "--in-place"]
    assert "choose one" in _sentence(_run(*both))
    assert "standard input" in _sentence(_run("-", "--in-place", stdin=GAP))
    assert "is the folder that is read" in _sentence(_run(folder, "--out", folder))
    assert "is a file" in _sentence(_run(folder, "--out", folder / "door.svg"))
    assert "name of a drawing" in _sentence(_run(folder, "--out", tmp_path / "new-door.svg"))
    assert not (tmp_path / "new-door.svg").exists()
    assert '"double-cut"' in _sentence(_run(folder, "--in-place", "--rule", "doublecut"))
    assert "--mat" in _sentence(_run(folder, "--in-place", "--mat", "A4ish"))
    assert "gone.toml" in _sentence(_run(folder, "--in-place", "--config", tmp_path / "gone.toml"))
    assert _state(tmp_path) == before
    (tmp_path / "matready.toml").write_text("mat = 3\n")
    assert "matready.toml: mat must be" in _sentence(_run(folder, "--in-place"))
    assert (folder / "door.svg").read_bytes() == GAP.encode()


def test_wrong_options_are_2_without_a_traceback() -> None:
    for args in (["--format", "yaml", "x"], ["--jobs", "0", "x"], ["--fail-on", "fault", "x"]):
        result = _run(*args)
        assert (result.exit_code, result.stdout) == (2, "")
        assert re.fullmatch(r"matready: .+\n", result.stderr)


def test_rules_that_are_not_asked_for_are_not_fixed(tmp_path: Path) -> None:
    _write(tmp_path, door=GAP)
    for options in (["--skip", "hairline-gap"], ["--rule", "double-cut"]):
        result = _run(tmp_path, "--in-place", *options)
        assert result.exit_code == 0
        assert (tmp_path / "door.svg").read_bytes() == GAP.encode()
    assert _run(tmp_path, "--in-place", "--rule", "hairline-gap").exit_code == 0
    assert (tmp_path / "door.svg").read_bytes() != GAP.encode()


# What cannot be read or written


def test_a_file_that_cannot_be_read_is_2_and_the_others_are_done(tmp_path: Path) -> None:
    _write(tmp_path / "set", arch="", door=GAP)
    result = _run(tmp_path / "set", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert re.fullmatch(r"\S*arch\.svg: not read: .+\n", result.stderr)
    assert _drawings(tmp_path / "out") == ["door.svg"]
    assert "1 not read" in result.stdout


def test_a_file_that_cannot_be_written_is_2_and_the_others_are_done(tmp_path: Path) -> None:
    _write(tmp_path, arch=GAP, door=GAP, wing=GAP, yard=CLEAN)
    (tmp_path / "arch.svg").chmod(0o444)
    (tmp_path / "yard.svg").chmod(0o444)  # nothing to change there, so nothing to refuse
    (tmp_path / "wing").hardlink_to(tmp_path / "wing.svg")
    result = _run(tmp_path, "--in-place")
    assert result.exit_code == 2
    first, second = result.stderr.splitlines()
    assert re.fullmatch(r"\S*arch\.svg: not written: the file there is read-only.+", first)
    assert re.fullmatch(r"\S*wing\.svg: not written: .*hard link.+", second)
    assert "fixed in 1 file; 2 not written" in " ".join(result.stdout.split())
    assert (tmp_path / "arch.svg").read_bytes() == (tmp_path / "wing.svg").read_bytes()
    assert (tmp_path / "arch.svg").read_bytes() == GAP.encode()
    assert _linted(tmp_path / "door.svg") == []


def test_two_sources_of_one_name_are_refused_and_the_first_is_written(tmp_path: Path) -> None:
    _write(tmp_path / "a", door=GAP)
    _write(tmp_path / "b", door=CLEAN)
    args = (tmp_path / "a", tmp_path / "b", "--out", tmp_path / "out")
    for more in (["--dry-run"], []):
        result = _run(*args, *more)
        assert result.exit_code == 2
        refusal = [line for line in result.stderr.splitlines() if ": not written: " in line]
        assert len(refusal) == 1
        assert str(tmp_path / "a" / "door.svg") in refusal[0]
        assert str(tmp_path / "b" / "door.svg") in refusal[0]
    assert (tmp_path / "out" / "door.svg").read_bytes() != CLEAN.encode()
    assert _linted(tmp_path / "out" / "door.svg") == []


def test_a_source_is_never_overwritten_by_a_copy(tmp_path: Path) -> None:
    _write(tmp_path / "a", door=GAP)
    _write(tmp_path / "out", door=CLEAN)
    before = _state(tmp_path)
    sources = (tmp_path / "a", tmp_path / "out" / "door.svg")
    result = _run(*sources, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert result.stderr.count("written over the source") == 2
    assert _state(tmp_path) == before


def test_a_link_out_of_the_folder_of_copies_is_refused(tmp_path: Path) -> None:
    _write(tmp_path / "set" / "wings", door=GAP)
    (tmp_path / "away").mkdir()
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "wings").symlink_to(tmp_path / "away")
    result = _run(tmp_path / "set", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "leads out of it" in result.stderr
    assert list((tmp_path / "away").iterdir()) == []


def test_a_file_whose_name_is_not_text_is_fixed(tmp_path: Path) -> None:
    name = os.fsencode(tmp_path) + b"/d\xff.svg"
    with open(name, "wb") as file:  # noqa: PTH123  a Path takes no bytes
        file.write(GAP.encode())
    dry, wet = (
        subprocess.run([*ENTRY, "fix", str(tmp_path), how], capture_output=True, check=False)
        for how in ("--dry-run", "--in-place")
    )
    assert (dry.returncode, wet.returncode, wet.stderr) == (0, 0, b"")
    assert dry.stdout.startswith(b"--- a" + name + b"\n")


# What is said: results made up, so that every kind of them is met


def _finding(**changes: Any) -> FindingRecord:
    facts: dict[str, Any] = {
        "rule": "hairline-gap",
        "severity": "fault",
        "message": "two cut ends stop 0.20 mm short of each other",
        "at_mm": (40.2, 96.0),
        "box_mm": (40.1, 95.9, 40.3, 96.1),
        "line": 22,
        "column": 7,
        "elements": ("/svg/path[1]",),
        "piece": "door",
        "measured": MeasuredRecord(0.2, "mm", 0.025),
        "fix": "safe",
    }
    return FindingRecord(**{**facts, **changes})


def _fixed(**changes: Any) -> FixedRecord:
    facts: dict[str, Any] = {
        "rule": "hairline-gap",
        "message": "two cut ends stop 0.20 mm short of each other",
        "done": "the path is closed",
        "at_mm": (10.0, 10.1),
        "line": 2,
        "piece": "door",
        "grade": "safe",
    }
    return FixedRecord(**{**facts, **changes})


@pytest.fixture
def made_up(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What `repair` gives back, by its fields; bytes are changed where `data` is left out."""
    facts: dict[str, Any] = {
        "fixed": (),
        "not_fixed": (),
        "left": (),
        "moved_mm": 0.0,
        "in_inches": False,
    }

    def repair(
        data: bytes, name: str, rules: Sequence[Rule], settings: Settings, reshape: bool = False
    ) -> Repaired:
        read_source(data, name)  # what is no drawing is refused, as by the real one
        copy = facts.get("data", data.replace(b"#000", b"#111"))
        rest = {key: value for key, value in facts.items() if key != "data"}
        return Repaired(path=name, data=copy, **rest)

    monkeypatch.setattr(repair_package, "repair", repair, raising=False)
    return facts


def test_the_report_of_a_file_reads_as_promised(
    tmp_path: Path, made_up: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(_write(tmp_path, door=GAP))
    made_up |= {
        "fixed": (_fixed(),),
        "not_fixed": (NotFixedRecord(_finding(rule="double-cut"), "one of the two is an arc"),),
        "left": (_finding(rule="wrong-scale", severity="caution", fix="reshaping"),),
        "moved_mm": 0.11901,
    }
    result = _run("door.svg", "--out", "out")
    assert (result.exit_code, result.stderr) == (1, "")
    assert result.stdout.splitlines() == [
        "door.svg",
        "  fixed copy: out/door.svg; proven: same pieces and folds, nothing moved more",
        "  than 0.12 mm",
        "",
        "  fixed      hairline-gap  line 2 of the file, at 10.0, 10.1 mm",
        "             two cut ends stop 0.20 mm short of each other",
        "             done: the path is closed; piece: door",
        "",
        "  not fixed  double-cut    line 22 of the fixed copy, at 40.2, 96.0 mm",
        "             two cut ends stop 0.20 mm short of each other",
        "             why: one of the two is an arc",
        "             fault; measured 0.2 mm, limit 0.025 mm; piece: door",
        "",
        "  left       wrong-scale   line 22 of the fixed copy, at 40.2, 96.0 mm",
        "             two cut ends stop 0.20 mm short of each other",
        "             caution; measured 0.2 mm, limit 0.025 mm; piece: door",
        "",
        "1 file done: 1 finding fixed in 1 file, 1 not fixed, 1 left for you.",
        "Next: --reshape also tries the 1 whose fix changes size or shape:",
        "  matready fix door.svg --reshape --out out",
        "Put right in the drawing what is not fixed. Places are measured from the left",
        "and the top edge of the page. Each rule named above is explained by its name,",
        "for example:",
        "  matready rules double-cut",
        "Test-cut first, on a scrap of the same card. Mind the blade. Where your",
        "machine's manual says otherwise, the manual wins.",
    ]


def test_inches_stand_beside_millimetres_where_the_page_is_in_inches(
    tmp_path: Path, made_up: dict[str, Any]
) -> None:
    made_up |= {"fixed": (_fixed(at_mm=(25.4, 50.8)),), "moved_mm": 0.254, "in_inches": True}
    text = " ".join(_run(_write(tmp_path, door=GAP), "--in-place").stdout.split())
    # The inch is 25.4 mm exactly (CSS Values 3, 6.2).
    assert "at 25.4, 50.8 mm (1.00, 2.00 in)" in text
    assert "nothing moved more than 0.254 mm (0.01 in)" in text


@pytest.mark.parametrize(
    ("moved_mm", "said"),
    [
        (0.0, "nothing moved"),
        (0.00001, "nothing moved more than 0.001 mm"),
        (0.1, "nothing moved more than 0.1 mm"),
        (0.1201, "nothing moved more than 0.121 mm"),
        (1.231, "nothing moved more than 1.24 mm"),
        (12.31, "nothing moved more than 12.4 mm"),
    ],
)
def test_the_proof_is_rounded_up(
    tmp_path: Path, made_up: dict[str, Any], moved_mm: float, said: str
) -> None:
    made_up |= {"fixed": (_fixed(),), "moved_mm": moved_mm}
    text = " ".join(_run(_write(tmp_path, door=GAP), "--in-place").stdout.split())
    assert f"changed in place; proven: same pieces and folds, {said} fixed" in text


def test_in_place_there_is_no_copy_to_look_into(tmp_path: Path, made_up: dict[str, Any]) -> None:
    made_up |= {"fixed": (_fixed(),), "left": (_finding(rule="wrong-scale"),)}
    text = _run(_write(tmp_path, door=GAP), "--in-place").stdout
    assert "wrong-scale   line 22 of the changed file, at 40.2, 96.0 mm" in text


def test_a_reshaped_copy_promises_no_same_pieces(tmp_path: Path, made_up: dict[str, Any]) -> None:
    made_up |= {"fixed": (_fixed(grade="reshaping"),), "moved_mm": 40.0}
    text = " ".join(_run(_write(tmp_path, door=GAP), "--in-place", "--reshape").stdout.split())
    assert "same pieces" not in text
    assert "proven: nothing new was found, and apart from the new size or shape nothing" in text
    assert "nothing moved more than 40 mm" in text
    assert "reshaped: look at the copy before you cut" in text


def test_what_is_left_alone_is_no_failure(tmp_path: Path, made_up: dict[str, Any]) -> None:
    made_up |= {"data": GAP.encode(), "left": (_finding(fix=None),)}
    result = _run(_write(tmp_path, door=GAP), "--in-place")
    assert result.exit_code == 0
    assert "left as it is" in result.stdout
    assert "line 22 of the file" in result.stdout
    assert "Next: put right in the drawing what is not fixed." in result.stdout


def test_clean_files_take_one_line_each(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", door=CLEAN, wing=CLEAN)
    text = " ".join(_run(folder, "--in-place").stdout.split())
    assert text.count("nothing to fix, left as it is") == 2
    text = " ".join(_run(folder, "--out", tmp_path / "out").stdout.split())
    assert text.count("nothing to fix, copied as it is to") == 2
    assert "2 files done: nothing to fix; the set as a whole was not checked." in text


def test_a_fix_says_how_to_go_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    _write(tmp_path / "my set", door=GAP, wall=CLEAN)
    dry = _run("my set", "--dry-run", "--mat", "A4").stderr.splitlines()
    assert '  matready fix "my set" --mat A4 --out fixed' in dry
    assert not any(line.startswith("  matready lint") for line in dry)
    only = ("--rule", "hairline-gap")
    made = _run("my set", "--out", "copies", "--mat", "A4", *only).stdout.splitlines()
    assert "  matready lint copies --mat A4" in made
    assert '  matready lint "my set"' in _run("my set", "--in-place").stdout.splitlines()
    assert "matready lint" not in _run("my set/wall.svg", "--in-place").stdout


def test_json_has_the_promised_keys(tmp_path: Path, made_up: dict[str, Any]) -> None:
    made_up |= {
        "fixed": (_fixed(),),
        "not_fixed": (NotFixedRecord(_finding(), "it is an arc"),),
        "left": (_finding(piece=None),),
        "moved_mm": 0.1,
    }
    _write(tmp_path / "set", arch="", door=GAP, wing=GAP)
    (tmp_path / "set" / "wing.svg").chmod(0o444)
    result = _run(tmp_path / "set", "--in-place", "--format", "json")
    assert result.exit_code == 2
    finding = {
        "rule": "hairline-gap",
        "severity": "fault",
        "message": "two cut ends stop 0.20 mm short of each other",
        "at_mm": [40.2, 96.0],
        "box_mm": [40.1, 95.9, 40.3, 96.1],
        "line": 22,
        "column": 7,
        "elements": ["/svg/path[1]"],
        "piece": "door",
        "measured": {"value": 0.2, "unit": "mm", "limit": 0.025},
        "fix": "safe",
    }
    data = json.loads(result.stdout)
    reasons = [entry.pop("reason") for entry in (*data["unreadable"], *data["unwritten"])]
    assert all(reasons)
    door = str(tmp_path / "set" / "door.svg")
    assert data == {
        "schema": "matready/fix-1",
        "files": [
            {
                "path": door,
                "written": door,
                "changed": True,
                "moved_mm": 0.1,
                "fixed": [
                    {
                        "rule": "hairline-gap",
                        "message": "two cut ends stop 0.20 mm short of each other",
                        "done": "the path is closed",
                        "at_mm": [10.0, 10.1],
                        "line": 2,
                        "piece": "door",
                        "grade": "safe",
                    }
                ],
                "not_fixed": [{"finding": finding, "reason": "it is an arc"}],
                "not_checked": [],
                "left": [{**finding, "piece": None}],
                "silenced": 0,
            }
        ],
        "unreadable": [{"path": str(tmp_path / "set" / "arch.svg")}],
        "unwritten": [{"path": str(tmp_path / "set" / "wing.svg")}],
        "totals": {"files": 1, "changed": 1, "fixed": 1, "not_fixed": 1, "left": 1, "silenced": 0},
    }


@pytest.mark.parametrize("columns", ["40", "60", "100"])
def test_no_line_is_longer_than_the_width(
    tmp_path: Path, made_up: dict[str, Any], monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setattr("matready.lint.cli_fix.width", lambda *, err=False: int(columns))
    words = "the score of this piece lies outside its group and stays behind on the mat " * 3
    made_up |= {
        "fixed": (_fixed(message=words, done=words),),
        "not_fixed": (NotFixedRecord(_finding(message=words), words),),
        "left": (_finding(message=words),),
    }
    monkeypatch.chdir(_write(tmp_path, door=GAP))
    text = _run("door.svg", "--in-place").stdout
    assert max(map(len, text.splitlines())) <= int(columns)


def test_names_out_of_a_file_cannot_steer_the_terminal(
    tmp_path: Path, made_up: dict[str, Any]
) -> None:
    made_up |= {
        "fixed": (_fixed(done="a\x9b31m", piece="b\x1b[2J", message="c\nd"),),
        "not_fixed": (NotFixedRecord(_finding(message="e\x9b"), "f\x9b"),),
    }
    text = _run(_write(tmp_path, door=GAP), "--in-place").stdout
    assert re.search("[\x1b\x9b]", text) is None


def test_a_mistake_of_the_program_costs_one_file_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(data: bytes, name: str, *args: Any) -> Repaired:
        if "arch" in name:
            raise ZeroDivisionError("by zero")
        return Repaired(name, data, (), (), (), 0.0, False)

    monkeypatch.setattr(repair_package, "repair", breaks, raising=False)
    result = _run(_write(tmp_path, arch=GAP, door=GAP), "--in-place")
    assert result.exit_code == 2
    assert "arch.svg: not read: the program broke on this file" in result.stderr
    assert "1 file done" in result.stdout


# Several cores, sudden death


def test_many_files_on_several_cores_give_the_same_as_on_one(tmp_path: Path) -> None:
    folder = _write(
        tmp_path / "set", **{f"wing{i}": GAP if i % 3 else CLEAN for i in range(12)}, empty=""
    )
    reports = []
    for jobs in ("1", "2"):
        out = tmp_path / jobs
        result = _run(folder, "--out", out, "--format", "json", "--jobs", jobs)
        assert result.exit_code == 2
        reports.append(result.stdout.replace(str(out), "out"))
    assert reports[0] == reports[1]
    one, two = (
        {path.name: path.read_bytes() for path in (tmp_path / jobs).iterdir()} for jobs in "12"
    )
    assert one == two
    assert len(one) == 13, "the copies and their record"


# A stand-in for the repair, so that the run spends its time on writing, where the kill may hurt.
_FAST = """
import sys
from matready.lint import repair as package
from matready.lint.results import Repaired

def repair(data, name, rules, settings, reshape=False):
    return Repaired(name, data.replace(b"drawn", b"fixed"), (), (), (), 0.0, False)

package.repair = repair
from matready.lint.cli import main
main(["fix", sys.argv[1], "--in-place", "--jobs", "1"])
"""


def test_killed_at_any_moment_the_old_or_the_new_file_is_there_whole(tmp_path: Path) -> None:
    old = {
        tmp_path / f"wing{i}.svg": f"{HEAD}<!-- {i} drawn -->{RECT}{'<!-- drawn -->' * 3000}</svg>"
        for i in range(200)
    }
    new = {path: text.replace("drawn", "fixed").encode() for path, text in old.items()}
    for path, text in old.items():
        path.write_text(text)
    chance = random.Random(6)
    interrupted = 0
    for _ in range(5):
        fixed_before = sum(path.read_bytes() == new[path] for path in old)
        process = subprocess.Popen(
            [sys.executable, "-c", _FAST, str(tmp_path)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _wait_for_a_write(process, tmp_path, old, new, fixed_before)
        time.sleep(chance.uniform(0, 0.05))
        process.kill()
        interrupted += process.wait() == -signal.SIGKILL
        for path, text in old.items():
            assert path.read_bytes() in (text.encode(), new[path])
    assert interrupted >= 2
    last = subprocess.run([sys.executable, "-c", _FAST, str(tmp_path)], check=True, text=True)
    assert last.returncode == 0
    assert {path: path.read_bytes() for path in old} == new
    _leftovers_go(tmp_path)


def _wait_for_a_write(
    process: subprocess.Popen[bytes],
    folder: Path,
    old: dict[Path, str],
    new: dict[Path, bytes],
    fixed_before: int,
) -> None:
    """Wait until this run has replaced a file, or has ended."""
    waiting = list(old)[fixed_before:]
    while process.poll() is None and waiting and waiting[0].read_bytes() != new[waiting[0]]:
        time.sleep(0.001)


def _leftovers_go(folder: Path) -> None:
    """What the killed runs left is cleared by the first run an hour later, and no sooner."""
    (folder / ".matready-00112233445566ff.tmp").write_bytes(b"half a draw")
    left = [path for path in folder.iterdir() if writing.LEFTOVER.fullmatch(path.name)]
    then = time.time() - writing.LEFTOVER_AFTER_S - 1
    for path in left:
        os.utime(path, (then, then))
    subprocess.run([sys.executable, "-c", _FAST, str(folder)], check=True, capture_output=True)
    assert len(list(folder.iterdir())) == 200


# On a terminal


def test_colour_changes_nothing_but_the_colour(
    tmp_path: Path, made_up: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    made_up |= {
        "fixed": (_fixed(),),
        "not_fixed": (NotFixedRecord(_finding(), "it is an arc"),),
        "left": (_finding(),),
    }
    folder = _write(tmp_path, arch="", door=GAP)
    plain = _run(folder, "--dry-run", "--in-place")
    monkeypatch.setattr("matready.lint.cli_fix.in_colour", lambda stream: True)
    coloured = _run(folder, "--dry-run", "--in-place")
    assert "\x1b" not in plain.output
    assert "\x1b[" in coloured.stderr
    assert "\x1b" not in coloured.stdout
    assert click.unstyle(coloured.stderr) == plain.stderr


def test_help_names_the_ways_to_write_and_the_statuses() -> None:
    text = " ".join(_run("--help").stdout.split())
    for word in ("--out DIR", "--in-place", "--dry-run", "--reshape", "exit status is 0"):
        assert word in text


def test_what_could_be_read_only_in_part_is_said(tmp_path: Path) -> None:
    turned = GAP.replace("-39.8", "-40z").replace("<path", '<path transform="turn(9)"')
    text = " ".join(_run(_write(tmp_path / "set", door=turned), "--dry-run").stderr.split())
    assert "nothing to fix in what could be read" in text
    assert "not read: line" in text
    result = _run(tmp_path / "set", "--dry-run", "--format", "json")
    (file,) = json.loads(result.stdout)["files"]
    assert [gap["rule"] for gap in file["not_checked"]] == ["reading"]


def test_an_empty_path_is_a_slip(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", door=GAP)
    for arguments in ((folder, "--out", ""), ("", "--in-place")):
        result = _run(*arguments)
        assert result.exit_code == 2
        assert "a path is empty" in result.stderr
