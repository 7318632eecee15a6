"""The JSON Schema (draft 2020-12) of a settings file, for editors; made from the code.

`matready.schema.json` beside this module is what `schema_of` gives for the rules that are there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from matready.lint.finding import Severity
from matready.lint.rule import Limit, Rule, described
from matready.lint.settings import FAIL_ON, ROLES, SCORES, Distances, Reading, Settings
from matready.lint.settings_parts import READ, numbers_of
from matready.lint.settings_ranges import (
    DISTANCES,
    ON_MAT,
    Range,
    range_of_limit,
    range_of_stock,
)
from matready.lint.sheets.papers import GRAINS, MOST_SHEETS, OnMat
from matready.lint.stocks import CARD_200, DESCRIBED, STOCKS

_Schema = dict[str, Any]

# A path from the settings file's folder on: no root, no drive, no \, no "." or "..", no empty step,
# and ** only where it is a step by itself.
_STEP = r"(?!\.{1,2}(?:/|$))(?:\*\*(?=/|$)|(?:(?!\*\*)[^/\\])+)"
PATTERN = rf"^(?=.*\S)(?![A-Za-z]:){_STEP}(?:/{_STEP})*$"

# A paper's name: a letter or digit in it, and short enough for a line.
NAME = r"^(?=.*[^\W_]).{1,60}$"

_READ_MEANINGS = {
    "words": "Words in ids, labels, layer names and classes that tell a line is {}.",
    "colours": "Colours that tell a line is {}, such as #ff0000 or red.",
    "dashes": "What a dashed stroke means.",
    "scores": "How the machine makes scores: cut through dash by dash, or pressed in or part-cut.",
}


def schema_of(rules: Sequence[Rule]) -> _Schema:
    """The schema of a settings file for these rules."""
    part = _part(rules)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "matready.toml",
        "description": "Settings of matready. All of it may be left out.",
        **_object({**part, **_at_top_only(part)}),
        "$defs": {
            "distances": {
                "description": "Distances that several rules share, in mm.",
                **_object(_distances()),
            },
            "read": {
                "description": "How cut, score and drawn lines are told apart.",
                **_object(_read()),
            },
            "rules": {
                "description": "Severity and limits of single rules.",
                **_object({rule.name: _rule(rule) for rule in rules}),
            },
            "stock": _stock(),
            "paper": _paper(),
        },
    }


def _at_top_only(part: _Schema) -> _Schema:
    """What stands at the top of the file and in none of its [[files]], but for `part`."""
    return {
        "stocks": {
            **_object({}),
            "description": "Stocks of your own, by name.",
            "propertyNames": {"not": {"enum": list(STOCKS)}},
            "additionalProperties": {"$ref": "#/$defs/stock"},
        },
        "papers": {
            **_object({}),
            "description": "The papers at hand, by name: which pieces are cut from which of them.",
            "propertyNames": {"pattern": NAME},
            "additionalProperties": {"$ref": "#/$defs/paper"},
        },
        "sheets": {"description": "How pieces are laid on mats.", **_object(_on_mat())},
        "files": {
            "description": "Settings for some files: later entries win over earlier ones.",
            "type": "array",
            "items": {**_object({"match": _match(), **part}), "required": ["match"]},
        },
    }


def _object(properties: Mapping[str, Any]) -> _Schema:
    return {"type": "object", "additionalProperties": False, "properties": dict(properties)}


def _part(rules: Sequence[Rule]) -> _Schema:
    """What the top of the file and each of its [[files]] may hold."""
    return {
        "mat": _size("The mat's size"),
        "stock": {**_stock_name("The paper or card"), "default": CARD_200.name},
        "skip": {
            "description": "Rules not to run.",
            "type": "array",
            "items": {"enum": [rule.name for rule in rules]},
        },
        "fail-on": {
            "description": "Exit with 1 for findings this bad or worse.",
            "enum": list(FAIL_ON),
            "default": Settings.fail_on,
        },
        **{name: {"$ref": f"#/$defs/{name}"} for name in ("distances", "read", "rules")},
    }


def _size(what: str) -> _Schema:
    return {
        "description": f"{what}: WIDTHxHEIGHT with mm, cm or in, or a name.",
        "type": "string",
        "pattern": r"\S",
        "examples": ["12x12in", "12x24in", "A4", "Letter", "210x297mm"],
    }


def _stock_name(what: str) -> _Schema:
    return {
        "description": f"{what}: a built-in one, or one under [stocks.NAME].",
        "anyOf": [{"enum": list(STOCKS)}, {"type": "string"}],
    }


def _match() -> _Schema:
    one = {"type": "string", "pattern": PATTERN}
    return {
        "description": "Paths from this file's folder on; * within a name, ** for any folders.",
        "anyOf": [one, {"type": "array", "items": one, "minItems": 1}],
        "examples": ["wings/*.svg", "**/*-vellum.svg"],
    }


def _distances() -> _Schema:
    return {
        name: _number(default, limit, DISTANCES[name])
        for name, (default, limit) in described(Distances).items()
    }


def _number(default: float | None, limit: Limit, within: Range) -> _Schema:
    found: _Schema = {
        "description": f"{limit.meaning}, in {limit.unit}. Source: {limit.source}",
        "type": "integer" if isinstance(default, int) else "number",
        "minimum": within.least,
        "maximum": within.most,
    }
    return found if default is None else {**found, "default": default}


def _read() -> _Schema:
    found: _Schema = {}
    for key in READ:
        role, _, kind = key.partition("-")
        if kind:
            found[key] = {
                "description": _READ_MEANINGS[kind].format({"draw": "drawn"}.get(role, role)),
                "type": "array",
                "items": {"type": "string", "pattern": r"\S"},
            }
        else:
            words = list(ROLES if key == "dashes" else SCORES)
            found[key] = {"description": _READ_MEANINGS[key], "enum": words}
    found["scores"]["default"] = Reading().scores
    return found


def _rule(rule: Rule) -> _Schema:
    numbers, notes = numbers_of(rule), rule.described_limits()
    return {
        "description": rule.summary,
        **_object(
            {
                "severity": {"enum": [each.value for each in Severity], "default": rule.severity},
                **{
                    name: _number(numbers[name], limit, range_of_limit(limit.unit))
                    for name, (_, limit) in notes.items()
                },
            }
        ),
    }


def _stock() -> _Schema:
    """One of [stocks.NAME]."""
    found: _Schema = {
        "like": {
            "description": "A stock to start from.",
            "anyOf": [{"enum": list(STOCKS)}, {"type": "string"}],
        }
    }
    for name, limit in DESCRIBED.items():
        found[name] = _number(None, limit, range_of_stock(name, limit.unit))
    described_as = "Thickness follows from grammage where only that is given, the rest from it."
    starts = ("like", "grammage_g_m2", "thickness_mm")
    return {
        "description": described_as,
        **_object(found),
        "anyOf": [{"required": [name]} for name in starts],
    }


def _on_mat() -> _Schema:
    """What `[sheets]` may hold."""
    meanings = {
        "margin_mm": "how near to the edge of its paper a piece may lie, in mm",
        "gap_mm": "how near to each other pieces may lie, in mm",
        "speed_mm_s": "how fast the blade goes on a line, in mm/s, for times in the cutting list",
    }
    return {
        name: {
            "description": meanings[name],
            "type": "number",
            "minimum": within.least,
            "maximum": within.most,
            "default": getattr(OnMat(), name),
        }
        for name, within in ON_MAT.items()
    }


def _paper() -> _Schema:
    """One of [papers.NAME]."""
    found: _Schema = {
        "size": _size("The size of a sheet, the mat's where it is left out"),
        "count": {
            "description": "How many sheets are at hand; as many as needed where it is left out.",
            "type": "integer",
            "minimum": 1,
            "maximum": MOST_SHEETS,
        },
        "scraps": _texts("Smaller sheets at hand, each as SIZE or SIZE:COUNT.", "100x150mm:2"),
        "stock": _stock_name("What it is cut as"),
        "grain": {"description": "Along the width (x) or the height (y).", "enum": list(GRAINS)},
        "print": {"description": "It is printed, so no piece is turned.", "type": "boolean"},
        "files": _texts("Pieces of these files, as paths from this file's folder.", "windows/*"),
        "layers": _texts("Pieces in groups of these names; * stands for anything.", "windows"),
        "ids": _texts("Pieces of these names or ids; * stands for anything.", "window-*"),
        "fills": _texts("Pieces filled in these colours.", "#fff8e1"),
    }
    one = {"type": "string", "pattern": PATTERN}
    found["files"]["anyOf"] = [one, {"type": "array", "items": one, "minItems": 1}]
    return {**_object(found), "dependentRequired": {"count": ["size"]}}


def _texts(description: str, example: str) -> _Schema:
    one = {"type": "string", "pattern": r"\S"}
    return {
        "description": description,
        "anyOf": [one, {"type": "array", "items": one, "minItems": 1}],
        "examples": [[example]],
    }
