"""Many findings of one kind in one file are told as one, with all their places."""

from __future__ import annotations

import json

import pytest

from matready.lint.merging import MANY, merged
from matready.lint.reports import whole_run
from matready.lint.reports.as_json import as_json
from matready.lint.reports.as_text import files_as_text

from tests.drawn import checked, path


def _slips(count: int) -> list[str]:
    """Paper slips too narrow for the blade, each a little narrower than the one before."""
    return [
        path(f"M10 {10 + 5 * k}h40v{2.5 - k / 20:.3f}h-40z", name=f"slip-{k}") for k in range(count)
    ]


@pytest.mark.parametrize("count", [1, MANY, MANY + 1, 30])
def test_each_is_told_up_to_ten_and_then_one_stands_for_all(count: int) -> None:
    findings = checked(*_slips(count)).report.findings
    assert len(findings) == (count if count <= MANY else 1)
    assert sum(finding.count for finding in findings) == count


def test_the_one_that_stays_is_the_worst_and_holds_all_places() -> None:
    (one,) = checked(*_slips(12)).report.findings
    assert one.piece == "slip-11"
    assert one.measured is not None
    assert one.measured.value == pytest.approx(2.5 - 11 / 20)
    assert len(one.places_mm) == len(one.elements) == 12
    assert one.box_mm == pytest.approx((10, 10, 50, 65 + 2.5 - 11 / 20))


def test_kinds_are_kept_apart() -> None:
    holes = "".join(f"M{60 + 4 * k} 150v5h.4v-5z" for k in range(MANY + 2))
    findings = checked(*_slips(3), path("M50 140h100v30h-100z" + holes)).report.findings
    assert [finding.count for finding in findings] == [1, 1, 1, MANY + 2]
    assert merged(findings) == list(findings)


def test_what_one_rule_says_in_several_ways_is_told_once_too_where_it_is_much() -> None:
    slips = [path(f"M10 {10 + 6 * k}h40v2h-40z", name=f"slip-{k}") for k in range(8)]
    holes = [path(f"M60 {10 + 20 * k}h15v15h-15z M67 {17 + 20 * k}h.4v5h-.4z") for k in range(5)]
    (one,) = checked(*slips, *holes).report.findings
    assert one.count == len(one.places_mm) == 13


def test_only_one_for_many_brings_its_count_into_the_json() -> None:
    single, many = (json.loads(as_json(whole_run([checked(*_slips(n))]))) for n in (1, 12))
    assert "count" not in single["files"][0]["findings"][0]
    assert many["files"][0]["findings"][0]["count"] == 12
    assert many["totals"]["fault"] == 1


def test_the_text_says_how_many_are_alike() -> None:
    assert "and 11 like it" in " ".join(files_as_text([checked(*_slips(12))], 100, False).split())
