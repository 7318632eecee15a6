"""`data-matready-allow`: which findings a drawing silences, how they are counted, what fix does."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from matready.lint.allowances import ATTRIBUTE
from matready.lint.cli import main
from matready.lint.cutting import Cutout
from matready.lint.finding import Finding, Severity
from matready.lint.inspection import inspect_source
from matready.lint.repair import repair
from matready.lint.results import FileReport
from matready.lint.rule import Rule
from matready.lint.runner import inspect_bytes, lint_bytes
from matready.lint.settings import Settings
from matready.lint.source import read_source
from matready.rules import RULES

HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'width="100mm" height="100mm" viewBox="0 0 100 100" fill="none" stroke="#000"'
)
# The last side of 30 mm is missing: far more than any hairline.
OPEN = '<path d="M10 10h30v40h-30"{}/>'
WINDOW = '<rect id="window" x="60" y="60" width="20" height="20"/>'


def _drawing(body: str, root: str = "") -> bytes:
    return f"{HEAD}{root}><title>A wing of the stage</title>{body}</svg>".encode()


def _allow(names: str) -> str:
    return f' {ATTRIBUTE}="{names}"'


def _report(data: bytes, settings: Settings | None = None) -> FileReport:
    return lint_bytes(data, "wing.svg", RULES, settings)


def _open(data: bytes) -> tuple[int, int]:
    """How many open outlines are told and how many findings are silenced."""
    report = _report(data)
    return sum(one.rule == "open-outline" for one in report.findings), report.silenced


def test_without_the_attribute_it_is_told() -> None:
    assert _open(_drawing(OPEN.format(""))) == (1, 0)


ALLOW = _allow("open-outline")

SILENT = {
    "on the element": _drawing(OPEN.format(ALLOW)),
    "on its group": _drawing(f"<g{ALLOW}>{OPEN.format('')}</g>"),
    "on a group above": _drawing(f"<g{ALLOW}><g><g>{OPEN.format('')}</g></g></g>"),
    "on the root": _drawing(OPEN.format(""), ALLOW),
    "among others, by blanks": _drawing(OPEN.format(_allow("  double-cut \n open-outline "))),
    "among others, by commas": _drawing(
        OPEN.format(_allow("double-cut,open-outline, loose-score"))
    ),
    "on the use": _drawing(
        f'<defs><g id="side">{OPEN.format("")}</g></defs><use href="#side"{ALLOW}/>'
    ),
    "on the use, in the old spelling": _drawing(
        f'<defs><g id="side">{OPEN.format("")}</g></defs><use xlink:href="#side"{ALLOW}/>'
    ),
    "on a group around the use": _drawing(
        f'<defs><g id="side">{OPEN.format("")}</g></defs><g{ALLOW}><use href="#side"/></g>'
    ),
    "on what the use draws": _drawing(
        f'<defs><g id="side"{ALLOW}>{OPEN.format("")}</g></defs><use href="#side"/>'
    ),
    "inside what the use draws": _drawing(
        f'<defs><g id="side"><g{ALLOW}>{OPEN.format("")}</g></g></defs><use href="#side"/>'
    ),
    "on the symbol": _drawing(
        f'<symbol id="side"{ALLOW}>{OPEN.format("")}</symbol><use href="#side"/>'
    ),
    "around the definition": _drawing(
        f'<defs{ALLOW}><g id="side">{OPEN.format("")}</g></defs><use href="#side"/>'
    ),
}


@pytest.mark.parametrize("data", SILENT.values(), ids=SILENT.keys())
def test_it_silences_the_rule_for_the_element_and_all_below(data: bytes) -> None:
    assert _open(data) == (0, 1)


LOUD = {
    "of another rule": _drawing(OPEN.format(_allow("double-cut"))),
    "in capitals": _drawing(OPEN.format(_allow("Open-Outline"))),
    "that is empty": _drawing(OPEN.format(_allow(" , "))),
    "on a neighbour": _drawing(f"<g{ALLOW}>{WINDOW}</g>{OPEN.format('')}"),
    "on something inside": _drawing(OPEN.format("").replace("/>", f"><desc{ALLOW}/></path>")),
    "of another name": _drawing(OPEN.format(' data-allow="open-outline"')),
    "in a comment": _drawing(f"<!--{ALLOW}-->{OPEN.format('')}"),
}


@pytest.mark.parametrize("data", LOUD.values(), ids=LOUD.keys())
def test_it_silences_nothing_else(data: bytes) -> None:
    assert _open(data) == (1, 0)


def test_one_of_two_uses_may_allow_what_the_other_does_not() -> None:
    data = _drawing(
        f'<defs><g id="side">{OPEN.format("")}</g></defs><use href="#side"{ALLOW}/>'
        '<use href="#side" x="45"/>'
    )
    report = _report(data)
    told = [one for one in report.findings if one.rule == "open-outline"]
    assert ([one.elements for one in told], report.silenced) == ([("/svg/use[2]",)], 1)


def test_a_name_that_no_rule_has_is_told_with_its_line_and_the_nearest() -> None:
    data = _drawing(f"\n\n{OPEN.format(_allow('open-outlines double-cut'))}")
    report = _report(data)
    assert report.silenced == 0
    assert [msgspec.to_builtins(one) for one in report.not_checked] == [
        {
            "rule": "data-matready-allow",
            "reason": 'line 3: data-matready-allow names no rule "open-outlines"; '
            'the nearest is "open-outline"',
        }
    ]
    # A run of one rule knows the names of all.
    only = Settings(only=frozenset(["double-cut"]))
    assert len(_report(data, only).not_checked) == 1
    assert not _report(_drawing(OPEN.format(ALLOW)), only).not_checked


def test_an_element_that_draws_nothing_can_allow_too() -> None:
    def check(cutout: Cutout, limits: object) -> list[Finding]:
        root = cutout.drawing.source.root
        return [Finding("it glitters", None, None, (), elements=(root[-1],))]

    rule = Rule("stray-glitter", Severity.FAULT, _NoLimits, check)
    for attribute, told in (("", 1), (_allow("stray-glitter"), 0)):
        data = _drawing(f"{WINDOW}<metadata{attribute}/>")
        report = inspect_bytes(data, "x.svg", [rule]).report
        assert (len(report.findings), report.silenced) == (told, 1 - told)


@dataclass(frozen=True, slots=True)
class _NoLimits:
    """A rule without limits."""


def test_what_comes_of_a_silenced_cause_stays_left_out() -> None:
    def finds(message: str) -> Callable[[Cutout, object], list[Finding]]:
        box = (60.0, 60.0, 80.0, 80.0)

        def check(cutout: Cutout, limits: object) -> list[Finding]:
            return [Finding(message, (70.0, 70.0), box, (1,))]

        return check

    cause = Rule("loose-hinge", Severity.FAULT, _NoLimits, finds("it hangs loose"))
    result = Rule(
        "crooked-door", Severity.FAULT, _NoLimits, finds("it hangs crooked"),
        yields_to=("loose-hinge",),
    )  # fmt: skip
    window = WINDOW.replace("/>", f"{_allow('loose-hinge')}/>")
    report = inspect_bytes(_drawing(window), "x.svg", [cause, result]).report
    assert (report.findings, report.silenced) == ((), 1)
    alone = inspect_bytes(_drawing(window), "x.svg", [result]).report
    assert [one.rule for one in alone.findings] == ["crooked-door"]


NAMES = st.lists(st.sampled_from(["open-outline", "double-cut", "loose"]), max_size=3)
BETWEEN = st.sampled_from([" ", ",", ", ", "  "])


@given(st.lists(st.tuples(NAMES, BETWEEN, st.integers(0, 9)), min_size=1, max_size=8))
def test_it_holds_for_what_xpath_says_is_below(groups: list[tuple[list[str], str, int]]) -> None:
    """Groups in groups, each with an open outline; libxml2 finds what is at or below the word."""
    svg = etree.fromstring(_drawing(""))
    homes = [svg]
    for names, between, home in groups:
        group = etree.SubElement(homes[home % len(homes)], "{http://www.w3.org/2000/svg}g")
        if names:
            group.set(ATTRIBUTE, between.join(names))
        x, y = 5 + 10 * len(homes), 10
        line = etree.SubElement(group, "{http://www.w3.org/2000/svg}path")
        line.set("d", f"M{x} {y}h5v40h-5v-37")
        homes.append(group)
    # XPath 1.0, the usual test for one word in a list of them.
    words = f"concat(' ', normalize-space(translate(@{ATTRIBUTE}, ',', ' ')), ' ')"
    told = svg.xpath(
        f"count(//*[local-name() = 'path'][not(ancestor-or-self::*[contains({words}, "
        "' open-outline ')])])"
    )
    settings = Settings(only=frozenset(["open-outline"]))
    inspection = inspect_source(read_source(etree.tostring(svg), "x.svg"), RULES, settings)
    assert sum(1 for _ in inspection.findings()) == told
    assert inspection.silenced == len(groups) - told


# On the command line

TWICE = _drawing(
    f'<g{_allow("double-cut")}><rect id="door" x="5" y="60" width="20" height="20"/>'
    '<rect id="door-again" x="5" y="60" width="20" height="20"/></g>'
    '<rect id="arch" x="35" y="60" width="20" height="20"/>'
    '<rect id="arch-again" x="35" y="60" width="20" height="20"/>'
)


def test_silenced_findings_are_counted_and_do_not_fail(tmp_path: Path) -> None:
    (tmp_path / "wing.svg").write_bytes(_drawing(OPEN.format(f' id="side"{ALLOW}')))
    (tmp_path / "door.svg").write_bytes(TWICE)
    only = ["--rule", "open-outline", "--rule", "double-cut"]
    ran = CliRunner().invoke(main, ["lint", str(tmp_path / "wing.svg"), *only])
    assert ran.exit_code == 0
    assert "1 finding silenced in the drawings" in " ".join(ran.stdout.split())
    ran = CliRunner().invoke(main, ["lint", str(tmp_path), "--format", "json", *only])
    assert ran.exit_code == 1
    report = json.loads(ran.stdout)
    counts = {Path(file["path"]).name: file["silenced"] for file in report["files"]}
    assert counts == {"wing.svg": 1, "door.svg": 1}
    assert report["totals"] == {
        **report["totals"], "fault": 1, "caution": 0, "tidy": 0, "silenced": 2
    }  # fmt: skip


def test_fix_leaves_alone_what_is_silenced_and_a_second_run_changes_nothing() -> None:
    only = Settings(only=frozenset(["double-cut"]))
    done = repair(TWICE, "door.svg", RULES, only)
    assert [one.rule for one in done.fixed] == ["double-cut"]
    assert (done.not_fixed, done.left) == ((), ())
    text = done.data.decode()
    assert 'id="door-again"' in text
    assert text.count('id="arch') == 1
    after = _report(done.data, only)
    assert (after.findings, after.silenced) == ((), 1)
    assert repair(done.data, "door.svg", RULES, only).data == done.data


def test_fix_changes_no_byte_where_all_is_silenced() -> None:
    data = _drawing(
        f'<g{_allow("double-cut loose-score")}><rect id="door" x="5" y="5" width="40" height="40"/>'
        '<rect id="door-again" x="5" y="5" width="40" height="40"/>'
        '<path id="fold" stroke-dasharray="3 1" d="M5 25h40"/></g>'
    )
    only = Settings(only=frozenset(["double-cut", "loose-score"]))
    assert _report(data, only).silenced > 0
    done = repair(data, "door.svg", RULES, only)
    assert (done.data, done.fixed, done.not_fixed) == (data, (), ())
    assert done.silenced == _report(data, only).silenced


def test_fix_counts_what_is_silenced(tmp_path: Path) -> None:
    (tmp_path / "door.svg").write_bytes(TWICE)
    command = ["fix", str(tmp_path), "--dry-run"]
    ran = CliRunner().invoke(main, command)
    assert "1 finding silenced in the drawings" in " ".join(ran.stderr.split())
    report = json.loads(CliRunner().invoke(main, [*command, "--format", "json"]).stdout)
    assert report["totals"]["silenced"] == report["files"][0]["silenced"] == 1


TIPS = [f'<path id="ray-{k}" d="M10 {10 + 12 * k}l60 3l-60 3z"{{}}/>' for k in range(5)]


@pytest.mark.parametrize("allowed", [0, 1, 4, 5])
def test_one_finding_for_many_is_silenced_only_where_all_of_them_are_allowed(allowed: int) -> None:
    rays = (ray.format(_allow("sharp-tip") if k < allowed else "") for k, ray in enumerate(TIPS))
    report = lint_bytes(
        _drawing("".join(rays)), "sun.svg", RULES, Settings(only=frozenset(["sharp-tip"]))
    )
    assert [one.count for one in report.findings] == ([] if allowed == 5 else [5])
    assert report.silenced == (allowed == 5)
