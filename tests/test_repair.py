"""The rounds of a repair: what cannot be proven is taken back, and every finding is accounted for.

Most rules here are made up for the test: each finds and mends what brings the loop into a corner.
Source outside the project: gzip by RFC 1952, through the standard library.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from matready.lint.acts import Act, Fix, Gather, Join, Resize
from matready.lint.cutting import Cutout, Gap
from matready.lint.finding import Finding, Grade, Severity, Unchecked
from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.rule import Rule
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.lint.source import Unreadable

from tests.drawn import FOLD, STRUCTURE, page, path, place_of

Check = Callable[[Cutout], Iterable[Finding | Unchecked]]


@dataclass(frozen=True, slots=True)
class Limits:
    """Rules made up here measure nothing."""


def _rule(name: str, check: Check) -> Rule:
    return Rule(name, Severity.FAULT, Limits, lambda cutout, limits: check(cutout), Grade.SAFE)


def _finding(act: Act | None, at: tuple[float, float] = (10, 10), says: str = "so") -> Finding:
    fix = None if act is None else Fix(Grade.SAFE, act)
    return Finding(says, at, (*at, *at), (0,), fix=fix)


def _groups(cutout: Cutout) -> int:
    return sum(node.kind == "g" for node in cutout.drawing.nodes)


def _fixed(data: bytes, *rules: Rule, settings: Settings | None = None) -> Repaired:
    return repair(data, "stage.svg", rules, settings or Settings())


def _by_name(name: str) -> Rule:
    return next(rule for rule in STRUCTURE if rule.name == name)


WING = page(path("M10 10H60V90H10Z"), path("M10 30H60", FOLD))
LOOSE, GAP = _by_name("loose-score"), _by_name("hairline-gap")


def _panels(count: int) -> bytes:
    """Square panels in a row, each with a corner 0.2 mm open."""
    return page(*(path(f"M{x}.2 10H{x + 15}V25H{x}V10") for x in range(10, 10 + 18 * count, 18)))


def _no_group(cutout: Cutout) -> Iterator[Finding]:
    """Asks for a group where there is none."""
    if not _groups(cutout):
        yield _finding(Gather(cutout.pieces[0].unit))


# What is taken back


def test_a_fix_that_brings_the_finding_of_another_rule_is_taken_back() -> None:
    def any_group(cutout: Cutout) -> Iterator[Finding]:
        if _groups(cutout):
            yield _finding(None, says="a group is in the way")

    copy = _fixed(WING, _rule("no-group", _no_group), _rule("any-group", any_group))
    assert copy.data is WING
    assert copy.fixed == ()
    (left,) = copy.not_fixed
    assert left.finding.rule == "no-group"
    assert "any-group" in left.reason
    assert "a group is in the way" in left.reason


def test_what_a_rule_without_fixes_objects_to_costs_that_fix_alone() -> None:
    def any_group(cutout: Cutout) -> Iterator[Finding]:
        if _groups(cutout):
            yield _finding(None, says="a group is in the way")

    data = page(path("M10.2 10H60V90H10V10"), path("M10 30H60", FOLD))
    objects = Rule(
        "any-group", Severity.FAULT, Limits, lambda cutout, limits: any_group(cutout), None
    )
    copy = _fixed(data, GAP, LOOSE, objects)
    assert [one.rule for one in copy.fixed] == ["hairline-gap"]
    assert [one.finding.rule for one in copy.not_fixed] == ["loose-score"]
    assert "a group is in the way" in copy.not_fixed[0].reason
    assert _fixed(copy.data, GAP, LOOSE, objects).data == copy.data


def test_rules_that_undo_each_other_come_to_rest() -> None:
    """Each rule's fix brings the finding of the other: neither fix is made."""
    unit = 0

    def left(cutout: Cutout) -> Iterator[Finding]:
        yield _finding(Gather(unit), says="there is a group too few")
        if _groups(cutout):
            yield _finding(Gather(unit), (120, 10), "there is a group too many")

    def right(cutout: Cutout) -> Iterator[Finding]:
        yield _finding(Gather(unit), (10 if _groups(cutout) else 60, 10))

    copy = _fixed(WING, _rule("too-few", left), _rule("too-far", right))
    assert copy.data is WING
    assert copy.fixed == ()
    assert [n.finding.rule for n in copy.not_fixed] == ["too-few", "too-far"]
    assert "would bring a new finding, too-few" in copy.not_fixed[1].reason


def test_a_finding_that_outlives_its_fix_is_taken_back() -> None:
    def still(cutout: Cutout) -> Iterator[Finding]:
        yield _finding(Gather(cutout.pieces[0].unit))

    copy = _fixed(WING, _rule("still-there", still))
    assert copy.data is WING
    assert [n.reason for n in copy.not_fixed] == ["the finding would still be there"]


@pytest.mark.parametrize("apart_mm", [0, 60])
def test_a_rule_that_finds_more_with_every_fix_comes_to_rest(apart_mm: float) -> None:
    def grows(cutout: Cutout) -> Iterator[Finding]:
        for number in range(_groups(cutout) + 1):
            yield _finding(Gather(cutout.pieces[0].unit), (10 + apart_mm * number, 10))

    copy = _fixed(WING, _rule("one-more", grows))
    assert copy.data is WING
    assert len(copy.not_fixed) == 1


def test_of_many_fixes_in_a_round_the_one_that_cannot_be_proven_is_left() -> None:
    def third_is_closed(cutout: Cutout) -> Iterator[Finding]:
        if cutout.drawing.geometry.closed[2]:
            yield _finding(None, says="the third panel is closed")

    data = _panels(5)
    copy = _fixed(data, GAP, _rule("third-closed", third_is_closed))
    assert len(copy.fixed) == 4
    (left,) = copy.not_fixed
    assert "the third panel is closed" in left.reason
    assert 46 < place_of(left.finding)[0] < 47
    paths = re.findall(rb'd="([^"]*)"', copy.data)
    assert [b"Z" in one.upper() for one in paths] == [True, True, False, True, True]
    assert paths[2] == re.findall(rb'd="([^"]*)"', data)[2]


def test_fixes_that_go_too_far_together_are_all_taken_back() -> None:
    """Each step is short enough, the way is not: 3 × 0.4 mm where 0.5 mm may be."""

    def short_of(cutout: Cutout) -> Iterator[Finding]:
        """The slit should reach x = 40, and goes there by steps."""
        end = cutout.drawing.geometry.points[-1]
        steps = round((40 - end[0]) / 0.4)
        for _ in range(steps):
            ends = np.array([end, np.add(end, (0.4, 0))])
            yield _finding(Join(Gap(ends, 0.4, (1,))), (35, 50))

    def slit(x: float) -> bytes:
        return page(path("M10 10H60V90H10Z"), path(f"M20 50H{x}"))

    near, far = slit(39.6), slit(38.8)
    assert len(_fixed(near, _rule("too-short", short_of)).fixed) == 1
    copy = _fixed(far, _rule("too-short", short_of))
    assert copy.data is far
    assert copy.fixed == ()
    assert copy.moved_mm == 0
    assert len(copy.not_fixed) == 3
    assert all("would move by 1.20 mm" in left.reason for left in copy.not_fixed)


# What does not stop the rest


def test_a_rule_that_breaks_does_not_stop_the_others() -> None:
    def breaks(cutout: Cutout) -> Iterator[Finding]:
        raise ZeroDivisionError("no light")

    copy = _fixed(WING, _rule("broken-one", breaks), LOOSE)
    assert [record.rule for record in copy.fixed] == ["loose-score"]
    assert not copy.not_fixed and not copy.left


def test_fixes_on_one_line_are_made_one_after_the_other() -> None:
    """Two gaps between the same two lines: read anew in between; two far apart: in one go."""
    seen: list[int] = []  # gaps that are left, reading by reading

    def watch(cutout: Cutout) -> Iterator[Finding]:
        seen.append(len(cutout.gaps))
        return iter(())

    watcher = _rule("look-on", watch)
    halves = page(path("M10 10H60V50"), path("M60 50.2V90H10V10.2"))
    assert len(_fixed(halves, GAP, watcher).fixed) == 2
    assert list(dict.fromkeys(seen)) == [2, 1, 0]
    seen.clear()
    assert len(_fixed(_panels(2), GAP, watcher).fixed) == 2
    assert list(dict.fromkeys(seen)) == [2, 0]


def test_the_reason_of_a_refusal_is_told() -> None:
    through = page(path("M10 10H45V90H10Z"), path("M55 10H90V90H55Z"), path("M10 25H90", FOLD))
    copy = _fixed(through, LOOSE)
    assert copy.data is through
    assert len(copy.not_fixed) == 2
    assert all("runs through several pieces" in left.reason for left in copy.not_fixed)


def test_what_stood_in_the_way_is_tried_again() -> None:
    """The fold of a piece that is open cannot be grouped before the outline is closed."""
    data = page(path("M10 10.2V90H60V10H10"), path("M10 30H60", FOLD))
    copy = _fixed(data, LOOSE, GAP)
    assert sorted(record.rule for record in copy.fixed) == ["hairline-gap", "loose-score"]
    assert not copy.not_fixed and not copy.left


# What is asked for


def test_where_nothing_is_to_be_done_the_bytes_are_the_very_same() -> None:
    for data in (
        page(path("M10 10H60V90H10Z")),
        page(f"<g>{path('M10 10H60V90H10Z')}{path('M10 30H60', FOLD)}</g>"),
        gzip.compress(page(path("M10 10H60V90H10Z")), 1),
        page(),
    ):
        copy = repair(data, "stage.svg", STRUCTURE, Settings())
        assert copy.data is data
        assert not copy.fixed and not copy.not_fixed
        assert copy.moved_mm == 0


def test_packed_in_packed_out_and_each_time_the_same() -> None:
    plain = repair(WING, "stage.svg", STRUCTURE, Settings())
    for packed in (gzip.compress(WING, 1), gzip.compress(WING, 9, mtime=1)):
        copy = repair(packed, "stage.svgz", STRUCTURE, Settings())
        assert copy.data[:3] == b"\x1f\x8b\x08"  # RFC 1952, 2.3.1
        assert copy.data[4:8] == bytes(4), "no time stamp"
        assert gzip.decompress(copy.data) == plain.data
        assert repair(copy.data, "stage.svgz", STRUCTURE, Settings()).data is copy.data
        assert repair(packed, "stage.svgz", STRUCTURE, Settings()).data == copy.data


ALL_AT_ONCE = """<?xml version="1.0" encoding="{}"?>\r
<!-- Bühne: die Flügel -->\r
<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">\r
\t<title>Flügel &amp; Wände</title>\r
\t<path id='Flügel' d='M10 10H60V90H10V10.2' fill='none' stroke='#33475b'/>\r
\t<rect x="100" y="10" width="40" height="40" fill="none" stroke="#33475b"/> <!-- ö -->\r
\t<path d="M10 30H60" fill="none" stroke="#b5543a" stroke-dasharray="2 1"/>\r
\t<rect x="100" y="10" width="40" height="40" fill="none" stroke="#33475b"/>\r
</svg>\r
"""


@pytest.mark.parametrize(
    ("name", "codec"),
    [
        ("UTF-8", "utf-8"),
        ("UTF-8", "utf-8-sig"),
        ("UTF-16", "utf-16"),
        ("ISO-8859-1", "iso8859-1"),
        ("windows-1252", "cp1252"),
    ],
)
def test_the_encoding_makes_no_difference(name: str, codec: str) -> None:
    """By Python's codecs: decoded, all copies are one text but for the encoding that they name."""
    plain = repair(ALL_AT_ONCE.format("UTF-8").encode(), "stage.svg", STRUCTURE, Settings())
    copy = repair(ALL_AT_ONCE.format(name).encode(codec), "stage.svg", STRUCTURE, Settings())
    assert len(copy.fixed) == 3
    assert copy.fixed == plain.fixed
    assert copy.data.decode(codec).replace(name, "UTF-8") == plain.data.decode()
    assert plain.data.count(b"\n") == plain.data.count(b"\r\n")


def test_shape_and_size_are_changed_only_where_that_is_asked_for() -> None:
    open_wall = page(path("M10 10H60V90H10V60"))
    small = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="612" height="792" '
        b'viewBox="0 0 612 792"><path d="M72 72H360V360H72Z" fill="none" stroke="#33475b"/></svg>'
    )
    for data, name in ((open_wall, "open-outline"), (small, "wrong-scale")):
        safe = repair(data, "stage.svg", STRUCTURE, Settings())
        assert safe.data is data
        assert [record.rule for record in safe.left] == [name]
        assert safe.not_fixed == ()
        shaped = repair(data, "stage.svg", STRUCTURE, Settings(), reshape=True)
        assert [(record.rule, record.grade) for record in shaped.fixed] == [(name, "reshaping")]
        assert not shaped.left and not shaped.not_fixed
        assert not lint_bytes(shaped.data, "stage.svg", STRUCTURE).findings


def test_a_safe_fix_says_so() -> None:
    assert [record.grade for record in _fixed(WING, LOOSE).fixed] == ["safe"]


@pytest.mark.parametrize(
    ("settings", "fixed"),
    [
        (Settings(), ["hairline-gap", "loose-score"]),
        (Settings(skip=frozenset({"loose-score"})), ["hairline-gap"]),
        (Settings(only=frozenset({"loose-score"})), ["loose-score"]),
        (Settings(skip=frozenset({"loose-score", "hairline-gap"})), []),
    ],
    ids=["all", "skip", "only", "none"],
)
def test_rules_that_are_not_run_mend_nothing(settings: Settings, fixed: list[str]) -> None:
    # The gap is in a wall of its own: the wing is a piece without it.
    data = page(path("M10 10H60V90H10Z"), path("M10 30H60", FOLD), path("M100 10.2V90H150V10H100"))
    copy = repair(data, "stage.svg", STRUCTURE, settings)
    assert sorted(record.rule for record in copy.fixed) == fixed
    assert not copy.not_fixed and not copy.left
    assert (copy.data is data) == (not fixed)


def test_records_speak_of_the_source() -> None:
    """Line, place and piece of what was fixed are those before any fix."""
    rows = [path("M10 10H60V90H10Z", name="wing"), "", path("M10 30H60", FOLD)]
    copy = _fixed(page("\n".join(rows)), LOOSE)
    (record,) = copy.fixed
    assert (record.line, record.piece) == (3, "wing")
    assert record.at_mm == pytest.approx((35, 30), abs=1)
    assert "not grouped with its outline" in record.message


def test_a_resize_may_not_be_followed_by_another() -> None:
    """A page that is never right is left as it was."""

    def never_right(cutout: Cutout) -> Iterator[Finding]:
        yield _finding(Resize(2.0))

    copy = _fixed(WING, _rule("never-right", never_right))
    assert copy.data is WING
    assert len(copy.not_fixed) == 1


def test_what_cannot_be_read_is_said_by_the_reader() -> None:
    with pytest.raises(Unreadable):
        repair(b"a puppet", "puppet.svg", STRUCTURE, Settings())
