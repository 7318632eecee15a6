"""A rule: plain data, its limits, and one pure function from a Cutout to findings."""

from __future__ import annotations

import dataclasses
import inspect
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, get_type_hints

from matready.lint.finding import Finding, Grade, Severity, Unchecked

if TYPE_CHECKING:
    from matready.lint.cutting import Cutout
    from matready.lint.sets import SetFinding

HEADINGS = (
    "What it finds",
    "Why it matters at the machine",
    "How to put it right",
    "When to leave it",
    "In a drawing",
)


@dataclass(frozen=True, slots=True)
class Limit:
    """One number of a rule: its unit, what it means, and where its default comes from.

    `stock` names the field of a Stock whose value takes the default's place for that stock.
    """

    unit: str
    meaning: str
    source: str
    stock: str | None = None


def described(limits: type[Any]) -> dict[str, tuple[float, Limit]]:
    """For each number of a limits class its default and its description."""
    hints = get_type_hints(limits, include_extras=True)
    return {
        field.name: (float(field.default), hints[field.name].__metadata__[0])
        for field in dataclasses.fields(limits)
        if isinstance(field.default, int | float)
    }


@dataclass(frozen=True)
class Rule:
    """A rule of the linter.

    `limits` is a frozen dataclass whose fields are annotated with a Limit; `check` is pure and
    gets an instance of it. `fixes` is the riskiest grade a finding of this rule may promise.
    `yields_to` names rules that tell the cause where this one tells what comes of it: a finding
    that shares a place with one of theirs, and an element or one that it rests on, is left out.
    `gathers`: a finding is about many elements with one cause, so all of them must be allowed for
    it to be silenced; of others, such as one about two lines, one will do. `asked`: its fixes are
    made only where it is named (`--rule`), since they take something away that the owner of the
    file may want to keep. `needs_size`: it measures in mm, so it does not look where the size of
    the page is in doubt. The module's docstring explains the rule under the HEADINGS.
    """

    name: str
    severity: Severity
    limits: type[Any]
    check: Callable[[Cutout, Any], Iterable[Finding | Unchecked]] | None
    fixes: Grade | None = None
    yields_to: tuple[str, ...] = ()
    gathers: bool = False
    asked: bool = False
    needs_size: bool = False
    collect: Callable[[Cutout, Any], object] | None = None
    check_set: (
        Callable[[Sequence[tuple[str, Any]], Any], Iterable[SetFinding | Unchecked]] | None
    ) = None
    whole_set: bool = False

    @property
    def module(self) -> str:
        """The name of the module that the rule stands in."""
        function = self.check or self.check_set
        assert function is not None, "a rule has to check something"
        return function.__module__

    @cached_property
    def summary(self) -> str:
        """The first line of the explanation."""
        return self._docstring.partition("\n")[0]

    @cached_property
    def explanation(self) -> Mapping[str, str]:
        """The text under each of the headings."""
        parts: dict[str, list[str]] = {}
        for line in self._docstring.splitlines()[1:]:
            if line in HEADINGS:
                parts[line] = []
            elif parts:
                parts[list(parts)[-1]].append(line)
        return {head: textwrap.dedent("\n".join(body)).strip() for head, body in parts.items()}

    def described_limits(self) -> dict[str, tuple[float, Limit]]:
        """For each of the rule's own limits its default and its description."""
        return described(self.limits)

    @property
    def _docstring(self) -> str:
        return inspect.cleandoc(sys.modules[self.module].__doc__ or "")
