"""The command line as a user and a script meet it: exit statuses, streams, start-up, README."""

from __future__ import annotations

import json
import os
import re
import resource
import shlex
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from matready.lint import runner
from matready.lint.cli import main
from matready.lint.cutting import cut
from matready.lint.figures.as_svg import figure_as_svg
from matready.lint.figures.figure import figure_of
from matready.lint.reading import read_drawing
from matready.lint.settings import Settings
from matready.lint.source import read_file
from matready.rules import RULES

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
CLEAN = (
    f'{HEAD}<rect id="door" x="10" y="10" width="30" height="40" fill="none" stroke="#000"/></svg>'
)
# The last side is missing: 30 mm are far more than any hairline.
OPEN = f'{HEAD}<path id="door" d="M10 10h30v40h-30" fill="none" stroke="#000"/></svg>'

ENTRY = [sys.executable, "-c", "from matready.lint.cli import main; main(prog_name='matready')"]


def _run(*args: str | Path, stdin: str | bytes | None = None) -> Result:
    result = CliRunner().invoke(main, [str(arg) for arg in args], input=stdin, prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def _write(folder: Path, **drawings: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in drawings.items():
        (folder / f"{name}.svg").write_text(text, "utf-8")
    return folder


# Exit statuses and streams


def test_nothing_found_is_0_and_everything_is_on_standard_output(tmp_path: Path) -> None:
    result = _run("lint", _write(tmp_path, door=CLEAN))
    assert (result.exit_code, result.stderr) == (0, "")
    assert "door.svg: clean" in " ".join(result.stdout.split())


def test_a_finding_is_1(tmp_path: Path) -> None:
    result = _run("lint", _write(tmp_path, door=OPEN, wing=CLEAN))
    assert (result.exit_code, result.stderr) == (1, "")
    assert "open-outline" in result.stdout
    assert "wing.svg: clean" in result.stdout


def test_a_file_that_cannot_be_read_is_2_and_the_others_are_done(tmp_path: Path) -> None:
    result = _run("lint", _write(tmp_path, arch="", door=OPEN))
    assert result.exit_code == 2
    assert "open-outline" in result.stdout
    assert "1 not read" in result.stdout
    assert re.fullmatch(r"\S*arch\.svg: not read: .+\n", result.stderr)


@pytest.mark.parametrize("form", ["text", "json"])
def test_only_unreadable_files_are_2(tmp_path: Path, form: str) -> None:
    result = _run("lint", "--format", form, _write(tmp_path, arch="not a drawing"))
    assert result.exit_code == 2
    assert "arch.svg: not read: " in result.stderr


@pytest.mark.parametrize(
    ("severity", "asked", "status"),
    [
        ("fault", "fault", 1),
        ("fault", "never", 0),
        ("caution", "fault", 0),
        ("caution", "caution", 1),
        ("caution", None, 1),
        ("tidy", None, 0),
        ("tidy", "caution", 0),
        ("tidy", "tidy", 1),
    ],
)
def test_fail_on_decides_between_0_and_1(
    tmp_path: Path, severity: str, asked: str | None, status: int
) -> None:
    _write(tmp_path, door=OPEN)
    (tmp_path / "matready.toml").write_text(f'[rules.open-outline]\nseverity = "{severity}"\n')
    options = ["--fail-on", asked] if asked else []
    assert _run("lint", tmp_path, *options).exit_code == status


def test_the_settings_of_each_file_say_what_fails(tmp_path: Path) -> None:
    _write(tmp_path / "draft", door=OPEN)
    (tmp_path / "draft" / "matready.toml").write_text('fail-on = "never"\n')
    assert _run("lint", tmp_path).exit_code == 0
    _write(tmp_path / "final", door=OPEN)
    assert _run("lint", tmp_path).exit_code == 1


def test_settings_for_some_files_say_what_fails_of_these(tmp_path: Path) -> None:
    _write(tmp_path / "draft", door=OPEN)
    _write(tmp_path, wing=CLEAN)
    settings = tmp_path / "matready.toml"
    settings.write_text('[[files]]\nmatch = "draft/**"\nfail-on = "never"\n')
    assert _run("lint", tmp_path).exit_code == 0
    # The option of the command is the last word.
    assert _run("lint", tmp_path, "--fail-on", "fault").exit_code == 1
    settings.write_text(
        'fail-on = "never"\n[[files]]\nmatch = "draft/*"\nfail-on = "fault"\n'
        '[[files]]\nmatch = "draft/wing.svg"\nfail-on = "never"\n'
    )
    assert _run("lint", tmp_path).exit_code == 1
    (tmp_path / "draft" / "door.svg").rename(tmp_path / "draft" / "wing.svg")
    assert _run("lint", tmp_path).exit_code == 0


# Wrong use


def _sentence(result: Result) -> str:
    """The one line on standard error."""
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1
    return result.stderr


def test_no_path_is_one_sentence() -> None:
    assert "nothing to lint" in _sentence(_run("lint"))


def test_a_folder_without_drawings_is_one_sentence(tmp_path: Path) -> None:
    folder = tmp_path / "a"
    folder.mkdir()
    assert "no SVG file is in this folder" in _sentence(_run("lint", folder))


def test_a_path_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    assert "gone.svg: not read: " in _sentence(_run("lint", tmp_path / "gone.svg"))


@pytest.mark.parametrize("option", ["--rule", "--skip"])
def test_an_unknown_rule_is_refused_and_the_nearest_is_named(option: str) -> None:
    assert '"double-cut"' in _sentence(_run("lint", "x.svg", option, "doublecut"))
    assert '"double-cut"' in _sentence(_run("rules", "Double-Cuts"))


def test_choosing_a_rule_and_skipping_it_leaves_nothing_and_is_refused() -> None:
    result = _run("lint", "x.svg", "--rule", "double-cut", "--skip", "double-cut")
    assert "leave one of them out" in _sentence(result)


def test_a_size_that_is_none_is_one_sentence() -> None:
    assert "--mat" in _sentence(_run("lint", "x.svg", "--mat", "A4ish"))


def test_bad_settings_are_one_sentence(tmp_path: Path) -> None:
    _write(tmp_path, door=CLEAN)
    settings = tmp_path / "matready.toml"
    settings.write_text("[distances]\njoin = 1\n")
    assert "join_mm" in _sentence(_run("lint", tmp_path))
    assert "gone.toml" in _sentence(_run("lint", tmp_path, "--config", tmp_path / "gone.toml"))
    settings.unlink()
    assert _run("lint", tmp_path).exit_code == 0


@pytest.mark.parametrize(
    "args",
    [["lint", "--format", "yaml", "x"], ["lint", "--jobs", "0", "x"], ["lint", "--new"], ["x"]],
)
def test_wrong_options_are_2_without_a_traceback(args: list[str]) -> None:
    result = _run(*args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("matready: ")
    assert len(result.stderr.splitlines()) == 1


# Options


def test_rule_and_skip_choose_what_is_looked_for(tmp_path: Path) -> None:
    _write(tmp_path, door=OPEN)
    assert _run("lint", tmp_path, "--rule", "open-outline").exit_code == 1
    assert _run("lint", tmp_path, "--rule", "double-cut", "--rule", "loose-score").exit_code == 0
    assert _run("lint", tmp_path, "--skip", "open-outline").exit_code == 0


def test_a_rule_named_on_the_command_runs_though_the_settings_skip_it(tmp_path: Path) -> None:
    _write(tmp_path, door=OPEN)
    (tmp_path / "matready.toml").write_text('skip = ["open-outline"]\n')
    assert _run("lint", tmp_path).exit_code == 0
    assert _run("lint", tmp_path, "--rule", "open-outline").exit_code == 1


def test_the_mat_is_what_a_drawing_is_held_against(tmp_path: Path) -> None:
    _write(tmp_path, door=CLEAN)
    small = _run("lint", tmp_path, "--mat", "2x2cm")
    assert small.exit_code == 1
    assert "off-mat" in small.stdout
    assert _run("lint", tmp_path, "--mat", "A4").exit_code == 0


# A rod of 3.3 mm across: at least 3 mm in card-200 and 3.8 mm in card-300.
ROD = (
    f'{HEAD}<rect id="rod" x="10" y="10" width="80" height="3.3" fill="none" stroke="#000"/></svg>'
)
SMALL = ("--rule", "undersize-piece")


def test_the_stock_is_what_limits_follow_from(tmp_path: Path) -> None:
    _write(tmp_path, rod=ROD)
    assert _run("lint", tmp_path, *SMALL).exit_code == 0
    thick = _run("lint", tmp_path, *SMALL, "--stock", "card-300")
    assert thick.exit_code == 1
    assert "at least 3.8 mm" in " ".join(thick.stdout.split())
    settings = tmp_path / "matready.toml"
    settings.write_text('stock = "felt"\n[stocks.felt]\nthickness_mm = 0.9\n')
    assert _run("lint", tmp_path, *SMALL).exit_code == 1
    # The option comes before the file's own stock, and a rule's own limit before both.
    assert _run("lint", tmp_path, *SMALL, "--stock", "card-200").exit_code == 0
    settings.write_text(
        "[stocks.felt]\nthickness_mm = 0.9\n[rules.undersize-piece]\npiece_mm = 3.2\n"
    )
    assert _run("lint", tmp_path, *SMALL, "--stock", "felt").exit_code == 0


@pytest.mark.parametrize("command", ["lint", "fix"])
def test_a_stock_that_there_is_not_is_one_sentence(tmp_path: Path, command: str) -> None:
    _write(tmp_path, rod=ROD)
    more = ["--dry-run"] if command == "fix" else []
    said = _sentence(_run(command, tmp_path, *more, "--stock", "card-210"))
    assert said == 'matready: --stock: no stock is named "card-210"; the nearest is "card-200"\n'


def test_a_named_settings_file_counts_instead_of_the_nearest(tmp_path: Path) -> None:
    _write(tmp_path, door=OPEN)
    (tmp_path / "other.toml").write_text('skip = ["open-outline"]\n')
    assert _run("lint", tmp_path, "--config", tmp_path / "other.toml").exit_code == 0


def test_many_files_on_several_cores_give_the_same_as_on_one(tmp_path: Path) -> None:
    _write(tmp_path, **{f"wing{i}": OPEN if i % 3 else CLEAN for i in range(12)}, empty="")
    one, two = (_run("lint", tmp_path, "--format", "json", "--jobs", n) for n in ("1", "2"))
    assert one.stdout == two.stdout
    assert one.exit_code == two.exit_code == 2


def test_standard_input_is_read_as_one_drawing() -> None:
    result = _run("lint", "-", stdin=OPEN)
    assert result.exit_code == 1
    assert result.stdout.startswith("standard input\n")
    assert _run("lint", "-", stdin=CLEAN).exit_code == 0
    assert _run("lint", "-", stdin=CLEAN.encode("utf-16")).exit_code == 0
    broken = _run("lint", "-", stdin=b"\x00\xff")
    assert broken.exit_code == 2
    assert broken.stderr.startswith("standard input: not read: ")


def test_json_is_json_whatever_happens(tmp_path: Path) -> None:
    _write(tmp_path, arch="", door=OPEN, wing=CLEAN)
    result = _run("lint", tmp_path, "--format", "json")
    data = json.loads(result.stdout)
    assert data["schema"] == "matready/lint-1"
    assert data["totals"]["files"] == 2
    assert [Path(file["path"]).name for file in data["files"]] == ["door.svg", "wing.svg"]
    assert [Path(file["path"]).name for file in data["unreadable"]] == ["arch.svg"]
    (finding,) = data["files"][0]["findings"]
    assert finding["rule"] == "open-outline"
    assert finding["elements"] == ["/svg/path[1]"]
    empty = tmp_path / "empty"
    empty.mkdir()
    assert json.loads(_run("lint", empty, "--format", "json").stdout)["totals"]["files"] == 0


def test_files_are_only_read(tmp_path: Path) -> None:
    _write(tmp_path, arch="", door=OPEN)
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in tmp_path.iterdir()}
    _run("lint", tmp_path)
    after = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in tmp_path.iterdir()}
    assert after == before


def test_a_file_whose_name_is_not_text_is_linted(tmp_path: Path) -> None:
    name = os.fsencode(tmp_path) + b"/w\xffng.svg"
    with open(name, "wb") as file:  # noqa: PTH123  a Path takes no bytes
        file.write(OPEN.encode())
    for form in ("text", "json"):
        result = subprocess.run(
            [*ENTRY, "lint", str(tmp_path), "--format", form], capture_output=True, check=False
        )
        assert (result.returncode, result.stderr) == (1, b"")


# The rules in words


def test_rules_lists_every_rule_with_its_severity() -> None:
    result = _run("rules")
    assert result.exit_code == 0
    for rule in RULES:
        assert re.search(rf"^{rule.name} +{rule.severity} +\S", result.stdout, re.MULTILINE)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_rules_name_explains_one_rule(rule: Any) -> None:
    result = _run("rules", rule.name)
    assert result.exit_code == 0
    for heading in rule.explanation:
        assert f"\n{heading}\n" in result.stdout
    for name, (default, limit) in rule.described_limits().items():
        assert f"{name} = {default:g} ({limit.unit})" in result.stdout
        assert limit.source in " ".join(result.stdout.split())


def test_rules_name_shows_the_limits_in_force_in_this_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "set").mkdir()
    monkeypatch.chdir(tmp_path / "set")
    settings = tmp_path / "matready.toml"
    settings.write_text('stock = "card-300"\n[rules.undersize-piece]\nhole_mm = 0.7\n')
    page = _run("rules", "undersize-piece").stdout
    assert "piece_mm = 3.8 (mm), by default 3\n" in page
    assert "Stock card-300 (300 g/m², 0.345 mm thick)" in page
    assert "hole_mm = 0.7 (mm), by default 1\n" in page
    assert f"Set in {settings}." in " ".join(page.split())
    settings.write_text("stok = 1\n")
    assert '"stock"' in _sentence(_run("rules", "undersize-piece"))
    assert _run("rules").exit_code == 0


# On a terminal


class _Terminal:
    """Standard streams that say they are a terminal, and a clock that can be turned on."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = 0.0
        monkeypatch.delenv("NO_COLOR", raising=False)
        monkeypatch.setenv("TERM", "xterm")
        monkeypatch.setattr(time, "monotonic", lambda: self.now)
        isolated = CliRunner.isolation

        def on_terminal(self: CliRunner, *args: Any, **kwargs: Any) -> Any:
            return _Patched(isolated(self, *args, **kwargs))

        monkeypatch.setattr(CliRunner, "isolation", on_terminal)


class _Patched:
    def __init__(self, inner: Any) -> None:
        self.inner = inner

    def __enter__(self) -> Any:
        streams = self.inner.__enter__()
        for stream in (sys.stdout, sys.stderr):
            stream.isatty = lambda: True  # type: ignore[method-assign]
        return streams

    def __exit__(self, *exception: Any) -> Any:
        return self.inner.__exit__(*exception)


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> _Terminal:
    return _Terminal(monkeypatch)


def test_colour_is_for_terminals_only(
    tmp_path: Path, terminal: _Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write(tmp_path, door=OPEN, arch="")
    coloured = _run("lint", tmp_path)
    assert "\x1b[" in coloured.stdout
    assert "\x1b[" in coloured.stderr
    assert "\x1b" not in _run("lint", tmp_path, "--format", "json").stdout
    # no-color.org: set and not empty means no colour.
    monkeypatch.setenv("NO_COLOR", "1")
    plain = _run("lint", tmp_path)
    assert "\x1b" not in plain.output
    assert click.unstyle(coloured.stdout) == plain.stdout


def test_output_to_a_file_has_no_colour_and_80_columns(tmp_path: Path) -> None:
    result = _run("lint", _write(tmp_path, door=OPEN))
    assert "\x1b" not in result.output
    lines = [line for line in result.stdout.splitlines() if str(tmp_path) not in line]
    assert max(map(len, lines)) <= 80


def _slow(monkeypatch: pytest.MonkeyPatch, terminal: _Terminal, seconds: float) -> None:
    """Let each file take this long by the terminal's clock."""
    plain = runner.lint_file

    def slowly(*args: Any) -> Any:
        terminal.now += seconds
        return plain(*args)

    monkeypatch.setattr(runner, "lint_file", slowly)


def test_progress_shows_on_a_terminal_only_after_a_second(
    tmp_path: Path, terminal: _Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write(tmp_path, **{f"wing{i}": CLEAN for i in range(4)})
    _slow(monkeypatch, terminal, 0.2)
    assert _run("lint", tmp_path).stderr == ""
    _slow(monkeypatch, terminal, 0.6)
    slow = _run("lint", tmp_path)
    assert "checking" in slow.stderr
    assert "4/4" in slow.stderr
    assert "checking" not in slow.stdout


def test_progress_stays_away_from_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _write(tmp_path, **{f"wing{i}": CLEAN for i in range(4)})
    times = iter(range(0, 1000, 10))
    monkeypatch.setattr(time, "monotonic", lambda: next(times))
    assert _run("lint", tmp_path).stderr == ""


# As a process


def _process(*args: str, **kwargs: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*ENTRY, *args], capture_output=True, text=True, check=False, **kwargs)


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from matready.lint.cli import main\n"
        "main(['--help'], standalone_mode=False)\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    heavy = {
        "cssselect2",
        "lxml",
        "msgspec",
        "numpy",
        "scipy",
        "shapely",
        "svgpathtools",
        "tinycss2",
        "watchfiles",
    }
    assert "Usage:" in result.stdout
    assert heavy.isdisjoint(result.stderr.split())
    assert "matready.rules" not in result.stderr


def test_help_answers_at_once() -> None:
    def seconds() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        assert _process("--help").returncode == 0
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    # Processor time, the best of a few: what else the machine does is not counted.
    assert min(seconds() for _ in range(5)) < 0.2


def test_a_lint_loads_no_scipy_and_every_class_once(tmp_path: Path) -> None:
    folder = _write(tmp_path, door=OPEN, wing=CLEAN)
    code = (
        "import sys\n"
        "from matready.lint.cli import main\n"
        "try:\n"
        "    main(['lint', sys.argv[1], '--jobs', '1'])\n"
        "except SystemExit as end:\n"
        "    loaded = {name.split('.')[0] for name in sys.modules}\n"
        "    print(end.code, *sorted(loaded), file=sys.stderr)\n"
    )
    result = subprocess.run(
        [sys.executable, "-c", code, str(folder)], capture_output=True, text=True, check=True
    )
    status, *modules = result.stderr.split()
    assert status == "1"
    assert {"shapely", "matready"} <= set(modules)
    assert {"scipy", "svgpathtools", "watchfiles", "jinja2", "lint", "rules"}.isdisjoint(modules)


def test_a_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    _write(tmp_path, **{f"wing{i}": OPEN for i in range(300)})
    command = f"{shlex.join([*ENTRY, 'lint', str(tmp_path), '--jobs', '1'])} | head -n 1"
    result = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=True)
    assert result.stdout.count("\n") == 1
    assert result.stderr == ""


def test_a_terminal_that_knows_no_letters_but_its_own_is_no_error(tmp_path: Path) -> None:
    folder = _write(tmp_path, door=CLEAN.replace("door", "Türe"))
    result = _process("lint", str(folder), env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert result.returncode == 0
    assert "page 100 ? 100 mm" in " ".join(result.stdout.split())


@pytest.mark.parametrize("args", [["rules", "xyzzy"], ["lint", ".", "--rule", "xyzzy"]])
def test_a_name_that_is_like_no_rule_is_told_where_all_are(args: list[str]) -> None:
    said = 'matready: no rule is named "xyzzy"; `matready rules` lists them all\n'
    result = _run(*args)
    assert (result.exit_code, result.stdout, result.stderr) == (2, "", said)


def test_version_is_told() -> None:
    assert re.fullmatch(r"matready \d+\.\d+\.\d+\n", _run("--version").stdout)


# The README

_BLOCK = re.compile(r"(<!-- run: [^\n]*-->\n```console\n)(\$ .*?)(```\n)", re.DOTALL)
_COMMAND = re.compile(r"^\$ (.*)\n", re.MULTILINE)
_TABLE = re.compile(r"(<!-- rules: [^\n]*-->\n)(.*?)(\n## )", re.DOTALL)


def test_the_examples_in_the_readme_are_real_runs(root: Path, record: bool, tmp_path: Path) -> None:
    """Every command is typed into a shell, in a folder that holds the fixtures and nothing else."""
    (tmp_path / "fixtures").symlink_to(root / "fixtures")
    path = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    readme = root / "README.md"
    text = readme.read_text("utf-8")

    def real(match: re.Match[str]) -> str:
        lines = []
        for command in _COMMAND.findall(match[2]):
            result = subprocess.run(
                ["bash", "-c", command],
                cwd=tmp_path,
                env={**os.environ, "PATH": path},
                capture_output=True,
                encoding="utf-8",
                check=False,
            )
            assert result.returncode in (0, 1), result.stderr
            lines += [f"$ {command}\n", result.stdout]
        return f"{match[1]}{''.join(lines)}{match[3]}"

    changed, blocks = _BLOCK.subn(real, text)
    assert blocks >= 4
    _hold(readme, text, changed, record)
    # The picture below the example of `sheets` is of the first of those mats.
    picture = root / "tests" / "picturing" / "puppet-theatre-mat.svg"
    assert f"]({picture.relative_to(root).as_posix()})" in changed
    before = picture.read_text("utf-8") if picture.exists() else ""
    _hold(picture, before, _picture_of(tmp_path / "mats" / "01-cream-card.svg"), record)


def _picture_of(mat: Path) -> str:
    drawing = read_drawing(read_file(mat))
    title = "A mat of the pocket puppet theatre: cuts are whole lines, scores dashed ones"
    return figure_as_svg(figure_of(cut(drawing, Settings())), title=title)


def test_the_table_of_rules_in_the_readme_is_the_rules(root: Path, record: bool) -> None:
    readme = root / "README.md"
    text = readme.read_text("utf-8")
    rows = [
        f"| [`{rule.name}`](rules/pages/{rule.name}.md) | {rule.severity} | {rule.summary} "
        f"| {rule.fixes or 'by hand'}"
        f"{', when asked' if rule.asked else ''} |\n"
        for rule in RULES
    ]
    table = "\n| rule | severity | finds | fix |\n|---|---|---|---|\n" + "".join(rows)
    changed, times = _TABLE.subn(lambda match: match[1] + table + match[3], text)
    assert times == 1
    _hold(readme, text, changed, record)


def _hold(readme: Path, text: str, changed: str, record: bool) -> None:
    if record and changed != text:
        readme.write_text(changed, "utf-8", newline="\n")
        return
    assert text == changed


def test_the_readme_names_every_exit_status_and_both_commands(root: Path) -> None:
    text = (root / "README.md").read_text("utf-8")
    for status in ("0", "1", "2"):
        assert re.search(rf"^\| {status} \| \S", text, re.MULTILINE)
    commands = re.findall(r"^python3 -m venv .*$", text, re.MULTILINE)
    assert len(commands) == 2
    assert "matready lint fixtures/puppet-theatre" in commands[0]
    assert "pytest" in commands[1]
