"""Runs the linter on cases and compares its findings with the truth."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import msgspec
from lxml import etree
from shapely.geometry import Point, box
from shapely.geometry.base import BaseGeometry

from tests.planting.cases import RULES, Case, TruePiece
from tests.planting.draft import Expect

NEAR_MM = 1.0  # a finding this near to the fault is at the right place
SAME_BOX_MM = 0.3
# What each rule may say.
SEVERITIES = {rule: {"fault"} for rule in RULES} | {"wrong-scale": {"caution", "fault"}}
FIXES: dict[str, set[str | None]] = {
    "loose-score": {"safe", None},
    "open-outline": {"reshaping", None},
    "hairline-gap": {"safe", None},
    "double-cut": {"safe", None},
    "undersize-piece": {None},
    "wrong-scale": {"reshaping", None},
}
# One finding per piece, one per gap.
ONCE = frozenset({"loose-score", "hairline-gap", "undersize-piece"})

Finding = dict[str, Any]


def run_linter(text: str, name: str) -> dict[str, Any]:
    """The one place where the judge meets the program: bytes in, one file's report out."""
    from matready.lint.runner import lint_bytes

    from tests.drawn import STRUCTURE

    report = msgspec.to_builtins(lint_bytes(text.encode(), name, STRUCTURE))
    assert isinstance(report, dict)
    return report


@dataclass
class Verdict:
    """How one case went. `missed`: expected and not found; `false`: found and not true."""

    case: Case
    found: list[Expect] = field(default_factory=list)
    missed: list[Expect] = field(default_factory=list)
    true: list[Finding] = field(default_factory=list)
    false: list[Finding] = field(default_factory=list)
    repeated: list[Finding] = field(default_factory=list)
    malformed: list[str] = field(default_factory=list)
    pieces: str = ""  # what is wrong with the list of pieces

    @property
    def perfect(self) -> bool:
        """Nothing to complain of."""
        return not (self.missed or self.false or self.malformed or self.pieces or self.repeated)


def judge(case: Case) -> Verdict:
    """Run the linter on a case and compare; an exception is a finding about the linter."""
    try:
        report = run_linter(case.text, case.name + ".svg")
    except Exception as error:
        verdict = compare(case, {"findings": [], "pieces": []})
        verdict.malformed.append(f"raised {type(error).__name__}: {error}")
        return verdict
    return compare(case, report)


def compare(case: Case, report: dict[str, Any]) -> Verdict:
    """Compare one file's report with a case's truth."""
    verdict = Verdict(case)
    findings = [f for f in report["findings"] if f["rule"] in case.judged]
    met: Counter[int] = Counter()
    for finding in findings:
        matches = [i for i, e in enumerate(case.expected) if agrees(finding, e)]
        if not matches:
            verdict.false.append(finding)
            continue
        best = min(matches, key=lambda i: (met[i], case.expected[i].place.area))
        if met[best] and finding["rule"] in ONCE:
            verdict.repeated.append(finding)
        verdict.true.append(finding)
        met[best] += 1
        for i in matches:  # one long doubled run may answer several expectations
            if finding["rule"] == "double-cut":
                met[i] += 1
    for i, expect in enumerate(case.expected):
        if met[i]:
            verdict.found.append(expect)
        elif expect.required:
            verdict.missed.append(expect)
    verdict.malformed = list(malformed(report["findings"], case.text))
    if case.pieces is not None:
        verdict.pieces = compare_pieces(case.pieces, report["pieces"])
    return verdict


def agrees(finding: Finding, expect: Expect) -> bool:
    """Whether a finding speaks of an expected fault: same rule, and at its place.

    Its point lies within 1 mm, or its box meets the place; the box may not be larger than what
    the fault concerns, or a finding about the whole page would always be right.
    """
    if finding["rule"] != expect.rule:
        return False
    if expect.rule == "wrong-scale":
        return True
    at = Point(finding["at_mm"])
    left, top, right, bottom = finding["box_mm"]
    area: BaseGeometry = box(left, top, right, bottom)
    if not box(*expect.within).buffer(NEAR_MM).contains(area):
        return False
    return bool(at.distance(expect.place) <= NEAR_MM or area.distance(expect.place) <= NEAR_MM)


def compare_pieces(truth: tuple[TruePiece, ...], told: list[dict[str, Any]]) -> str:
    """What is wrong with the reported pieces; empty when nothing is."""
    left = list(told)
    for piece in truth:
        match = next((t for t in left if _same_box(piece, t["box_mm"])), None)
        if match is None:
            return f"no piece at {_round(piece.box)}; {len(told)} told, {len(truth)} true"
        left.remove(match)
        if match["holes"] != piece.holes:
            return f"{match['holes']} holes, not {piece.holes}, in {_round(piece.box)}"
        if piece.scores is not None and match["scores"] != piece.scores:
            return f"{match['scores']} scores, not {piece.scores}, in {_round(piece.box)}"
    return f"extra piece at {_round(left[0]['box_mm'])}" if left else ""


def _same_box(piece: TruePiece, told: list[float]) -> bool:
    return all(abs(a - b) < SAME_BOX_MM for a, b in zip(piece.box, told, strict=True))


def _round(values: Iterable[float]) -> list[float]:
    return [round(v, 2) for v in values]


def malformed(findings: list[Finding], text: str) -> Iterable[str]:
    """Ways in which findings break the form that they have by their definition."""
    root = etree.fromstring(text.encode())
    lines = text.split("\n")
    for finding in findings:
        rule = finding["rule"]
        if rule not in RULES:  # a rule for which nothing is planted
            continue
            continue
        if finding["severity"] not in SEVERITIES[rule]:
            yield f"{rule}: severity {finding['severity']}"
        if finding["fix"] not in FIXES[rule]:
            yield f"{rule}: fix {finding['fix']}"
        if not finding["message"].strip():
            yield f"{rule}: no message"
        for element in finding["elements"]:
            if not _exists(root, element):
                yield f"{rule}: no element {element}"
        if not 1 <= finding["line"] <= len(lines) or "<" not in lines[finding["line"] - 1]:
            yield f"{rule}: no element starts in line {finding['line']}"
        elif finding["elements"] and not _starts_there(lines[finding["line"] - 1], finding):
            yield f"{rule}: line {finding['line']} is not that of its elements"


def _exists(root: etree._Element, position: str) -> bool:
    steps = [s for s in position.split("/") if s]
    query = "/" + "/".join(
        f"*[local-name()='{name}'][{number.rstrip(']') or 1}]"
        for name, _, number in (step.partition("[") for step in steps)
    )
    return bool(root.xpath(f"count({query}) = 1"))


def _starts_there(line: str, finding: Finding) -> bool:
    name = finding["elements"][0].rsplit("/", 1)[-1].split("[")[0]
    return line[finding["column"] - 1 :].startswith(f"<{name}")


@dataclass(repr=False)
class Tally:
    """Sums over many verdicts, by rule, by recipe and by trait."""

    expected: Counter[tuple[str, str]] = field(default_factory=Counter)
    found: Counter[tuple[str, str]] = field(default_factory=Counter)
    findings: Counter[tuple[str, str]] = field(default_factory=Counter)
    true: Counter[tuple[str, str]] = field(default_factory=Counter)
    cases: Counter[tuple[str, str]] = field(default_factory=Counter)
    perfect: Counter[tuple[str, str]] = field(default_factory=Counter)
    counted: int = 0
    miscounted: int = 0
    repeated: Counter[str] = field(default_factory=Counter)
    malformed: Counter[str] = field(default_factory=Counter)
    examples: dict[str, list[Verdict]] = field(default_factory=lambda: defaultdict(list))

    def add(self, verdict: Verdict) -> None:
        """Count one verdict under its rule, its recipe and each of its traits."""
        case = verdict.case
        for expect in verdict.found + verdict.missed:
            if expect.required:
                self._count(self.expected, expect.rule, case)
        for expect in verdict.found:
            if expect.required:
                self._count(self.found, expect.rule, case)
        for finding in verdict.true + verdict.false:
            self._count(self.findings, finding["rule"], case)
        for finding in verdict.true:
            self._count(self.true, finding["rule"], case)
        for key in self._keys(case):
            self.cases[key] += 1
            self.perfect[key] += verdict.perfect
        self.counted += case.pieces is not None
        self.miscounted += bool(verdict.pieces)
        self.repeated.update(f["rule"] for f in verdict.repeated)
        self.malformed.update(verdict.malformed)
        if not verdict.perfect:
            self.examples[f"{case.recipe.rule}: {case.recipe.name}"].append(verdict)

    def _keys(self, case: Case) -> list[tuple[str, str]]:
        recipe = f"{case.recipe.rule}: {case.recipe.name}"
        return [("recipe", recipe), *case.traits.items()]

    def _count(self, counter: Counter[tuple[str, str]], rule: str, case: Case) -> None:
        counter["rule", rule] += 1
        for key in self._keys(case):
            counter[key] += 1

    def recall(self, key: tuple[str, str]) -> float:
        """Found of expected; 1 where nothing was expected."""
        return self.found[key] / self.expected[key] if self.expected[key] else 1.0

    def precision(self, key: tuple[str, str]) -> float:
        """True of all findings; 1 where there were none."""
        return self.true[key] / self.findings[key] if self.findings[key] else 1.0
