"""Each rule has a page and two pictures in rules/pages, made of its module and its fixtures.

`pytest --record` writes them. What matready says below a picture is what stands beside the fixture.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
import resvg_py
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from PIL import Image, ImageColor

from matready.lint.cli import main
from matready.lint.figures.palette import PALETTE
from matready.lint.reports.markdown import escaped, name_escaped
from matready.lint.reports.rule_markdown import (
    Picture,
    index_as_markdown,
    page_name,
    pages_folder,
    picture_name,
    pictures_in,
    rule_as_markdown,
)
from matready.lint.rule import Rule
from matready.lint.settings import SettingsFinder
from matready.rules import RULES

from tests.picturing.chosen import CHOSEN
from tests.picturing.pictures import pictures_of

PAGES = pages_folder(RULES[0])
INDEX = PAGES / "README.md"
MOST_BYTES = 600_000

each_rule = pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)


def _hold(path: Path, text: str, record: bool) -> None:
    if record:
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text.encode())
    assert path.read_bytes().decode() == text


@each_rule
def test_a_page_is_what_its_rule_and_its_pictures_say(rule: Rule, record: bool) -> None:
    for kind, text in pictures_of(rule).items():
        _hold(PAGES / picture_name(rule, kind), text, record)
    pictures = pictures_in(PAGES, rule, PAGES)
    assert [bool(picture.said) for picture in pictures] == [True, False]
    _hold(PAGES / page_name(rule), rule_as_markdown(rule, pictures), record)


def test_the_list_of_pages_is_the_rules(record: bool) -> None:
    _hold(INDEX, index_as_markdown(RULES), record)


def test_no_page_is_left_of_a_rule_that_is_gone(record: bool) -> None:
    kinds = ("flagged", "clean")
    wanted = {INDEX, *(PAGES / page_name(rule) for rule in RULES)}
    wanted |= {PAGES / picture_name(rule, kind) for rule in RULES for kind in kinds}
    there = set(PAGES.iterdir())
    if record:
        for path in there - wanted:
            path.unlink()
        return
    assert there == wanted
    assert CHOSEN.keys() == {rule.name for rule in RULES}
    assert sum(path.stat().st_size for path in there) < MOST_BYTES


def test_a_picture_needs_nothing_from_elsewhere() -> None:
    # A page may lie anywhere, and a picture in a page may load nothing (SVG 2, secure static mode).
    for path in PAGES.glob("*.svg"):
        root = etree.fromstring(path.read_bytes())
        for element in root.iter("*"):
            assert etree.QName(element).localname not in ("script", "foreignObject")
            for name, value in element.attrib.items():
                if str(name).endswith(("href", "src")):
                    assert str(value).startswith(("#", "data:")), path.name


@pytest.mark.parametrize("name", ["picture-inside", "loose-score"])
def test_pictures_can_be_drawn_by_another_program(name: str) -> None:
    # resvg knows no media queries, so it draws them for a light page.
    for kind in ("flagged", "clean"):
        text = (PAGES / f"{name}-{kind}.svg").read_text("utf-8")
        data = bytes(resvg_py.svg_to_bytes(svg_string=text))
        with Image.open(io.BytesIO(data)) as drawn:
            colours = {colour for _, colour in drawn.convert("RGB").getcolors(1 << 20) or ()}
        inks = {ImageColor.getrgb(PALETTE[name].light) for name in ("room", "card", "cut")}
        assert inks <= colours


@each_rule
def test_settings_on_a_page_can_be_used(rule: Rule, tmp_path: Path) -> None:
    (block,) = re.findall(r"```toml\n(.*?)```", rule_as_markdown(rule, []), re.DOTALL)
    (tmp_path / "matready.toml").write_text(block, "utf-8")
    settings = SettingsFinder(None, RULES).for_folder(tmp_path).settings
    assert not settings.wants(rule)
    assert settings.severity(rule) not in (None, rule.severity)
    assert settings.limits(rule) == rule.limits()


# Markdown, by CommonMark 0.31.2 and, for tables, GitHub's dialect (GFM 0.29).


@pytest.mark.parametrize(
    ("plain", "markdown"),
    [
        ("2 < 3 & *all* [x]", r"2 \< 3 \& \*all\* \[x\]"),  # §2.4, backslash escapes
        ("see `a*b` and *c*", r"see `a*b` and \*c\*"),  # §6.1, code spans: no escape works inside
        ("a ` alone, *c*", r"a \` alone, \*c\*"),
        ("join_mm and _this_", r"join_mm and \_this\_"),  # §6.2, within a word _ is a letter
        ("# no heading", r"\# no heading"),  # §4.2
        ("- no list", r"\- no list"),  # §5.2
        ("12. no list", r"12\. no list"),
        ("2.5 mm", "2.5 mm"),
    ],
)
def test_words_are_shown_as_they_are(plain: str, markdown: str) -> None:
    assert escaped(plain) == markdown


@given(st.text(alphabet="ab1 _*<>[]&~\\#.-|", max_size=12))
def test_taking_the_backslashes_away_gives_the_words_back(plain: str) -> None:
    # §2.4: a backslash before ASCII punctuation is no letter, any other one is.
    markdown = escaped(plain)
    assert re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", markdown) == plain
    assert not re.search(r"[*<>\[\]&~]", re.sub(r"\\.", "", markdown))


@given(st.text(alphabet="ab1 `_*<>[]&~\\#.-|", max_size=12))
def test_no_code_is_seen_in_a_name_out_of_a_file(plain: str) -> None:
    markdown = name_escaped(plain)
    words = " ".join(plain.split())
    assert re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", markdown) == words
    assert not re.search(r"[`*<>\[\]&~]", re.sub(r"\\.", "", markdown))


@each_rule
def test_a_table_has_as_many_cells_in_every_row(rule: Rule) -> None:
    # GFM §4.10: a pipe ends a cell wherever it stands, also in code, but after a backslash.
    text = (PAGES / page_name(rule)).read_text("utf-8")
    tables = re.findall(r"(?:^\|.*\n)+", text, re.MULTILINE)
    for table in tables:
        cells = {len(re.findall(r"(?<!\\)\|", row)) for row in table.splitlines()}
        assert len(cells) == 1, table


def test_a_pipe_ends_no_cell() -> None:
    rule = RULES[0]
    assert r"a\|b" in index_as_markdown([_named("a|b", rule)])


def _named(summary: str, rule: Rule) -> Rule:
    copy = Rule(rule.name, rule.severity, rule.limits, rule.check)
    copy.__dict__["summary"] = summary  # where cached_property keeps it
    return copy


def test_alt_text_is_words_alone() -> None:
    picture = Picture("flagged", "x.svg", "A `use` of [one]", ("fault: <b> is *gone*",))
    (line,) = re.findall(r"^!\[.*$", rule_as_markdown(RULES[0], [picture]), re.MULTILINE)
    assert line == r"![Flagged: A use of \[one\]. fault: \<b\> is \*gone\*](x.svg)"


# The command


def _printed(*args: str) -> str:
    result = CliRunner().invoke(main, ["rules", *args, "--markdown"], prog_name="matready")
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def test_the_command_prints_the_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(PAGES)
    pages = [(PAGES / page_name(rule)).read_text("utf-8") for rule in RULES]
    assert _printed() == "\n".join(pages)
    assert _printed(RULES[3].name) == pages[3]


def test_links_lead_from_where_one_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    links = re.findall(r"\]\((.+\.svg)\)", _printed("double-cut"))
    assert [(tmp_path / link).resolve().name for link in links] == [
        "double-cut-flagged.svg",
        "double-cut-clean.svg",
    ]
    assert all((tmp_path / link).is_file() for link in links)


def test_a_page_does_without_pictures_where_there_are_none(tmp_path: Path) -> None:
    assert pictures_in(tmp_path, RULES[0], tmp_path) == []
    assert "](" not in rule_as_markdown(RULES[0], [])


def test_a_page_of_no_rule_is_one_sentence() -> None:
    result = CliRunner().invoke(main, ["rules", "doublecut", "--markdown"])
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith('matready: no rule is named "doublecut"; the nearest is "doub')
    assert result.stderr.count("\n") == 1
