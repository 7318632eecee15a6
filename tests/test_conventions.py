"""The house rules, held: what a rule brings, what may import what, how large things may get."""

from __future__ import annotations

import ast
import dataclasses
import fnmatch
import re
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, get_type_hints

import pytest

from matready.lint.finding import Point
from matready.lint.rule import HEADINGS, Limit, Rule
from matready.lint.runner import lint_bytes
from matready.lint.settings import Distances, Settings
from matready.rules import RULES

from tests.test_fixtures import CASES, FIXTURES, KINDS, Case
from tests.test_set_fixtures import SET_CASES, SetCase

ROOT = Path(__file__).resolve().parent.parent
ROOMS = {"fixtures", "lint", "rules", "tests"}
PAGES = {"DEVELOPERS.md", "README.md", "pyproject.toml"}
DOTFILES = (".editorconfig", ".gitattributes", ".gitignore", ".pre-commit-hooks.yaml")
MADE_BY_TOOLS = {"__pycache__"}

ENGINE_LINES = 400
RULE_LINES = 150
FUNCTION_LINES = 40  # of code: a docstring is not counted
DRAWING_LINES = 30

UNITS = {"_mm": "mm", "_mm2": "mm²", "_deg": "degrees", "_share": "share", "_count": "count"}
# One change of verdict is enough, and the largest factors are the likeliest to bring it.
FACTORS = (10.0, 0.0, 0.1, 2.0, 0.5, 1.25, 0.8, 1.05, 0.95)

EVERY_CASE: list[Case | SetCase] = [*CASES, *SET_CASES]

each_rule = pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)


def _modules(room: str) -> list[Path]:
    return sorted((ROOT / room).rglob("*.py"))


CODE = [path for room in ("lint", "rules", "tests") for path in _modules(room)]


def _id(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


each_module = pytest.mark.parametrize("path", CODE, ids=_id)


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


@cache
def _imports(path: Path) -> tuple[str, ...]:
    """Dotted names of everything that a module imports, wherever in it."""
    return tuple(_imported(path))


def _imported(path: Path) -> Iterator[str]:
    for node in ast.walk(_tree(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{_id(path)} imports by dots; write matready.…"
            module = node.module or ""
            yield from (f"{module}.{alias.name}" for alias in node.names)


# A rule


def test_the_list_of_rules_and_the_folder_agree() -> None:
    modules = {path.stem for path in _modules("rules")} - {"__init__"}
    assert {rule.name.replace("-", "_") for rule in RULES} == modules
    assert len({rule.name for rule in RULES}) == len(RULES)


@each_rule
def test_a_rule_is_named_after_the_defect(rule: Rule) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", rule.name)
    assert rule.name.split("-")[0] not in {"no", "avoid", "prefer", "use", "require"}
    assert rule.module == f"matready.rules.{rule.name.replace('-', '_')}"


@each_rule
def test_a_rule_explains_itself_under_the_headings(rule: Rule) -> None:
    assert tuple(rule.explanation) == HEADINGS
    assert all(rule.explanation.values())
    assert re.fullmatch(r"[A-Z].{10,78}\.", rule.summary)


@each_rule
def test_a_rule_shows_what_is_wrong_and_what_is_right(rule: Rule) -> None:
    drawing = rule.explanation["In a drawing"]
    assert re.fullmatch(r"Wrong: .{20,160}\.\nRight: .{20,160}\.", re.sub(r"\n {2,}", " ", drawing))


@each_rule
def test_a_rule_has_drawings_on_both_sides(rule: Rule) -> None:
    kinds = {case.drawing.parent.name for case in CASES if case.rule == rule.name}
    kinds |= {case.folder.parent.name for case in SET_CASES if case.rule == rule.name}
    assert kinds == set(KINDS)


def _described(limits: type[Any]) -> Iterator[tuple[str, Limit]]:
    hints = get_type_hints(limits, include_extras=True)
    for field in dataclasses.fields(limits):
        notes: tuple[object, ...] = getattr(hints[field.name], "__metadata__", ())
        assert len(notes) == 1, f"{field.name} needs one Limit(unit, meaning, source)"
        assert isinstance(notes[0], Limit)
        yield field.name, notes[0]


@pytest.mark.parametrize(
    "limits", [*(rule.limits for rule in RULES), Distances], ids=lambda limits: limits.__module__
)
def test_limits_are_frozen_and_say_unit_meaning_and_source(limits: type[Any]) -> None:
    assert limits.__dataclass_params__.frozen
    for name, limit in _described(limits):
        unit = UNITS.get(name[name.rfind("_") :])
        assert unit == limit.unit, f"{name} is in {limit.unit}; let its name end so: {UNITS}"
        assert len(limit.meaning) > 10
        assert len(limit.source) > 5


def _verdict(findings: list[dict[str, Any]]) -> list[tuple[Any, ...]]:
    """What a user would act on: not the sentence, nor the limit that is printed with it."""
    return [(f["rule"], f["severity"], f["at_mm"], f["piece"], f["fix"]) for f in findings]


@cache
def _usual(case: Case | SetCase) -> list[dict[str, Any]]:
    return case.findings()


@pytest.mark.parametrize(
    ("rule", "limit"),
    [(rule, name) for rule in RULES for name in rule.described_limits()],
    ids=lambda value: value if isinstance(value, str) else value.name,
)
def test_every_limit_is_read(rule: Rule, limit: str) -> None:
    default, _ = rule.described_limits()[limit]
    cases = [case for case in EVERY_CASE if case.rule == rule.name]
    assert any(
        _verdict(case.findings({limit: default * factor})) != _verdict(_usual(case))
        for factor in FACTORS
        for case in cases
    ), f"no drawing changes its verdict when {limit} changes"


@cache
def _places(case: Case, distances: Distances) -> list[Point | None]:
    settings = Settings(distances=distances)
    report = lint_bytes(case.drawing.read_bytes(), "x.svg", RULES, settings)
    return [finding.at_mm for finding in report.findings]


@pytest.mark.parametrize("name", [field.name for field in dataclasses.fields(Distances)])
def test_every_shared_distance_is_read(name: str) -> None:
    plain = Distances()
    for factor in FACTORS:
        if not factor:
            continue  # no distance may be none at all
        changed = dataclasses.replace(plain, **{name: getattr(plain, name) * factor})
        for case in CASES:
            if _places(case, plain) != _places(case, changed):
                return
    pytest.fail(f"no drawing changes its verdict when {name} changes")


GRADES = (None, "safe", "reshaping")


@each_rule
def test_the_declared_fix_is_the_riskiest_that_findings_promise(rule: Rule) -> None:
    promised = {
        GRADES.index(finding["fix"])
        for case in EVERY_CASE
        if case.rule == rule.name
        for finding in _usual(case)
        if finding["rule"] == rule.name
    }
    assert max(promised) == GRADES.index(rule.fixes.value if rule.fixes else None)


@each_rule
def test_a_rule_that_promises_a_fix_has_a_fixed_drawing(rule: Rule) -> None:
    fixed = any(case.fixed_file.exists() for case in CASES if case.rule == rule.name)
    assert fixed == (rule.fixes is not None)


# Drawings


def test_no_drawing_stands_alone() -> None:
    folders = {path.name for path in FIXTURES.iterdir() if path.is_dir()} - MADE_BY_TOOLS
    tests = "\n".join(path.read_text("utf-8") for path in _modules("tests"))
    names = {rule.name for rule in RULES}
    unread = [name for name in folders - names if f'"{name}"' not in tests]
    assert unread == [], "folders of drawings that no test names"
    allowed = {
        file for case in CASES for file in (case.drawing, case.expected_file, case.fixed_file)
    }
    allowed |= {file for case in SET_CASES for file in (*case.drawings, case.expected_file)}
    found = {path for name in names for path in (FIXTURES / name).rglob("*") if path.is_file()}
    assert found - allowed == set()


SHOWN = [*(case.drawing for case in CASES), *(path for case in SET_CASES for path in case.drawings)]


@pytest.mark.parametrize("drawing", SHOWN, ids=_id)
def test_a_drawing_is_short_and_says_what_it_shows(drawing: Path) -> None:
    text = drawing.read_text("utf-8")
    assert len(text.splitlines()) <= DRAWING_LINES
    assert re.search(r"<title[^>]*>[^<]{5,}</title>", text)


# Who knows whom


def test_the_engine_knows_no_rule() -> None:
    engine = [path for path in _modules("lint") if path.name != "cli.py"]
    named = [(_id(path), name) for path in engine for name in _imports(path)]
    assert len(engine) > 100
    assert [one for one in named if one[1].startswith("matready.rules")] == []


@pytest.mark.parametrize("path", _modules("rules"), ids=_id)
def test_a_rule_knows_no_other_rule_and_reads_nothing(path: Path) -> None:
    barred = ("io", "os", "pathlib", "random", "time", "matready.lint.settings", "matready.rules")
    if path.name != "__init__.py":
        names = list(_imports(path))
        assert not [n for n in names if any(n == b or n.startswith(f"{b}.") for b in barred)]


def test_the_program_is_always_imported_by_its_full_name() -> None:
    tops = {_id(path): {name.split(".")[0] for name in _imports(path)} for path in CODE}
    assert [path for path, names in tops.items() if names & {"lint", "rules"}] == []


# Size and shape


@each_module
def test_a_module_starts_with_what_it_is_for(path: Path) -> None:
    tree = _tree(path)
    assert ast.get_docstring(tree)
    code = any(isinstance(node, ast.FunctionDef | ast.ClassDef) for node in tree.body)
    assert not code or "__future__.annotations" in set(_imports(path))


@pytest.mark.parametrize("path", [*_modules("lint"), *_modules("rules")], ids=_id)
def test_a_module_is_small_enough_to_be_read(path: Path) -> None:
    limit = RULE_LINES if path.parent.name == "rules" else ENGINE_LINES
    assert len(path.read_text("utf-8").splitlines()) <= limit


@pytest.mark.parametrize("path", [*_modules("lint"), *_modules("rules")], ids=_id)
def test_a_function_is_small_enough_to_be_seen(path: Path) -> None:
    long = {}
    for node in ast.walk(_tree(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            lines = (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
            if lines > FUNCTION_LINES:
                long[node.name] = lines
    assert long == {}


@pytest.mark.parametrize("path", _modules("tests"), ids=_id)
def test_no_test_is_put_off(path: Path) -> None:
    put_off = re.compile(r"pytest\.(mark\.)?(skip|skipif|xfail|importorskip)")
    used = (ast.unparse(node) for node in ast.walk(_tree(path)) if isinstance(node, ast.Attribute))
    assert not [name for name in used if put_off.fullmatch(name)]


# The checkout


def _own_files() -> list[Path]:
    """Every file of the project, without what tools leave behind."""
    shown = [ROOT / name for name in (*sorted(PAGES), *DOTFILES)]
    inside = [
        path
        for room in (*sorted(ROOMS), ".ci")
        for path in sorted((ROOT / room).rglob("*"))
        if path.is_file() and MADE_BY_TOOLS.isdisjoint(path.parts)
    ]
    return shown + inside


def test_the_top_level_holds_the_rooms_and_nothing_else() -> None:
    ignored = [line.rstrip("/") for line in (ROOT / ".gitignore").read_text().splitlines()]
    extra = [
        path.name
        for path in ROOT.iterdir()
        if path.name not in ROOMS | PAGES
        and not path.name.startswith(".")
        and not any(fnmatch.fnmatch(path.name, pattern) for pattern in ignored)
    ]
    assert extra == []


def test_every_package_is_installed_and_typed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    folders = {
        "matready." + path.parent.relative_to(ROOT).as_posix().replace("/", ".")
        for room in ("lint", "rules")
        for path in _modules(room)
    }
    assert set(project["tool"]["setuptools"]["packages"]) == folders
    assert (ROOT / "lint" / "py.typed").exists()
    assert (ROOT / "rules" / "py.typed").exists()


# Told apart by their halves, so that this file is not its own finding.
WORKPLACE = [
    one + two for one, two in (("trans", "cript"), ("seed doc", "ument"), ("hel", "per [A-Z]"))
]
MACHINE = ["/" + name + "/" for name in ("root", "work", "Users")] + [
    "/ho" + r"me/\w",
    r"\b[A-Z]:\\",
]
REGISTRY = ["py" + r"pi\.org", "files.python" + "hosted"]


def _said(pattern: str, paths: Iterable[Path]) -> dict[str, list[str]]:
    """What matches a pattern, by file: a test for each file would take longer than to read it."""
    texts = {_id(path): path.read_bytes().decode("utf-8", "replace") for path in paths}
    found = {name: [m[0] for m in re.finditer(pattern, text)] for name, text in texts.items()}
    return {name: said for name, said in found.items() if said}


def test_nothing_speaks_of_the_place_it_was_made_at() -> None:
    files = _own_files()
    assert len(files) > 1000
    assert _said("|".join((*WORKPLACE, *MACHINE, *REGISTRY)), files) == {}


def test_what_is_to_be_done_is_not_left_in_comments() -> None:
    marks = "|".join(one + two for one, two in (("TO", "DO"), ("FIX", "ME"), ("XX", "X")))
    assert _said(rf"\b({marks})\b", CODE) == {}
