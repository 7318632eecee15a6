"""The rounds of a repair: plan, splice, read back, prove; until nothing is left to be tried.

Fixes whose lines meet are made one after the other, with a fresh reading between. A round that
fails its proof is tried again with half of its fixes, so that the one to blame is found and left.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import shapely

from matready.lint.acts import Close, Fix, Perforate, Resize
from matready.lint.drawing import Floats
from matready.lint.finding import Finding, Grade
from matready.lint.inspection import Inspection, inspect_cutout, inspect_source
from matready.lint.repair.carry import carry_styles
from matready.lint.repair.declared import Declared
from matready.lint.repair.edits import Edits
from matready.lint.repair.plan import Plan
from matready.lint.repair.planner import Planner
from matready.lint.repair.proof import Allowed, Unproven, prove
from matready.lint.repair.refusal import Refused
from matready.lint.repair.splice import splice
from matready.lint.settings import Settings
from matready.lint.source import Source, Unreadable, read_source

if TYPE_CHECKING:
    from matready.lint.rule import Rule

_NEAR_MM = 0.5  # findings of one rule this near each other are about the same spot
_ROUNDS = 10  # for each finding, an alarm only: every round fixes or refuses at least one
_CARRIES = 4
_ALL = 1_000_000

Key = tuple[str, int | str, int]


@dataclass(frozen=True, slots=True)
class Step:
    """A finding with the plan of its fix."""

    rule: Rule
    finding: Finding
    fix: Fix
    plan: Plan
    others: tuple[Plan, ...] = ()  # other ways, for when this one cannot be proven

    @property
    def key(self) -> Key:
        """What names the finding from one reading to the next."""
        return key_of(self.rule, self.finding)


def key_of(rule: Rule, finding: Finding) -> Key:
    """The rule and the place to a fifth of a millimetre; what has no place goes by its words."""
    if finding.at is None:
        return rule.name, finding.message, 0
    return rule.name, round(finding.at[0] * 5), round(finding.at[1] * 5)


@dataclass(slots=True)
class Progress:
    """What has been done so far.

    `refused` says of findings why they are left; `unproven` are those of them that were tried.
    `ratio` is how many times larger the page has become, `added` are lines drawn between two ends,
    in mm of the source.
    """

    now: Inspection
    done: list[tuple[Step, Inspection]] = field(default_factory=list)
    refused: dict[Key, str] = field(default_factory=dict)
    unproven: dict[Key, str] = field(default_factory=dict)
    added: list[Floats] = field(default_factory=list)
    ratio: float = 1.0
    rounds: int = 0
    at_once: int = _ALL  # how many fixes the next round tries
    moved_mm: float = 0.0  # in the last round


class Loop:
    """Repairs one source.

    Rules that mend nothing look once, at the end: the same pieces mostly give the same findings.
    `all_look`: they look after each round, so that the fix to blame is found.
    """

    def __init__(
        self, rules: Sequence[Rule], settings: Settings, reshape: bool, all_look: bool = False
    ) -> None:
        self._rules = rules
        mending = [rule for rule in rules if rule.fixes is not None]
        causes = {name for rule in mending for name in rule.yields_to}
        self._looking = [
            rule for rule in rules if all_look or rule in mending or rule.name in causes
        ]
        self._settings = settings
        self._reshape = reshape

    def run(self, first: Inspection) -> Progress:
        """All that came of a drawing that all rules have looked at."""
        progress = Progress(first)
        tried = 0  # what was done when the refused were last tried anew
        for _ in range(_ROUNDS * (1 + sum(1 for _ in first.findings()))):
            steps = self._steps(progress)
            if steps:
                self._round(progress, steps)
            elif len(progress.done) > tried:
                # Another run would try again what was refused on the way; so does this one.
                tried = len(progress.done)
                progress.refused, progress.unproven, progress.at_once = {}, {}, _ALL
            else:
                return progress
        return self.given_up(first, "its fixes do not come to an end")

    def given_up(self, first: Inspection, why: str) -> Progress:
        """Nothing done, all that was wanted refused for one reason."""
        reason = f"all fixes of this file were taken back: {why}"
        wanted = (key_of(rule, one) for rule, one in first.findings() if self.wanted(rule, one))
        return Progress(first, refused=dict.fromkeys(wanted, reason))

    def seen_by_all(self, first: Inspection, progress: Progress) -> None:
        """Let the rules that mend nothing look at the copy too; raises Unproven."""
        progress.now = inspect_cutout(progress.now.cutout, self._rules, self._settings)
        if not any(step.fix.grade is Grade.RESHAPING for step, _ in progress.done):
            worst = max(step.rule.severity.rank for step, _ in progress.done)
            refuse_new(first, progress.now, worst)

    def proven(self, before: Inspection, after: Inspection, allowed: Allowed) -> float:
        """How far anything moved, as measured; raises Unproven."""
        cutout = before.cutout
        if allowed.ratio != 1.0:
            # Curves of both are followed by the same steps, or these would seem to move.
            distances = self._settings.distances
            finer = replace(distances, flatten_mm=distances.flatten_mm / allowed.ratio)
            settings = replace(self._settings, distances=finer)
            cutout = inspect_source(cutout.drawing.source, (), settings).cutout
        return prove(cutout, after.cutout, allowed)

    def wanted(self, rule: Rule, finding: Finding) -> bool:
        """Whether a finding has a fix that was asked for."""
        fix = finding.fix
        if fix is None or (rule.asked and rule.name not in self._settings.only):
            return False
        return fix.grade is Grade.SAFE or self._reshape

    def _steps(self, progress: Progress) -> list[Step]:
        """Fixes for one round, in the order of rules and drawing, no two with a line in common."""
        planner = Planner(progress.now.cutout, Declared(progress.now.cutout.drawing.source))
        held: set[int] = set()
        steps = []
        for rule, finding in progress.now.findings():
            key = key_of(rule, finding)
            if finding.fix is None or not self.wanted(rule, finding) or key in progress.refused:
                continue
            act = finding.fix.act
            if isinstance(act, Perforate) and not held.isdisjoint(act.lines):
                continue  # its turn comes in a later round, and planning it takes long
            try:
                plan, *others = planner.plans(act)
            except Refused as why:
                progress.refused[key] = str(why)
                continue
            if held.isdisjoint(plan.holds):
                held |= plan.holds
                steps.append(Step(rule, finding, finding.fix, plan, tuple(others)))
        return steps

    def _round(self, progress: Progress, steps: list[Step]) -> None:
        """Make as many of the steps as can be proven, at least one, or refuse one."""
        steps = steps[: progress.at_once]
        while True:
            try:
                after, moved = self._made(progress.now, steps)
            except (Refused, Unproven) as why:
                if len(steps) == 1 and steps[0].others:
                    plan, *others = steps[0].others
                    steps = [replace(steps[0], plan=plan, others=tuple(others))]
                    continue
                if len(steps) == 1:
                    progress.refused[steps[0].key] = str(why)
                    progress.unproven[steps[0].key] = str(why)
                    progress.at_once = 1  # where one fails more are likely to
                    return
                steps = steps[: len(steps) // 2]
                continue
            along = self._gone_along(progress.now, after, steps)
            progress.done += [(step, progress.now) for step in (*steps, *along)]
            progress.added += [ends / progress.ratio for ends in _added(steps)]
            progress.ratio *= _ratio(steps)
            progress.now = after
            progress.rounds += 1
            progress.at_once = min(2 * progress.at_once, _ALL)
            progress.moved_mm = moved
            progress.refused = progress.unproven.copy()  # what stood in the way may be gone
            return

    def _gone_along(
        self, before: Inspection, after: Inspection, steps: Sequence[Step]
    ) -> list[Step]:
        """Findings with a fix of their own that another's fix has cured too."""
        if _ratio(steps) != 1.0:
            return []  # everything has moved
        made = {id(step.finding) for step in steps}
        left = _Spots(after)
        plan = Plan(frozenset(), "put right together with another", _nothing)
        return [
            Step(rule, finding, finding.fix, plan)
            for rule, finding in before.findings()
            if finding.fix is not None
            and self.wanted(rule, finding)
            and id(finding) not in made
            and not left.has(rule, finding)
        ]

    def _made(self, before: Inspection, steps: Sequence[Step]) -> tuple[Inspection, float]:
        """The drawing with the steps made, read back and proven, and how far anything moved.

        Raises Refused or Unproven.
        """
        after = inspect_source(self._copy(before, steps), self._looking, self._settings)
        allowed = Allowed(
            max(step.plan.moved_mm + step.plan.slack_mm for step in steps),
            _ratio(steps),
            tuple(_added(steps)),
            tuple(licence for step in steps for licence in step.plan.licences),
        )
        moved = self.proven(before, after, allowed)
        compare_findings(before, after, steps)
        return after, moved

    def _copy(self, before: Inspection, steps: Sequence[Step]) -> Source:
        """The source with the edits of all steps spliced in."""
        source = before.cutout.drawing.source
        declared = Declared(source)
        edits = Edits(before.cutout.drawing)
        for step in steps:
            step.plan.enter(edits)
        for _ in range(_CARRIES):
            spliced = splice(source, edits.splices())
            try:
                copy = read_source(spliced.data, source.name)
            except Unreadable as why:
                raise Unproven(f"the copy could not be read ({why})") from None
            if not carry_styles(source, declared, edits, spliced, copy):
                return copy
        raise Unproven("a style rule goes by where elements stand; write its style on the elements")


def _nothing(edits: Edits) -> None:
    """Enter no edit."""


def _added(steps: Iterable[Step]) -> list[Floats]:
    """The lines that steps draw between two ends, (2, 2) each."""
    return [step.fix.act.opening.ends for step in steps if isinstance(step.fix.act, Close)]


def _ratio(steps: Iterable[Step]) -> float:
    for step in steps:
        if isinstance(step.fix.act, Resize):
            return step.fix.act.ratio
    return 1.0


def compare_findings(before: Inspection, after: Inspection, steps: Sequence[Step]) -> None:
    """Raise Unproven unless each step's finding is gone and no new one has come."""
    blind = after.unchecked() - before.unchecked()
    if blind:
        raise Unproven(f"{min(blind)} could no longer look at the copy")
    whole = [step for step in steps if not step.plan.in_part]
    for name in {step.rule.name for step in steps if step.plan.in_part}:
        if _named(after, name) >= _named(before, name):
            raise Unproven("the finding would still be all there")
    if any(step.fix.grade is Grade.RESHAPING for step in steps):
        # Another size or a new piece lets rules see what they could not see before.
        keys = {key_of(rule, finding) for rule, finding in after.findings()}
        if any(step.key in keys for step in whole):
            raise Unproven("the finding would still be there")
        return
    refuse_new(before, after, max(step.rule.severity.rank for step in steps))
    count_old, count_new = (
        Counter(rule.name for rule, _ in found.findings()) for found in (before, after)
    )
    unchecked = before.unchecked()
    for name, fixed in Counter(step.rule.name for step in whole).items():
        if name not in unchecked and count_new[name] > count_old[name] - fixed:
            raise Unproven("the finding would still be there")


def _named(inspection: Inspection, name: str) -> int:
    """How many elements the findings of a rule name."""
    return sum(len(found.nodes) for rule, found in inspection.findings() if rule.name == name)


def refuse_new(before: Inspection, after: Inspection, rank: int) -> None:
    """Raise Unproven where a rule finds what it did not find in that spot before.

    What is less grave than `rank`, the rank of what was put right, may have been hidden by it.
    """
    known, unchecked = _Spots(before), before.unchecked()
    for rule, finding in after.findings():
        if rule.name in unchecked:
            continue  # it could not be seen before
        if (finding.severity or rule.severity).rank < rank:
            continue
        if not known.has(rule, finding):
            raise Unproven(f"it would bring a new finding, {rule.name}: {finding.message}")


class _Spots:
    """Where each rule has found something, by place."""

    def __init__(self, inspection: Inspection) -> None:
        boxes: dict[str, list[shapely.Geometry]] = defaultdict(list)
        self._placeless = set[Key]()
        # What a cause stood before is known too: it shows once the cause is gone.
        for rule, finding in (*inspection.findings(), *inspection.yielded):
            if finding.box is None:
                self._placeless.add(key_of(rule, finding))
            else:
                boxes[rule.name].append(shapely.box(*finding.box))
        self._trees = {name: shapely.STRtree(found) for name, found in boxes.items()}

    def has(self, rule: Rule, finding: Finding) -> bool:
        """Whether the rule has found something within _NEAR_MM of a finding."""
        if finding.box is None:
            return key_of(rule, finding) in self._placeless
        tree, (x0, y0, x1, y1) = self._trees.get(rule.name), finding.box
        if tree is None:
            return False
        around = shapely.box(x0 - _NEAR_MM, y0 - _NEAR_MM, x1 + _NEAR_MM, y1 + _NEAR_MM)
        return len(tree.query(around)) > 0
