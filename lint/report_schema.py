"""The JSON Schemas (draft 2020-12) of what the commands report as JSON, made from the records.

`report.schema.json`, `fix.schema.json` and `sheets.schema.json` beside this module are what
`schema_of` gives of `lint`, `fix` and `sheets`; the last is that of `cutting-list.json`, too.
"""

from __future__ import annotations

import inspect
from typing import Any

import msgspec

from matready.lint.results import FixReport, Report
from matready.lint.sheets.cutting_list import CuttingList

TITLES: dict[type[Report | FixReport | CuttingList], str] = {
    Report: "matready lint --format json",
    FixReport: "matready fix --format json",
    CuttingList: "matready sheets --format json",
}
OPTIONAL = {"asked", "count", "places_mm"}  # what a finding says only where there is something


def schema_of(record: type[Report | FixReport | CuttingList]) -> dict[str, Any]:
    """The schema of one kind of report: every key is known, and none is left out but OPTIONAL."""
    made = msgspec.json.schema(record)
    parts = made["$defs"]
    for part in parts.values():
        part["description"] = _flowing(part["description"])
        part["required"] = [name for name in part["properties"] if name not in OPTIONAL]
        part["additionalProperties"] = False
        for name in part["required"]:
            part["properties"][name].pop("default", None)
    top = parts.pop(record.__name__)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **top,
        "title": TITLES[record],
        "$defs": dict(sorted(parts.items())),
    }


def _flowing(docstring: str) -> str:
    """A docstring in the words of JSON, without the line breaks of the code."""
    paragraphs = inspect.cleandoc(docstring).replace("None", "null").split("\n\n")
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)
