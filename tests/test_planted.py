"""Planted faults are found, at the right place, and near misses are left alone.

The drawings and their truth come from `tests/planting`, which knows nothing of the linter. Limits
are what a user may count on: at least 99 of 100 planted faults found, at least 99 of 100
findings true. `python -m tests.planting --count 2000` does the same on any number of drawings.
"""

from __future__ import annotations

from functools import cache

import pytest

from tests.planting.cases import RECIPES, RULES, Case, make_case
from tests.planting.groups import SHAPES
from tests.planting.proof import pictures, strays, untruths
from tests.planting.score import Tally, compare, judge

EACH = 4  # drawings of each recipe
LEAST = 0.99


@pytest.fixture(scope="module")
def tally() -> Tally:
    """All verdicts on a fixed sample: each recipe, a few seeds."""
    total = Tally()
    for seed in range(EACH):
        for recipe in RECIPES:
            total.add(judge(make_case(recipe, seed)))
    return total


@pytest.mark.parametrize("rule", RULES)
def test_planted_faults_are_found(tally: Tally, rule: str) -> None:
    key = ("rule", rule)
    assert tally.expected[key] >= 25
    assert tally.recall(key) >= LEAST, _examples(tally)


@pytest.mark.parametrize("rule", RULES)
def test_findings_are_true(tally: Tally, rule: str) -> None:
    assert tally.precision(("rule", rule)) >= LEAST, _examples(tally)


def test_pieces_holes_and_folds_are_counted_right(tally: Tally) -> None:
    assert tally.counted >= 200
    assert tally.miscounted <= (1 - LEAST) * tally.counted, _examples(tally)


def test_one_finding_for_one_fault(tally: Tally) -> None:
    assert sum(tally.repeated.values()) <= (1 - LEAST) * sum(tally.findings.values())


def test_findings_keep_their_form(tally: Tally) -> None:
    assert not tally.malformed


def _examples(tally: Tally) -> str:
    names = [v.case.name for verdicts in tally.examples.values() for v in verdicts]
    return "see: " + ", ".join(names[:10])


def _sample(step: int) -> list[Case]:
    return [make_case(recipe, 900 + i) for i, recipe in enumerate(RECIPES[::step])]


def test_judge_misses_nothing_that_is_not_there() -> None:
    """An empty report finds nothing, and one with an invented finding is caught."""
    case = next(c for c in _sample(3) if c.recipe.planted and c.recipe.rule == "double-cut")
    owed = sum(e.required for e in case.expected)
    silent = compare(case, {"findings": [], "pieces": []})
    assert len(silent.missed) == owed > 0
    assert silent.pieces
    finding = {
        "rule": "double-cut",
        "severity": "fault",
        "message": "x",
        "fix": "safe",
        "line": 1,
        "column": 1,
        "elements": ["/svg"],
        "at_mm": [-50.0, -50.0],
        "box_mm": [-51.0, -51.0, -49.0, -49.0],
    }
    assert compare(case, {"findings": [finding], "pieces": []}).false == [finding]


def test_truth_agrees_with_the_faces_between_the_lines() -> None:
    """Shapely's polygonize names the same pieces as the makers of the drawings do."""
    cases = [c for c in _sample(2) if c.pieces is not None and c.recipe.rule != "hairline-gap"]
    assert len(cases) > 20
    wrong = {case.name: list(untruths(case)) for case in cases}
    assert not {name: faults for name, faults in wrong.items() if faults}


@cache
def _any_case(seed: int) -> Case:
    return make_case(RECIPES[seed % len(RECIPES)], seed)


@pytest.mark.parametrize("shape", SHAPES)
def test_files_show_what_was_meant(shape: str) -> None:
    """A general renderer (resvg) draws every line where it was planned."""
    for seed in range(40, 400):
        case = _any_case(seed)
        plain = not (case.draft.look.filled or case.draft.look.dashed)
        if case.traits["nesting"] == shape and plain and case.recipe.rule != "wrong-scale":
            break
    shown, meant = pictures(case)
    assert strays(meant, shown) < 0.01
    if not case.draft.cluttered:
        assert strays(shown, meant) < 0.01
