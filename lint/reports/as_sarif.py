"""The report as SARIF 2.1.0, the OASIS standard in which code-scanning programs take findings.

Section numbers are those of the standard. Nothing in the log depends on the time or the machine.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib.metadata import version
from pathlib import Path, PurePath
from typing import Any

import msgspec

from matready.lint.finding import Severity
from matready.lint.reports.as_text import (
    CARE,
    GAPS,
    STANDARD_INPUT,
    WHOLE_PAGE,
    cure,
    details,
    shown,
)
from matready.lint.reports.fingerprints import fingerprints
from matready.lint.reports.markdown import explanation_as_markdown
from matready.lint.reports.uris import absolute, uri_of
from matready.lint.results import (
    ALLOWING,
    LEFT_OUT,
    FindingRecord,
    NotChecked,
    Report,
    SetFindingRecord,
)
from matready.lint.rule import Rule

SCHEMA_URI = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
LEVELS = {Severity.FAULT: "error", Severity.CAUTION: "warning", Severity.TIDY: "note"}
FINGERPRINT = "matready/v1"  # a new version where the way to make it changes: 3.5.4.2
MOST_RELATED = 50  # so many other elements of a finding are listed; `elements` has all of them

_BASE = "%SRCROOT%"  # the usual name for the folder that a run is about: 3.14.14
_TOLD = ("at_mm", "box_mm", "elements", "piece", "measured", "fix", "asked", "count", "places_mm")

_Object = dict[str, Any]


def as_sarif(
    report: Report,
    rules: Sequence[Rule],
    folder: PurePath | None = None,
    *,
    ended_early: str = "",
) -> bytes:
    """Encode a report as one SARIF log of one run, as UTF-8, closed by a line end.

    Files below `folder` are named from there on; it is the one that the command runs in unless
    another is given. `ended_early` says why files are missing from the report, in one clause.
    """
    run = _Run(report, rules, folder).told(ended_early)
    log = {"$schema": SCHEMA_URI, "version": "2.1.0", "runs": [run]}
    return msgspec.json.format(msgspec.json.encode(log), indent=2) + b"\n"


class _Run:
    """One run: what is looked up by its number in the log, and all that is made of it."""

    def __init__(self, report: Report, rules: Sequence[Rule], folder: PurePath | None) -> None:
        self._report = report
        self._rules = rules
        self._rule_index = {rule.name: index for index, rule in enumerate(rules)}
        paths = [*(file.path for file in report.files), *(file.path for file in report.unreadable)]
        self._files = {
            path: _file(path, index, folder or Path.cwd())
            for index, path in enumerate(dict.fromkeys(paths))
        }

    def told(self, ended_early: str) -> _Object:
        """The run as the standard has it: 3.14."""
        notes = list(self._notifications())
        notes += [_error(ended_early)] if ended_early else []
        return {
            "tool": {"driver": _driver(self._rules)},
            "columnKind": "unicodeCodePoints",
            "newlineSequences": ["\r\n", "\n", "\r"],
            "originalUriBaseIds": {_BASE: {"description": _text("where matready was run")}},
            "invocations": [
                {
                    # 3.20.14: not where a part of what was asked for could not be done.
                    "executionSuccessful": not (self._report.unreadable or ended_early),
                    "toolExecutionNotifications": notes,
                }
            ],
            "artifacts": [
                {"location": location, "roles": ["analysisTarget"]}
                for location in self._files.values()
            ],
            "results": list(self._results()),
        }

    def _results(self) -> Iterator[_Object]:
        """File by file; what is wrong between files stands with the first of them."""
        for file in self._report.files:
            in_set = (one for one in self._report.set_findings if one.files[0] == file.path)
            findings: list[FindingRecord] = [*file.findings, *in_set]
            marks = fingerprints(findings, file.pieces)
            for finding, mark in zip(findings, marks, strict=True):
                yield self._result(file.path, finding, mark)

    def _result(self, path: str, finding: FindingRecord, mark: str) -> _Object:
        """One finding: 3.27."""
        result = {
            "ruleId": finding.rule,
            "ruleIndex": self._rule_index[finding.rule],
            "level": LEVELS[Severity(finding.severity)],
            "message": _text(message_of(finding)),
            "locations": [self._main_location(path, finding)],
            "relatedLocations": list(self._related(path, finding)),
            "partialFingerprints": {FINGERPRINT: mark},
            "properties": _properties(finding),
        }
        return {key: value for key, value in result.items() if value != []}

    def _main_location(self, path: str, finding: FindingRecord) -> _Object:
        """Where the first element's start tag begins, which element it is, and of which piece."""
        logical = [_element(finding.elements[0])]
        if finding.piece:
            logical.append({"fullyQualifiedName": shown(finding.piece), "kind": "piece"})
        region = {"startLine": finding.line, "startColumn": finding.column}
        return {**self._location(path, region), "logicalLocations": logical}

    def _related(self, path: str, finding: FindingRecord) -> Iterator[_Object]:
        """The other elements, and the other files, of a finding."""
        for element in finding.elements[1 : MOST_RELATED + 1]:
            told = {"logicalLocations": [_element(element)], "message": _text(f"also {element}")}
            yield {**self._location(path), **told}
        for other in finding.files[1:] if isinstance(finding, SetFindingRecord) else ():
            told = {"message": _text(f"also {shown(other)}")}
            yield {**self._location(other), **told}

    def _notifications(self) -> Iterator[_Object]:
        """What could not be read, and what was read but not looked at: 3.58."""
        for file in self._report.files:
            for gap in file.not_checked:
                yield {**self._gap(gap), "locations": [self._location(file.path)]}
        for unreadable in self._report.unreadable:
            told = _error(f"not read: {unreadable.reason}")
            yield {**told, "locations": [self._location(unreadable.path)]}

    def _gap(self, gap: NotChecked) -> _Object:
        index = self._rule_index.get(gap.rule)
        rule = {} if index is None else {"associatedRule": {"id": gap.rule, "index": index}}
        level = "note" if gap.rule in (LEFT_OUT, ALLOWING) else "warning"
        said = GAPS.get(gap.rule, "not checked: ") + gap.reason
        return {"level": level, "message": _text(_sentence(said)), **rule}

    def _location(self, path: str, region: _Object | None = None) -> _Object:
        """A whole file, or a region of it, as a location: 3.28."""
        part = {"region": region} if region else {}
        return {"physicalLocation": {"artifactLocation": self._files[path], **part}}


def _file(path: str, index: int, folder: PurePath) -> _Object:
    """Which file: 3.4. Standard input has no place from which a path could start."""
    if path == STANDARD_INPUT:
        return {"uri": path, "index": index, "description": _text("standard input")}
    uri = uri_of(absolute(path), folder)
    below = {} if uri.startswith("file:") else {"uriBaseId": _BASE}
    return {"uri": uri, **below, "index": index}


def message_of(finding: FindingRecord) -> str:
    """A finding in two sentences that need nothing beside them: what is wrong, and where."""
    at = finding.at_mm
    parts = []
    if finding.of_whole_page:
        parts = [f"{WHOLE_PAGE[0].upper()}{WHOLE_PAGE[1:]}"]
    elif at is not None:
        parts = [f"At {at[0]:.1f}, {at[1]:.1f} mm from the left and the top edge of the page"]
    parts += [f"{finding.count - 1} more like it"] if finding.count > 1 else []
    parts += filter(None, [details(finding, in_inches=False), cure(finding)])
    second = _sentence("; ".join(parts))
    return f"{_sentence(finding.message)} {second}".strip()


def _sentence(text: str) -> str:
    return f"{shown(text)}." if text else ""


def _text(text: str) -> _Object:
    """A message string; braces are doubled, for single ones mark a placeholder: 3.11.5."""
    # What a drawing calls its pieces must not become a link in the reader's program: 3.11.6.
    return {"text": text.replace("{", "{{").replace("}", "}}").replace("](", "] (")}


def _element(position: str) -> _Object:
    """An element by its way through the tree: 3.33.7 names the kind for XML."""
    return {"fullyQualifiedName": position, "kind": "element"}


def _properties(finding: FindingRecord) -> _Object:
    """What JSON tells of a finding and the standard has no word for."""
    told = msgspec.to_builtins(finding)
    return {key: told[key] for key in _TOLD if told.get(key) is not None}


def _error(said: str) -> _Object:
    """A notification of what kept the run from doing all that was asked for: 3.58.6."""
    return {"level": "error", "message": _text(_sentence(said))}


def _driver(rules: Sequence[Rule]) -> _Object:
    """The program and its rules: 3.19."""
    return {
        "name": "matready",
        "version": version("matready"),
        "fullDescription": _text(f"Preflight for SVG cut files. {CARE}"),
        "rules": [_rule(rule) for rule in rules],
    }


def _rule(rule: Rule) -> _Object:
    """A rule with its explanation, as text and as Markdown: 3.49."""
    parts = rule.explanation.items()
    text = "\n\n".join([*(f"{heading}\n{body}" for heading, body in parts), CARE])
    markdown = "\n\n".join(
        [*(f"## {heading}\n\n{explanation_as_markdown(body)}" for heading, body in parts), CARE]
    )
    return {
        "id": rule.name,
        "shortDescription": _text(rule.summary),
        "fullDescription": _text(" ".join(next(iter(rule.explanation.values())).split())),
        "defaultConfiguration": {"level": LEVELS[rule.severity]},
        "help": {**_text(text), "markdown": _text(markdown)["text"]},
        "properties": {"fix": rule.fixes.value if rule.fixes else "by hand"},
    }
