"""From a finding's act to the plan of its fix."""

from __future__ import annotations

from functools import cached_property

from matready.lint.acts import (
    Act,
    Close,
    Drop,
    Entitle,
    Gather,
    Join,
    Perforate,
    Purge,
    PutBehind,
    Redash,
    Resize,
    Seal,
    Shorten,
    Split,
    Thin,
    WriteOut,
)
from matready.lint.cutting import Cutout
from matready.lint.repair.behind import plan_behind
from matready.lint.repair.declared import Declared
from matready.lint.repair.drop import Dropper
from matready.lint.repair.entitle import plan_titles
from matready.lint.repair.gather import Gatherer
from matready.lint.repair.join import plan_close, plan_join
from matready.lint.repair.parts import Belongings
from matready.lint.repair.plan import Plan
from matready.lint.repair.purge import plan_purge
from matready.lint.repair.redash import plan_redash
from matready.lint.repair.references import References
from matready.lint.repair.resize import plan_resize
from matready.lint.repair.scores import ScoreCutter
from matready.lint.repair.seal import plan_seal
from matready.lint.repair.split import plan_split
from matready.lint.repair.thin import plan_thin
from matready.lint.repair.writeout import Writer


class Planner:
    """Plans fixes for one cutout."""

    def __init__(self, cutout: Cutout, declared: Declared) -> None:
        self._cutout = cutout
        self._declared = declared

    def plans(self, act: Act) -> list[Plan]:
        """Ways to carry an act out, the best first; raises Refused with the reason why not."""
        match act:
            case Gather():
                return [self._gatherer.plan(act.unit)]
            case Join():
                return [plan_join(self._cutout, act.gap)]
            case Close():
                return [plan_close(self._cutout, act.opening)]
            case Drop():
                return self._dropper.plans(act.runs)
            case Resize():
                return [plan_resize(self._cutout, self._declared, act)]
            case Perforate():
                return self._scores.perforate(act)
            case Shorten():
                return [self._scores.shorten(act)]
            case Split():
                return [self._split(act.node)]
            case Redash():
                return plan_redash(self._cutout, self._scores, act.folds)
            case _:
                return [self._plan_of_spelling(act)]

    def _plan_of_spelling(self, act: Entitle | Purge | PutBehind | Seal | Thin | WriteOut) -> Plan:
        """The plan of an act that says otherwise what is drawn, and draws the same."""
        match act:
            case Entitle():
                return plan_titles(self._cutout, act.titles)
            case Purge():
                return plan_purge(self._cutout, act, self._references)
            case PutBehind():
                return plan_behind(self._cutout, self._belongs, self._declared, act.moves)
            case Seal():
                return plan_seal(self._cutout, act.lines)
            case Thin():
                return plan_thin(self._cutout, act.line)
            case WriteOut():
                return Writer(self._cutout, self._declared, self._references).plan(act.nodes)

    def _split(self, node: int) -> Plan:
        return plan_split(self._cutout, self._belongs, self._declared, self._references, node)

    @cached_property
    def _scores(self) -> ScoreCutter:
        return ScoreCutter(self._cutout, self._declared, self._references)

    @cached_property
    def _references(self) -> References:
        return References(self._cutout.drawing)

    @cached_property
    def _belongs(self) -> Belongings:
        return Belongings(self._cutout)

    @cached_property
    def _gatherer(self) -> Gatherer:
        return Gatherer(self._cutout, self._belongs, self._declared, self._references)

    @cached_property
    def _dropper(self) -> Dropper:
        return Dropper(self._cutout, self._belongs, self._declared, self._references)
