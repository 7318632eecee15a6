"""What people read and what scripts read: wording, order, width, and the promised JSON shape."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Annotated, Any

import click
import pytest
from msgspec.structs import replace

from matready.lint.finding import Grade, Severity
from matready.lint.reports import whole_run
from matready.lint.reports.as_json import as_json
from matready.lint.reports.as_text import files_as_text, shown, unreadable_as_text
from matready.lint.reports.closing import closing_as_text
from matready.lint.reports.commands import Typed
from matready.lint.reports.html_words import facts_of_file
from matready.lint.reports.rule_pages import rule_as_text, rules_as_text
from matready.lint.results import (
    ALLOWING,
    Checked,
    FileReport,
    FindingRecord,
    LineCounts,
    MeasuredRecord,
    NotChecked,
    PieceRecord,
    UnreadableFile,
)
from matready.lint.rule import Limit, Rule
from matready.lint.settings import Distances, InForce, Settings
from matready.lint.stocks import DESCRIBED, STOCKS
from matready.rules import RULES

from tests.conftest import ROOT


def _finding(severity: str = "fault", **changes: Any) -> FindingRecord:
    facts: dict[str, Any] = {
        "rule": "hairline-gap",
        "severity": severity,
        "message": "two cut ends stop 0.12 mm short of each other",
        "at_mm": (40.2, 96.0),
        "box_mm": (40.1, 95.9, 40.3, 96.1),
        "line": 22,
        "column": 7,
        "elements": ("/svg/g[1]/path[3]",),
        "piece": "door",
        "measured": MeasuredRecord(0.12, "mm", 0.025),
        "fix": "safe",
    }
    return FindingRecord(**{**facts, **changes})


def _checked(*findings: FindingRecord, in_inches: bool = False, **changes: Any) -> Checked:
    facts: dict[str, Any] = {
        "path": "stage/arch.svg",
        "size_mm": (304.8, 304.8),
        "lines": LineCounts(31, 18, 0),
        "pieces": (PieceRecord("door", (10.0, 10.0, 60.0, 110.0), 2411.3, 1, 6),),
        "findings": findings,
        "not_checked": (),
    }
    clues = {("cut", ""): 31, ("score", "dashes"): 3, ("score", "layer name"): 15}
    return Checked(FileReport(**{**facts, **changes}), clues, in_inches)


def _text(*files: Checked, width: int = 80, colour: bool = False) -> str:
    return files_as_text(files, width, colour)


def test_a_file_with_findings_reads_as_promised() -> None:
    assert _text(_checked(_finding())).splitlines() == [
        "stage/arch.svg",
        "  page 304.8 × 304.8 mm, 1 piece, 31 cuts, 18 scores",
        "  scores told by layer name (15), by dashes (3)",
        "",
        "  fault    hairline-gap  line 22 of the file, at 40.2, 96.0 mm",
        "           two cut ends stop 0.12 mm short of each other",
        "           measured 0.12 mm, limit 0.025 mm; piece: door; can be fixed",
    ]


def test_page_and_terminal_tell_clues_that_are_as_frequent_in_one_order() -> None:
    """There is no source outside the project for the order, so both are held against each other."""
    clues = {("score", "name"): 2, ("score", "dashes"): 2, ("score", "colour"): 3}
    file = replace(_checked(_finding()), clues=clues)
    assert "scores told by colour (3), by dashes (2), by name (2)" in _text(file)
    assert facts_of_file(file)[-1] == "scores told by colour, dashes and name"


def test_inches_stand_beside_millimetres_where_the_page_is_in_inches() -> None:
    text = _text(_checked(_finding(), in_inches=True))
    # 304.8 mm are 12 inches, 40.2 mm are 1.5827: the inch is 25.4 mm exactly (CSS Values 3, 6.2).
    assert "page 304.8 × 304.8 mm (12 × 12 in)" in text
    assert "at 40.2, 96.0 mm (1.58, 3.78 in)" in text
    assert "measured 0.12 mm (0.005 in), limit 0.025 mm (0.001 in)" in text


def test_a_share_is_told_in_percent() -> None:
    text = _text(_checked(_finding(measured=MeasuredRecord(0.0123, "share", 0.005))))
    assert "measured 1.23 %, limit 0.5 %" in text


def test_what_is_about_the_page_is_given_no_point_on_it() -> None:
    finding = _finding(rule="wrong-scale", elements=("/svg",), piece=None, measured=None)
    text = _text(_checked(finding), width=100)
    assert "line 22 of the file, the whole page\n" in text
    assert "40.2" not in text


def test_the_page_of_a_clean_file_reads_as_that_of_a_faulty_one() -> None:
    page = "page 304.8 × 304.8 mm (12 × 12 in), 1 piece"
    assert page in _text(_checked(_finding(), in_inches=True), width=100)
    assert page in _text(_checked(in_inches=True), width=100)


def test_two_sides_stand_on_either_side_of_a_cross() -> None:
    """ISO 80000-2 has × between factors; the letter x is for what is typed on a keyboard."""
    said = [path.read_text("utf-8") for path in (ROOT / "rules/pages").glob("*.md")]
    for path in (ROOT / "fixtures").glob("*/flagged/*.json"):
        said += [one["message"] for one in json.loads(path.read_text("utf-8"))["findings"]]
    assert not [text for text in said if re.search(r"\d x \d|\dx\d", text)]
    assert sum("×" in text for text in said) > 3


def test_a_clean_file_takes_one_line_that_still_says_how_lines_were_told() -> None:
    text = _text(_checked(path="wing.svg", size_mm=(210.0, 297.0)), width=200)
    assert text == (
        "wing.svg: clean, page 210 × 297 mm, 1 piece, 31 cuts, 18 scores "
        "(scores by layer name, dashes)"
    )


def test_findings_go_from_worst_to_least_then_down_the_page() -> None:
    file = _checked(
        _finding("tidy", message="last"),
        _finding("fault", message="second", at_mm=(1.0, 50.0)),
        _finding("caution", message="fourth"),
        _finding("fault", message="first", at_mm=(90.0, 10.0)),
        _finding("fault", message="third", at_mm=(2.0, 50.0)),
    )
    text = _text(file)
    places = [text.index(word) for word in ("first", "second", "third", "fourth", "last")]
    assert places == sorted(places)


def test_nothing_is_dropped_however_many_there_are() -> None:
    file = _checked(*(_finding(message=f"gap number {i} of many") for i in range(500)))
    assert _text(file).count("of many") == 500


def test_drawn_lines_unknown_size_and_gaps_in_the_check_are_said() -> None:
    gaps = (
        NotChecked("wrong-scale", "the page has no physical size"),
        NotChecked("reading", "a dot"),
        NotChecked("left out", "1 text"),
    )
    file = _checked(size_mm=None, lines=LineCounts(1, 0, 2), not_checked=gaps)
    text = _text(file, width=200)
    assert "page size not known, 1 piece, 1 cut, 0 scores, 2 drawn lines" in text
    assert "  not checked: the page has no physical size (wrong-scale)" in text
    assert "  not read: a dot" in text
    assert "  left out: 1 text" in text


def test_what_was_checked_in_part_is_never_called_clean() -> None:
    part = _checked(not_checked=(NotChecked("reading", "a dot"),), path="wing.svg")
    assert _text(part, width=200).startswith(
        "wing.svg: nothing found in what could be checked, page"
    )
    whole = _checked(not_checked=(NotChecked("left out", "1 text"),), path="wing.svg")
    assert _text(whole, width=200).startswith("wing.svg: clean")
    totals = closing_as_text(whole_run([part, _checked()]), 200).splitlines()[0]
    assert totals == "2 files read: nothing found; 1 file clean; 1 checked in part."


@pytest.mark.parametrize("width", [40, 60, 80, 100])
def test_no_line_is_longer_than_the_width(width: int) -> None:
    words = "the score of this piece lies outside its group and stays behind on the mat " * 3
    files = [_checked(_finding(message=words), _finding("tidy", message=words)), _checked()]
    report = whole_run([*files, UnreadableFile("notes.svg", words)])
    texts = [
        _text(*files, width=width),
        closing_as_text(report, width),
        rules_as_text(RULES, width),
    ]
    for line in "\n".join(texts).splitlines():
        # A command is never broken: it could not be copied then.
        assert len(line) <= width or line.startswith("  matready ")


def test_colour_changes_nothing_but_the_colour() -> None:
    files = [_checked(_finding(), _finding("caution"), _finding("tidy")), _checked()]
    plain, coloured = _text(*files), _text(*files, colour=True)
    assert "\x1b" not in plain
    assert "\x1b" in coloured
    assert click.unstyle(coloured) == plain


def test_names_out_of_a_file_cannot_steer_the_terminal() -> None:
    # XML 1.0 (2.2, Char) allows U+009B, which many terminals take for "escape [".
    assert shown("a\x9b31mb\x1b[2Jc\nd\te\u202ef\udcff") == "a?31mb?[2Jc d e?f?"
    text = _text(_checked(_finding(piece="tab\x9b31m", message="at \x9b piece"), path="a\nb.svg"))
    assert "\x9b" not in text
    assert "a b.svg" in text


def test_standard_input_is_called_by_its_name() -> None:
    assert _text(_checked(path="-")).startswith("standard input: clean")


def test_the_closing_counts_and_says_what_to_do_next() -> None:
    files = [_checked(_finding(), _finding(rule="double-cut"), _finding("tidy")), _checked()]
    text = closing_as_text(whole_run([*files, UnreadableFile("x.svg", "the file is empty")]), 200)
    totals, next_step, fix, other_step, explain, care = text.splitlines()
    assert totals == "2 files read: 2 faults, 1 tidy; 1 file clean; 1 not read."
    assert next_step == "Next: 3 of these can be fixed, in a copy that is proven:"
    assert fix == "  matready fix stage/arch.svg --out fixed"
    assert other_step.startswith("Or put the faults right in the drawing")
    assert explain == "  matready rules hairline-gap"
    assert care.startswith("Test-cut first")


def test_the_closing_says_how_many_need_the_word_to_reshape() -> None:
    findings = [_finding(), _finding(fix="reshaping")]
    text = closing_as_text(whole_run([_checked(*findings)]), 200)
    assert "2 of these can be fixed" in text
    assert "1 of them only with --reshape" in text
    assert "matready fix stage/arch.svg --out fixed" in text


def test_the_closing_asks_to_reshape_where_no_other_fix_would_do() -> None:
    text = closing_as_text(whole_run([_checked(_finding(fix="reshaping"))]), 200)
    assert "1 of these can be fixed, in a copy that is proven, but only with --reshape" in text
    assert "\n  matready fix stage/arch.svg --reshape --out fixed\n" in text


@pytest.mark.parametrize(
    ("typed", "command"),
    [
        (Typed(("stage",)), "stage --out fixed"),
        (Typed(("my theatre",)), '"my theatre" --out fixed'),
        (Typed(("fixed",)), "fixed --out fixed-again"),
        (Typed(("fixed/fixed-again",)), "fixed/fixed-again --out copies"),
        (Typed(("fixed/fixed-again/copies",)), "fixed/fixed-again/copies --out copies-2"),
        (Typed(("a.svg", "b.svg")), "a.svg b.svg --out fixed"),
        (Typed(("-",)), "PATH --out fixed"),
        (Typed(("a",), (("--stock", "my card"),)), 'a --stock "my card" --out fixed'),
    ],
)
def test_the_command_of_the_closing_can_be_copied(typed: Typed, command: str) -> None:
    files = [_checked(_finding(), path="a.svg"), _checked(_finding(), path="b.svg")]
    lines = closing_as_text(whole_run(files), 200, typed).splitlines()
    assert f"  matready fix {command}" in lines


def test_many_files_are_not_written_out_but_it_is_said_what_to_type() -> None:
    paths = [f"my theatre/wall-{number}.svg" for number in range(9)]
    run = whole_run([_checked(_finding(), path=path) for path in paths])
    text = closing_as_text(run, 200, Typed(tuple(paths)))
    assert "a copy that is proven; for PATH type the same names again:\n" in text
    assert "\n  matready fix PATH --out fixed\n" in text


def test_of_several_folders_not_all_files_in_them_are_named() -> None:
    paths = [f"{folder}/{number}.svg" for folder in ("fixed", "copies") for number in range(9)]
    run = whole_run([_checked(_finding(), path=path) for path in paths])
    text = closing_as_text(run, 200, Typed(("fixed", "fixed-again", "copies")))
    assert "\n  matready fix fixed fixed-again copies --out copies-2\n" in text


def test_a_fix_that_must_be_asked_for_is_asked_for_alone() -> None:
    finding = _finding("tidy", rule="hidden-line", asked=True)
    typed = Typed(("a",), (("--rule", "hidden-line"), ("--mat", "A4")))
    lines = closing_as_text(whole_run([_checked(finding)]), 200, typed).splitlines()
    assert "  matready fix a --mat A4 --rule hidden-line --out fixed" in lines


def test_the_closing_offers_no_fix_where_there_is_none() -> None:
    text = closing_as_text(whole_run([_checked(_finding(fix=None))]), 200)
    assert "matready fix" not in text
    assert "\nNext: put the faults right in the drawing" in text


def test_the_closing_of_a_clean_run_asks_for_nothing() -> None:
    totals, care = closing_as_text(whole_run([_checked()]), 200).splitlines()
    assert totals == "1 file read: nothing found."
    assert care.startswith("Test-cut first")


def test_a_file_that_was_not_read_is_named_with_its_sentence() -> None:
    reason = "the file is empty; export it again as SVG"
    files = [UnreadableFile("a.svg", reason), UnreadableFile("-", "not\nXML")]
    assert unreadable_as_text(files, colour=False).splitlines() == [
        f"a.svg: not read: {reason}",
        "standard input: not read: not XML",
    ]


def test_json_has_the_promised_keys_in_the_promised_order() -> None:
    file = _checked(_finding(), _finding("tidy"), silenced=3)
    data = as_json(whole_run([file, UnreadableFile("n.svg", "not XML")]))
    assert json.loads(data) == {
        "schema": "matready/lint-1",
        "files": [
            {
                "path": "stage/arch.svg",
                "size_mm": [304.8, 304.8],
                "lines": {"cut": 31, "score": 18, "draw": 0},
                "pieces": [
                    {
                        "name": "door",
                        "box_mm": [10.0, 10.0, 60.0, 110.0],
                        "area_mm2": 2411.3,
                        "holes": 1,
                        "scores": 6,
                    }
                ],
                "findings": [
                    {
                        "rule": "hairline-gap",
                        "severity": severity,
                        "message": "two cut ends stop 0.12 mm short of each other",
                        "at_mm": [40.2, 96.0],
                        "box_mm": [40.1, 95.9, 40.3, 96.1],
                        "line": 22,
                        "column": 7,
                        "elements": ["/svg/g[1]/path[3]"],
                        "piece": "door",
                        "measured": {"value": 0.12, "unit": "mm", "limit": 0.025},
                        "fix": "safe",
                    }
                    for severity in ("fault", "tidy")
                ],
                "not_checked": [],
                "silenced": 3,
            }
        ],
        "set": [],
        "unreadable": [{"path": "n.svg", "reason": "not XML"}],
        "totals": {"files": 1, "fault": 1, "caution": 0, "tidy": 1, "silenced": 3},
    }
    keys = [line.split('"')[1] for line in data.decode().splitlines() if line.startswith('  "')]
    assert keys == ["schema", "files", "set", "unreadable", "totals"]
    assert data.endswith(b"}\n")


def test_json_says_null_where_there_is_nothing() -> None:
    file = _checked(_finding(piece=None, measured=None, fix=None), size_mm=None)
    (read,) = json.loads(as_json(whole_run([file])))["files"]
    assert read["size_mm"] is None
    assert [read["findings"][0][key] for key in ("piece", "measured", "fix")] == [None] * 3


def test_json_keeps_a_file_name_that_is_not_text() -> None:
    # PEP 383: a byte that is not UTF-8 stands in a name as a lone surrogate.
    name = b"w\xffng.svg".decode("utf-8", "surrogateescape")
    (file,) = json.loads(as_json(whole_run([_checked(path=name)])))["files"]
    assert file["path"] == name


def _explained(cutout: object, limits: object) -> list[Any]:
    return []


@dataclass(frozen=True, slots=True)
class _Limits:
    """How far glue may go; see also hairline_mm."""

    reach_mm: Annotated[float, Limit("mm", "how far the glue may reach", "common practice")] = 2.50
    gap_mm: Annotated[float, Limit("mm", "what it may bridge", "invented", stock="bridge_mm")] = 1.0


_GLUE = Rule("glue-shadow", Severity.TIDY, _Limits, _explained, Grade.SAFE)


def test_a_rule_is_explained_with_its_limits_and_their_sources() -> None:
    text = rule_as_text(_GLUE, 200, InForce(Settings()))
    limits, _, distances = text.partition("Limits")[2].partition("Distances")
    assert limits.splitlines() == [
        " (settings: [rules.glue-shadow] in matready.toml)",
        "  reach_mm = 2.5 (mm)",
        "    how far the glue may reach",
        "    Source: common practice",
        "  gap_mm = 1 (mm)",
        "    what it may bridge",
        f"    Stock card-200 (200 g/m², 0.23 mm thick): {DESCRIBED['bridge_mm'].source}",
        "    Source: invented",
    ]
    assert "  hairline_mm = 0.5 (mm)\n" in distances


def test_a_rule_shows_what_is_in_force_beside_its_defaults() -> None:
    settings = Settings(
        distances=Distances(hairline_mm=0.3),
        stock=STOCKS["card-300"],
        skip=frozenset(["glue-shadow"]),
        rules={"glue-shadow": {"severity": "fault", "reach_mm": 4.0}},
    )
    text = rule_as_text(_GLUE, 200, InForce(settings, "set/matready.toml", for_some=True))
    assert text.startswith("glue-shadow (fault; by default tidy)\n")
    assert "\nIt does not run here: set/matready.toml skips it.\n" in text
    assert "  reach_mm = 4 (mm), by default 2.5\n" in text
    assert "    Set in set/matready.toml.\n    Source: common practice\n" in text
    assert "  gap_mm = 1.2 (mm), by default 1\n" in text
    assert "    Stock card-300 (300 g/m², 0.345 mm thick): " in text
    assert "  hairline_mm = 0.3 (mm), by default 0.5\n" in text
    assert text.endswith(
        "\nSome files have limits of their own: see [[files]] in set/matready.toml."
    )


def test_what_is_wrong_and_what_is_right_stand_on_lines_of_their_own() -> None:
    text = rule_as_text(RULES[0], 60, InForce(Settings()))
    drawing = text.partition("\nIn a drawing\n")[2].partition("\n\n")[0].splitlines()
    assert drawing[0].startswith("  Wrong: ")
    assert sum(line.startswith("  Right: ") for line in drawing) == 1
    assert all(line.startswith(("  Wrong: ", "  Right: ", " " * 9)) for line in drawing)


def test_what_the_drawings_silence_is_counted_once_at_the_end() -> None:
    files = [_checked(_finding(), silenced=1), _checked(silenced=1)]
    totals = closing_as_text(whole_run(files), 200).splitlines()[0]
    assert totals == "2 files read: 1 fault; 1 file clean; 2 findings silenced in the drawings."
    assert "silenced" not in closing_as_text(whole_run([_checked()]), 200)


def test_a_word_that_silences_nothing_is_told_and_the_file_is_still_clean() -> None:
    reason = 'line 4: data-matready-allow names no rule "x"; the nearest is "y"'
    text = _text(_checked(not_checked=(NotChecked(ALLOWING, reason),), path="wing.svg"), width=200)
    assert text.startswith("wing.svg: clean")
    assert f"\n  not silenced: {reason}" in text


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_reads_whole(rule: Rule) -> None:
    text = rule_as_text(rule, 80, InForce(Settings()))
    assert text.startswith(f"{rule.name} ({rule.severity})\n{rule.summary}\n")
    words = " ".join(text.split())
    for heading, body in rule.explanation.items():
        assert f"\n{heading}\n" in text
        assert " ".join(body.split()) in words
