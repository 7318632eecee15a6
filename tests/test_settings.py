"""Settings: what `matready.toml` may hold, what it may not, and which one counts."""

from __future__ import annotations

import pickle
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.cutting import Cutout
from matready.lint.finding import Finding, Severity
from matready.lint.rule import Limit, Rule
from matready.lint.settings import (
    BadSettings,
    Distances,
    Reading,
    Settings,
    SettingsFinder,
)
from matready.lint.stocks import STOCKS
from matready.rules import RULES as REAL_RULES

from tests.conftest import ROOT

DEFAULT_DISTANCES = {
    "join_mm": 0.025,
    "hairline_mm": 0.5,
    "same_place_mm": 0.05,
    "flatten_mm": 0.01,
}


@dataclass(frozen=True, slots=True)
class CurtainLimits:
    """Limits of an invented rule."""

    hem_mm: Annotated[float, Limit("mm", "a hem this narrow frays", "invented")] = 3.0
    rings: Annotated[int, Limit("", "fewer rings let it sag", "invented")] = 4
    cloth: str = "felt"


@dataclass(frozen=True, slots=True)
class NoLimits:
    """A rule without limits."""


def _nothing(_: Cutout, __: Any) -> Iterator[Finding]:
    yield from ()


SHORT_CURTAIN = Rule("short-curtain", Severity.FAULT, CurtainLimits, _nothing)
LOOSE_BUNTING = Rule("loose-bunting", Severity.TIDY, NoLimits, _nothing)
RULES = (SHORT_CURTAIN, LOOSE_BUNTING)


def _read(folder: Path, text: str | bytes) -> Settings:
    data = text if isinstance(text, bytes) else text.encode()
    (folder / "matready.toml").write_bytes(data)
    return SettingsFinder(None, RULES).for_file(folder / "arch.svg")


def test_defaults_are_those_of_the_documents() -> None:
    assert {f.name: getattr(Distances(), f.name) for f in fields(Distances)} == DEFAULT_DISTANCES
    settings = Settings()
    assert (settings.fail_on, settings.mat, settings.skip) == ("caution", None, frozenset())
    assert settings.limits(SHORT_CURTAIN) == CurtainLimits()
    assert settings.severity(SHORT_CURTAIN) is None


def test_hp_gl_step_is_the_joining_distance() -> None:
    # HP-GL/2 reference (PCL 5 Technical Reference, 17): a plotter unit is 0.025 mm, 1016 an inch.
    assert Distances().join_mm == pytest.approx(25.4 / 1016)
    assert Distances().same_place_mm == pytest.approx(2 * 25.4 / 1016)


def test_every_distance_is_explained() -> None:
    hints = get_type_hints(Distances, include_extras=True)
    for name in DEFAULT_DISTANCES:
        (limit,) = hints[name].__metadata__
        assert limit.unit == "mm"
        assert limit.meaning
        assert limit.source


def test_a_full_file_is_read(tmp_path: Path) -> None:
    settings = _read(
        tmp_path,
        """
        mat = "12x24in"
        skip = ["loose-bunting"]
        fail-on = "never"

        [distances]
        hairline_mm = 1
        flatten_mm = 0.02

        [read]
        cut-words = ["blade", " red pen "]
        score-colours = ["#0AF", "rgb(0, 128, 0)", "Magenta"]
        dashes = "cut"

        [rules.short-curtain]
        severity = "tidy"
        hem_mm = 5
        rings = 6
        """,
    )
    assert settings == Settings(
        distances=Distances(hairline_mm=1.0, flatten_mm=0.02),
        read=Reading(
            cut_words=("blade", "red pen"),
            # CSS Color 3: three digits are doubled; green is half as bright as lime.
            score_colours=("#00aaff", "#008000", "#ff00ff"),
            dashes="cut",
        ),
        mat=(304.8, 609.6),
        skip=frozenset({"loose-bunting"}),
        fail_on="never",
        rules={"short-curtain": {"severity": "tidy", "hem_mm": 5.0, "rings": 6}},
    )
    assert settings.limits(SHORT_CURTAIN) == CurtainLimits(hem_mm=5.0, rings=6)
    assert isinstance(settings.limits(SHORT_CURTAIN).hem_mm, float)
    assert settings.severity(SHORT_CURTAIN) is Severity.TIDY
    assert settings.severity(LOOSE_BUNTING) is None
    assert pickle.loads(pickle.dumps(settings)) == settings  # noqa: S301


def test_an_empty_file_changes_nothing(tmp_path: Path) -> None:
    assert _read(tmp_path, "") == Settings()
    assert _read(tmp_path, "[rules]\n[distances]\n[read]\n") == Settings()


def test_a_byte_order_mark_and_crlf_are_read(tmp_path: Path) -> None:
    assert _read(tmp_path, b'\xef\xbb\xbfmat = "A4"\r\n').mat == (210.0, 297.0)


REFUSED = [
    # unknown keys: the nearest known one, or the place where the key belongs
    ('fail_on = "never"', '"fail_on"', '"fail-on"'),
    ("skips = []", '"skips"', '"skip"'),
    ("stok = []", '"stok"', '"stock"'),
    ('only = ["loose-bunting"]', '"only"', "known key"),
    ("[distances]\nhairlin_mm = 0.4", '"hairlin_mm"', '"hairline_mm"'),
    ("[distances]\njoin-mm = 0.4", '"join-mm"', '"join_mm"'),
    ('[read]\ncut-colors = ["red"]', '"cut-colors"', '"cut-colours"'),
    ("[rules.short-curtain]\nhem = 2", '"hem"', '"hem_mm"'),
    ('[rules.short-curtain]\ncloth = "silk"', '"cloth"', '"'),
    ("[rules.loose-bunting]\nlength_mm = 2", '"length_mm"', '"severity"'),
    ('[distances]\nmat = "A4"', '"mat"', "top of the file"),
    ("hairline_mm = 0.4", '"hairline_mm"', "[distances]"),
    ('cut-words = ["blade"]', '"cut-words"', "[read]"),
    # unknown rules
    ('skip = ["short-curtains"]', '"short-curtains"', '"short-curtain"'),
    ("[rules.bunting]", "rules.bunting", '"loose-bunting"'),
    # wrong types
    ('[distances]\njoin_mm = "wide"', "join_mm", "a number"),
    ("[distances]\njoin_mm = true", "join_mm", "not true"),
    ("[distances]\njoin_mm = [1]", "join_mm", "a number"),
    ("distances = 3", '"distances"', "[distances]"),
    ("read = []", '"read"', "[read]"),
    ("rules = 1", '"rules"', "[rules.NAME]"),
    ("[rules]\nshort-curtain = 1", "rules.short-curtain", "must be a table"),
    ('skip = "short-curtain"', "skip", "a list"),
    ("skip = [3]", "skip", "a list"),
    ("mat = 12", "mat", "12x12in"),
    ("fail-on = 3", "fail-on", "fault, caution, tidy or never"),
    ("[rules.short-curtain]\nrings = 4.5", "rings", "whole number"),
    ("[rules.short-curtain]\nhem_mm = 2024-01-01", "hem_mm", "2024-01-01"),
    ('[read]\ncut-words = [""]', "cut-words", "list of words"),
    ('[read]\ncut-words = ["--"]', "cut-words", "list of words"),
    ('[read]\ncut-words = "blade"', "cut-words", "list of words"),
    # impossible values
    ("[distances]\njoin_mm = -1", "join_mm", "-1"),
    ("[distances]\njoin_mm = 0", "join_mm", "between 0.0001 and 1 mm, not 0"),
    ("[distances]\njoin_mm = 1.1\nhairline_mm = 2", "join_mm", "between 0.0001 and 1 mm"),
    ("[distances]\nhairline_mm = 500", "hairline_mm", "between 0.0001 and 5 mm, not 500"),
    ("[distances]\nhairline_mm = 5\nsame_place_mm = 2", "same_place_mm", "and 1 mm, not 2"),
    ("[distances]\nflatten_mm = 0.6", "flatten_mm", "between 0.0001 and 0.5 mm, not 0.6"),
    ("[distances]\nhairline_mm = nan", "hairline_mm", "nan"),
    ("[distances]\nhairline_mm = inf", "hairline_mm", "inf"),
    (f"[distances]\nhairline_mm = {'9' * 400}", "hairline_mm", "999..."),
    (f"[distances]\nhairline_mm = 0x{'F' * 9000}", "hairline_mm", "digits"),
    (f"skip = [0x{'F' * 9000}]", "skip", "digits"),
    ("[distances]\njoin_mm = 0.5", "join_mm", "hairline_mm"),
    ("[distances]\nhairline_mm = 0.02", "join_mm", "hairline_mm"),
    ("[distances]\nsame_place_mm = 0.6", "same_place_mm", "hairline_mm"),
    ("[distances]\nflatten_mm = 0.03", "flatten_mm", "same_place_mm"),
    ("[rules.short-curtain]\nhem_mm = -0.1", "hem_mm", "-0.1"),
    ("[rules.short-curtain]\nhem_mm = nan", "hem_mm", "nan"),
    ("[rules.short-curtain]\nhem_mm = 101", "hem_mm", "between 0 and 100 mm, not 101"),
    ("[rules.short-curtain]\nrings = 100001", "rings", "between 0 and 100,000, not 100001"),
    ("[sheets]\nmargin_mm = 101", "margin_mm", "between 0 and 100 mm, not 101"),
    ("[sheets]\nspeed_mm_s = 1001", "speed_mm_s", "between 0.1 and 1,000 mm/s, not 1001"),
    ('[rules.short-curtain]\nseverity = "error"', "severity", "fault, caution or tidy"),
    ('fail-on = "error"', "fail-on", "fault, caution, tidy or never"),
    ('mat = "leter"', "mat", "Letter"),
    ('[read]\ndashes = "fold"', "dashes", "cut, score or draw"),
    ('[read]\ncut-colours = ["scarlet"]', "cut-colours", '"scarlet"'),
    ('[read]\ncut-colours = ["currentColor"]', "cut-colours", "no colour"),
    ('[read]\ncut-colours = ["rgba(0,0,0,.5)"]', "cut-colours", "no colour"),
    ('[read]\ncut-colours = ["red"]\ndraw-colours = ["#f00"]', "draw-colours", "cut-colours"),
    ('[read]\ncut-words = ["Pen"]\nscore-words = ["pen"]', "score-words", "cut-words"),
    # settings for some files
    ("files = 3", '"files"', "[[files]]"),
    ('[files]\nmatch = "*"', '"files"', "[[files]]"),
    ("files = [1]", '"files"', "[[files]]"),
    ('[[files]]\nmat = "A4"', "[[files]] number 1", "match"),
    ('[[files]]\nmatch = "a"\n[[files]]\nmatch = ""', "[[files]] number 2", "empty"),
    ('[[files]]\nmatch = "  "', "match under [[files]] number 1", "empty"),
    ("[[files]]\nmatch = []", "match under [[files]] number 1", "list"),
    ("[[files]]\nmatch = 3", "match under [[files]] number 1", "not 3"),
    ('[[files]]\nmatch = ["a", 3]', "match under [[files]] number 1", "list"),
    ('[[files]]\nmatch = "/wings/*.svg"', "match under [[files]] number 1", "folder on"),
    ('[[files]]\nmatch = "C:/wings/*.svg"', "match under [[files]] number 1", "folder on"),
    ('[[files]]\nmatch = "../*.svg"', "match under [[files]] number 1", "without . and .."),
    ('[[files]]\nmatch = "a/../b"', "match under [[files]] number 1", "without . and .."),
    ('[[files]]\nmatch = "./a"', "match under [[files]] number 1", "without . and .."),
    ("[[files]]\nmatch = 'a\\b'", "match under [[files]] number 1", "/ between"),
    ('[[files]]\nmatch = "wings/"', "match under [[files]] number 1", "wings/**"),
    ('[[files]]\nmatch = "a**/b"', "match under [[files]] number 1", "** alone"),
    ('[[files]]\nmatch = "*"\nmatt = "A4"', '"matt" under [[files]] number 1', '"mat'),
    ('[[files]]\nmatch = "*"\nhairline_mm = 1', "[[files]] number 1", "[distances]"),
    ('[[files]]\nmatch = "*"\n[[files.files]]\nmatch = "*"', '"files"', "top level"),
    ('[[files]]\nmatch = "*"\n[files.stocks.felt]\nlike = "card-200"', '"stocks"', "top level"),
    ('[[files]]\nmatch = "*"\n[files.read]\nmat = "A4"', "[files.read]", "[[files]]"),
    ('match = "*"', '"match"', "[[files]]"),
    (
        '[[files]]\nmatch = "*"\n[files.distances]\njoin = 1',
        '"join" under [files.distances] of [[files]] number 1',
        '"join_mm"',
    ),
    (
        '[[files]]\nmatch = "*"\n[files.rules.short-curtain]\nhem_mm = "x"',
        "hem_mm under [files.rules.short-curtain] of [[files]] number 1",
        "a number",
    ),
    ('[[files]]\nmatch = "*"\n[files.rules.bunting]', "[files.rules.bunting]", "loose-bunting"),
    ('[[files]]\nmatch = "*"\nskip = ["bunting"]', "skip under [[files]]", "loose-bunting"),
    ('[[files]]\nmatch = "*"\nfail-on = "no"', "fail-on under [[files]]", "never"),
    ('[[files]]\nmatch = "*"\nstock = "card"', "[[files]] number 1", '"card-'),
    (
        '[[files]]\nmatch = "*"\n[files.distances]\njoin_mm = 0.6',
        "[[files]] number 1",
        "less than hairline_mm",
    ),
    (
        '[read]\ncut-words = ["pen"]\n[[files]]\nmatch = "*"\n[files.read]\ndraw-words = ["Pen"]',
        "[[files]] number 1",
        "so does cut-words",
    ),
    # stocks
    ("stock = 200", "stock", "a text such as"),
    ("stocks = 3", '"stocks"', "[stocks.NAME]"),
    ("[stocks]\nfelt = 3", "stocks.felt", "must be a table"),
    ("[stocks.felt]", "[stocks.felt]", "needs thickness_mm"),
    ("[stocks.felt]\ntie_mm = 1", "[stocks.felt]", "needs thickness_mm"),
    ("[stocks.felt]\nthickness = 1", '"thickness" under [stocks.felt]', '"thickness_mm"'),
    ("[stocks.felt]\nthickness_mm = 0", "thickness_mm under [stocks.felt]", "between 0.01"),
    ("[stocks.felt]\nthickness_mm = 230", "thickness_mm under [stocks.felt]", "and 10 mm"),
    ("[stocks.felt]\ngrammage_g_m2 = 9e3", "grammage_g_m2", "between 1 and 8,000 g/m²"),
    ('[stocks.felt]\nlike = "card-200"\nleast_cut_share = 50', "least_cut_share", "1, as a share"),
    ('[stocks.felt]\nlike = "card-200"\nleast_cut_share = 0.9', "least_cut_share", "0.8"),
    ('[stocks.felt]\nlike = "card-210"', "like under [stocks.felt]", '"card-2'),
    ("[stocks.felt]\nlike = 200", "like under [stocks.felt]", "a text"),
    ('[stocks.felt]\nlike = "felt"', "like under [stocks.felt]", "leads back"),
    ('[stocks.a]\nlike = "b"\n[stocks.b]\nlike = "a"', "like under [stocks.", "leads back"),
    ("[stocks.card-200]\nthickness_mm = 1", "[stocks.card-200]", "built-in"),
    # no TOML at all
    ("mat = \n", "not TOML", "line 1"),
    ('mat = "A4"\nmat = "A5"\n', "not TOML", "line 2"),
    ("stock = card-250", "not TOML", "straight quotes"),
    ("mat = 12x12in", "not TOML", "straight quotes"),
    ("mat = \u201cA4\u201d", "not TOML", "straight quotes"),
    ('stock = "felt"\n[stock.felt]\nlike = "card-250"', "not TOML", "[stocks.NAME]"),
    ('[rules.short-curtain]\nseverity = "off"', "severity under", "name it in skip"),
    (f"a = {'[' * 5000}", "not TOML", "deep"),
    (f"a = {'9' * 5000}", "cannot be read", "digits"),
    (b'mat = "\xff"', "UTF-8", "save"),
    ('"a\\nb" = 1', "unknown key", "a b"),
]


@pytest.mark.parametrize(("text", "names", "says"), REFUSED)
def test_what_cannot_be_used_is_refused_with_one_sentence(
    tmp_path: Path, text: str | bytes, names: str, says: str
) -> None:
    with pytest.raises(BadSettings) as caught:
        _read(tmp_path, text)
    sentence = str(caught.value)
    assert sentence.startswith(str(tmp_path / "matready.toml"))
    assert names in sentence
    assert says in sentence
    assert len(sentence.splitlines()) == 1
    assert len(sentence) < len(str(tmp_path)) + 300


def test_limits_that_touch_are_allowed(tmp_path: Path) -> None:
    text = "[distances]\nsame_place_mm = 0.5\nflatten_mm = 0.25\njoin_mm = 0.49\n"
    assert _read(tmp_path, text).distances == Distances(0.49, 0.5, 0.5, 0.25)
    assert _read(tmp_path, "[rules.short-curtain]\nhem_mm = 0\n").rules
    assert _read(tmp_path, "[distances]\nhairline_mm = 5\n").distances.hairline_mm == 5
    assert _read(tmp_path, "[rules.short-curtain]\nhem_mm = 100\n").rules


@given(st.binary(max_size=60))
def test_any_bytes_are_settings_or_one_error(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        try:
            _read(Path(folder), data)
        except BadSettings as error:
            assert len(str(error).splitlines()) == 1


VALUES = st.recursive(
    st.booleans() | st.integers() | st.floats() | st.sampled_from(["A4", "cut", "tidy", ""]),
    lambda inner: st.lists(inner, max_size=2),
    max_leaves=3,
)
KEYS = st.sampled_from(
    [
        *("mat", "stock", "skip", "fail-on", "distances", "read", "rules", "files", "stocks"),
        *("join_mm", "dashes", "match", "like", "thickness_mm", "tie_mm", "least_cut_share"),
    ]
)
TABLES = st.sampled_from(
    [
        *("", "[distances]\n", "[read]\n", "[rules.short-curtain]\n", "[stocks.felt]\n"),
        *('[[files]]\nmatch = "*"\n', "[[files]]\n", '[[files]]\nmatch = "*"\n[files.read]\n'),
    ]
)


def to_toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(map(to_toml, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)


@given(KEYS, VALUES, TABLES)
def test_any_value_is_used_or_refused(key: str, value: object, table: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        try:
            settings = _read(Path(folder), f"{table}{key} = {to_toml(value)}\n")
        except BadSettings as error:
            # A table that is not complete, or holds a key twice, is told before what is in it.
            others = ("match = ", "[stocks.felt] needs", "cannot overwrite")
            assert any(word in str(error) for word in (key, *others))
        else:
            assert pickle.loads(pickle.dumps(settings)) == settings  # noqa: S301


# Settings for some files


def _finder(folder: Path, text: str) -> SettingsFinder:
    (folder / "matready.toml").write_text(text)
    return SettingsFinder(None, RULES)


def test_what_is_set_for_some_files_is_laid_over_the_rest_key_by_key(tmp_path: Path) -> None:
    finder = _finder(
        tmp_path,
        """
        mat = "A4"
        skip = ["loose-bunting"]
        [distances]
        hairline_mm = 0.4
        join_mm = 0.03
        [read]
        cut-words = ["blade"]
        [rules.short-curtain]
        hem_mm = 5
        rings = 6

        [[files]]
        match = "wings/*.svg"
        mat = "A3"
        stock = "card-300"
        skip = []
        fail-on = "never"
        [files.distances]
        hairline_mm = 0.6
        [files.read]
        score-words = ["bend"]
        [files.rules.short-curtain]
        hem_mm = 7
        [files.rules.loose-bunting]
        severity = "fault"

        [[files]]
        match = ["wings/left*.svg", "*.svgz"]
        mat = "A5"
        [files.rules.short-curtain]
        hem_mm = 9
        """,
    )
    plain = finder.for_file(tmp_path / "arch.svg")
    assert (plain.mat, plain.stock.name) == ((210.0, 297.0), "card-200")
    wing = finder.for_file(tmp_path / "wings" / "right.svg")
    assert wing == replace(
        plain,
        mat=(297.0, 420.0),
        stock=STOCKS["card-300"],
        skip=frozenset(),
        fail_on="never",
        distances=Distances(0.03, 0.6),
        read=Reading(cut_words=("blade",), score_words=("bend",)),
        rules={
            "short-curtain": {"hem_mm": 7.0, "rings": 6},
            "loose-bunting": {"severity": "fault"},
        },
    )
    left = finder.for_file(tmp_path / "wings" / "left-far.svg")  # both match: the later one wins
    assert left == replace(
        wing, mat=(148.0, 210.0), rules={**wing.rules, "short-curtain": {"hem_mm": 9, "rings": 6}}
    )
    packed = finder.for_file(tmp_path / "sky.svgz")
    assert (packed.mat, packed.stock.name) == ((148.0, 210.0), "card-200")
    assert finder.for_folder(tmp_path) == (plain, str(tmp_path / "matready.toml"), True)


@pytest.mark.parametrize(
    ("pattern", "matched"),
    [
        ("*.svg", ["a.svg"]),
        ("**/*.svg", ["a.svg", "wings/a.svg", "wings/far/left/a.svg"]),
        ("**", ["a.svg", "wings/a.svg", "wings/far/left/a.svg", "wings/far/b.txt"]),
        ("wings/**", ["wings/a.svg", "wings/far/left/a.svg", "wings/far/b.txt"]),
        ("wings/*", ["wings/a.svg"]),
        ("wings/**/a.svg", ["wings/a.svg", "wings/far/left/a.svg"]),
        ("**/far/**", ["wings/far/left/a.svg", "wings/far/b.txt"]),
        ("**/**/left/*", ["wings/far/left/a.svg"]),
        ("wing?/a.svg", ["wings/a.svg"]),
        ("[vw]ings/[!b].svg", ["wings/a.svg"]),
        ("A.SVG", []),
        ("wings", []),
        ("far/*", []),
    ],
)
def test_patterns_go_step_by_step_from_the_folder_of_the_settings(
    tmp_path: Path, pattern: str, matched: list[str]
) -> None:
    finder = _finder(tmp_path, f'[[files]]\nmatch = "{pattern}"\nfail-on = "never"\n')
    names = ("a.svg", "wings/a.svg", "wings/far/left/a.svg", "wings/far/b.txt")
    found = [name for name in names if finder.for_file(tmp_path / name).fail_on == "never"]
    assert found == matched


def test_a_pattern_does_not_take_for_ever(tmp_path: Path) -> None:
    deep = tmp_path.joinpath(*["a"] * 200)
    finder = _finder(tmp_path, f'[[files]]\nmatch = "{"**/a/" * 40}b"\nmat = "A3"\n')
    assert finder.for_file(deep).mat is None


def test_entries_that_are_only_together_at_odds_are_told_with_their_numbers(
    tmp_path: Path,
) -> None:
    finder = _finder(
        tmp_path,
        '[[files]]\nmatch = "a*"\ndistances.join_mm = 0.4\n'
        '[[files]]\nmatch = "*b"\ndistances.hairline_mm = 0.3\n',
    )
    finder.for_file(tmp_path / "a")
    finder.for_file(tmp_path / "b")
    with pytest.raises(BadSettings, match=r"number 1 and .*number 2"):
        finder.for_file(tmp_path / "ab")


def test_patterns_of_a_file_that_was_named_count_from_its_folder(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    named = home / "card.toml"
    named.write_text(
        '[[files]]\nmatch = "*.svg"\nmat = "A3"\n[[files]]\nmatch = "**/wings/*"\nmat = "A5"\n'
    )
    finder = SettingsFinder(named, RULES)
    assert finder.for_file(home / "x.svg").mat == (297.0, 420.0)
    assert finder.for_file(tmp_path / "x.svg").mat is None
    assert finder.for_file(tmp_path / "wings" / "x.svg").mat == (148.0, 210.0)


# Which file counts


def test_the_nearest_file_at_or_above_wins(tmp_path: Path) -> None:
    (tmp_path / "set" / "wings" / "left").mkdir(parents=True)
    (tmp_path / "bare").mkdir()
    (tmp_path / "matready.toml").write_text('mat = "A4"')
    (tmp_path / "set" / "wings" / "matready.toml").write_text('mat = "A3"')
    finder = SettingsFinder(None, RULES)
    assert finder.for_file(tmp_path / "set" / "wings" / "left" / "x.svg").mat == (297.0, 420.0)
    assert finder.for_file(tmp_path / "set" / "wings" / "x.svg").mat == (297.0, 420.0)
    assert finder.for_file(tmp_path / "set" / "x.svg").mat == (210.0, 297.0)
    assert finder.for_file(tmp_path / "bare" / "x.svg").mat == (210.0, 297.0)
    assert finder.for_file(tmp_path / "bare" / ".." / "set" / "wings" / "y.svg").mat == (
        297.0,
        420.0,
    )


def test_nothing_of_the_nearer_file_is_filled_from_one_above(tmp_path: Path) -> None:
    (tmp_path / "set").mkdir()
    (tmp_path / "matready.toml").write_text('mat = "A4"')
    (tmp_path / "set" / "matready.toml").write_text("")
    assert SettingsFinder(None, RULES).for_file(tmp_path / "set" / "x.svg") == Settings()


def test_relative_paths_are_looked_up_from_where_we_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "set").mkdir()
    (tmp_path / "matready.toml").write_text('mat = "A9"')
    monkeypatch.chdir(tmp_path / "set")
    for path in (Path("x.svg"), Path("-"), Path("../y.svg")):
        assert SettingsFinder(None, RULES).for_file(path).mat == (37.0, 52.0)


def test_a_file_below_us_is_named_from_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "set").mkdir()
    (tmp_path / "set" / "matready.toml").write_text("colour = 1")
    with pytest.raises(BadSettings) as caught:
        SettingsFinder(None, RULES).for_file(Path("set/x.svg"))
    assert str(caught.value).startswith(str(Path("set") / "matready.toml") + ": unknown key")


def test_a_file_is_read_once_for_all_that_lie_below(tmp_path: Path) -> None:
    (tmp_path / "set").mkdir()
    file = tmp_path / "matready.toml"
    file.write_text('mat = "A4"')
    finder = SettingsFinder(None, RULES)
    first = finder.for_file(tmp_path / "set" / "x.svg")
    file.unlink()
    assert finder.for_file(tmp_path / "set" / "y.svg") is first
    assert finder.for_file(tmp_path / "z.svg") is first


def test_a_file_named_by_the_user_holds_for_all(tmp_path: Path) -> None:
    (tmp_path / "matready.toml").write_text('mat = "A4"')
    other = tmp_path / "other.toml"
    other.write_text('mat = "A3"')
    assert SettingsFinder(other, RULES).for_file(tmp_path / "x.svg").mat == (297.0, 420.0)


@pytest.mark.parametrize(("name", "says"), [("gone.toml", "no such"), ("folder", "folder")])
def test_a_file_named_by_the_user_must_be_one(tmp_path: Path, name: str, says: str) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(BadSettings, match=says) as caught:
        SettingsFinder(tmp_path / name, RULES)
    assert str(caught.value).startswith(str(tmp_path / name))


def test_a_folder_in_the_place_of_the_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "matready.toml").mkdir()
    with pytest.raises(BadSettings, match="folder"):
        SettingsFinder(None, RULES).for_file(tmp_path / "x.svg")


def test_options_are_laid_over_every_settings(tmp_path: Path) -> None:
    (tmp_path / "set").mkdir()
    (tmp_path / "set" / "matready.toml").write_text('mat = "A4"\nfail-on = "never"')
    finder = SettingsFinder(None, RULES, lambda settings: replace(settings, fail_on="tidy"))
    assert finder.for_file(tmp_path / "set" / "x.svg") == Settings(
        mat=(210.0, 297.0), fail_on="tidy"
    )
    assert finder.for_file(tmp_path / "x.svg") == Settings(fail_on="tidy")


def test_without_a_settings_file_nothing_heavy_is_imported(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from matready.lint.settings import SettingsFinder; "
        f"SettingsFinder(None, ()).for_file(Path({str(tmp_path)!r}) / 'x.svg'); "
        "print(*sorted({'tomllib', 'difflib', 'tinycss2', 'numpy', 'lxml'} & set(sys.modules)))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert ran.stdout.split() == []


def test_the_settings_in_the_readme_are_read(tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    block = readme.partition("```toml\n")[2].partition("```")[0]
    (tmp_path / "matready.toml").write_text(block, "utf-8")
    found = SettingsFinder(None, REAL_RULES).for_file(tmp_path / "arch.svg")
    assert found.distances.hairline_mm == 0.3
    assert found.read.score_words == ("bend here",)
    assert found.mat == (304.8, 304.8)
    assert found.rules["undersize-piece"]["piece_mm"] == 2.0
