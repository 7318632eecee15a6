"""The schema of a settings file, held against the program by an independent validator.

The validator is the package jsonschema, which implements JSON Schema draft 2020-12.
"""

from __future__ import annotations

import json
import tempfile
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from jsonschema import Draft202012Validator

from matready.lint.settings import BadSettings, SettingsFinder
from matready.lint.settings_schema import schema_of
from matready.rules import RULES

from tests import test_settings as settings
from tests.conftest import ROOT

SHIPPED = ROOT / "lint" / "matready.schema.json"

# What no schema can see: numbers, words and names that are wrong only beside others, and texts that
# only a program can read.
BEYOND_A_SCHEMA = (
    "less than hairline_mm",
    "at most hairline_mm",
    "at most half of",
    "so does",
    "is no colour",
    "is not a size",
    "no stock is named",
    "names no stock",
    "leads back",
    "must be less than most_cut_share",
    "not ['--']",
    "not nan",  # JSON knows none
    "so many digits",
)


@cache
def _shipped() -> Any:
    return Draft202012Validator(json.loads(SHIPPED.read_text("utf-8")))


@cache
def _invented() -> Any:
    return Draft202012Validator(schema_of(settings.RULES))


def test_the_shipped_schema_is_what_the_code_gives(record: bool) -> None:
    text = json.dumps(schema_of(RULES), indent=2, ensure_ascii=False) + "\n"
    if record:
        SHIPPED.write_text(text, "utf-8", newline="\n")
    assert SHIPPED.read_text("utf-8") == text, "run pytest --record tests/test_settings_schema.py"


def test_the_schema_is_one_of_draft_2020_12() -> None:
    schema = json.loads(SHIPPED.read_text("utf-8"))
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    Draft202012Validator.check_schema(schema)


def test_every_rule_and_limit_is_in_the_shipped_schema() -> None:
    known = json.loads(SHIPPED.read_text("utf-8"))["$defs"]["rules"]["properties"]
    assert {name: set(one["properties"]) for name, one in known.items()} == {
        rule.name: {"severity", *rule.described_limits()} for rule in RULES
    }


VALID = [
    "",
    'mat = "12x12in"\nstock = "card-250"\nskip = ["wrong-scale"]\nfail-on = "never"\n',
    "[distances]\njoin_mm = 0.02\nhairline_mm = 1\n",
    '[read]\ncut-words = ["blade"]\nscore-colours = ["red"]\ndashes = "cut"\nscores = "scored"\n',
    '[rules.undersize-piece]\nseverity = "tidy"\npiece_mm = 2\nhole_mm = 0.5\n',
    '[[files]]\nmatch = "wings/**/*.svg"\n[files.rules.double-cut]\noverlap_mm = 2\n',
    '[[files]]\nmatch = ["a.svg", "**"]\n[files.read]\nscores = "scored"\n[[files]]\nmatch = "b"\n',
    'stock = "felt"\n[stocks.felt]\nlike = "card-300"\ntie_mm = 1\n',
    '[stocks.silk]\ngrammage_g_m2 = 90\n[stocks.silver]\nlike = "silk"\nthickness_mm = 0.2\n',
]


@pytest.mark.parametrize("text", VALID)
def test_what_the_program_takes_the_schema_takes(tmp_path: Path, text: str) -> None:
    (tmp_path / "matready.toml").write_text(text)
    SettingsFinder(None, RULES).for_file(tmp_path / "arch.svg")
    assert not list(_shipped().iter_errors(tomllib.loads(text)))


def test_the_settings_in_the_readme_are_valid() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    block = readme.partition("```toml\n")[2].partition("```")[0]
    assert not list(_shipped().iter_errors(tomllib.loads(block)))


@pytest.mark.parametrize(("text", "names", "says"), settings.REFUSED)
def test_what_the_program_refuses_the_schema_refuses_where_it_can(
    tmp_path: Path, text: str | bytes, names: str, says: str
) -> None:
    (tmp_path / "matready.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(BadSettings) as caught:
        SettingsFinder(None, settings.RULES).for_file(tmp_path / "arch.svg")
    try:
        data = tomllib.loads(text.decode() if isinstance(text, bytes) else text)
    except (ValueError, RecursionError):
        return  # no TOML, so there is nothing to hold against a schema
    told = str(caught.value)
    if not any(words in told for words in BEYOND_A_SCHEMA):
        assert list(_invented().iter_errors(data)), told


@given(settings.KEYS, settings.VALUES, settings.TABLES)
def test_the_schema_is_never_stricter_than_the_program(key: str, value: object, table: str) -> None:
    text = f"{table}{key} = {settings.to_toml(value)}\n"
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "matready.toml").write_text(text)
        try:
            SettingsFinder(None, settings.RULES).for_file(Path(folder) / "arch.svg")
        except BadSettings:
            return
    assert not list(_invented().iter_errors(tomllib.loads(text)))
