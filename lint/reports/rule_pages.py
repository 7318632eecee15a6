"""The rules in words: all of them in a table, or one in full with the limits that are in force."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from matready.lint.finding import Grade
from matready.lint.reading.units import format_number
from matready.lint.reports.as_text import INDENT, wrapped
from matready.lint.rule import Limit, Rule, described
from matready.lint.settings import FILE_NAME, Distances, InForce, Settings
from matready.lint.stocks import DESCRIBED, Stock

_FIX = {
    Grade.SAFE: "safe, made by `matready fix` in a copy that is proven.",
    Grade.RESHAPING: "reshaping, made by `matready fix --reshape` where it is certain.",
}
_NO_FIX = "by hand."
_HANGING = INDENT + " " * len("Wrong: ")
_PARAGRAPHS = re.compile(r"\n\n|\n(?=Right: )")
DRAWN = ("Wrong: ", "Right: ")
"""How the two paragraphs begin that show a drawing in words."""


def rules_as_text(rules: Sequence[Rule], width: int) -> str:
    """All rules in one table: name, severity, and what each finds."""
    name_width = max(len(rule.name) for rule in rules)
    lines: list[str] = []
    for rule in rules:
        start = f"{rule.name:{name_width}}  {rule.severity.value:7}  "
        lines += wrapped(rule.summary, width, start, " " * len(start))
    more = f"One rule in full, by its name: matready rules {rules[0].name}"
    return "\n".join([*lines, "", *wrapped(more, width)])


def rule_as_text(rule: Rule, width: int, here: InForce) -> str:
    """One rule: what it finds, the parts of its explanation, and its limits with sources.

    The limits are those in force `here`, in the folder that the command runs in.
    """
    settings, written_in = here.settings, here.written_in
    own = settings.severity(rule)
    by_default = f"; by default {rule.severity}" if own not in (None, rule.severity) else ""
    lines = [f"{rule.name} ({own or rule.severity}{by_default})", *wrapped(rule.summary, width)]
    lines += wrapped(f"Fix: {fix_in_words(rule)}", width)
    if not settings.wants(rule):
        lines += wrapped(f"It does not run here: {written_in or FILE_NAME} skips it.", width)
    for heading, body in rule.explanation.items():
        lines += ["", heading]
        for text in paragraphs_of(body):
            lines += wrapped(text, width, INDENT, _HANGING if text.startswith(DRAWN) else INDENT)
    lines += ["", *_limits(rule, width, settings, written_in)]
    if here.for_some:
        lines += wrapped(
            f"Some files have limits of their own: see [[files]] in {written_in}.", width
        )
    return "\n".join(lines)


def fix_in_words(rule: Rule) -> str:
    """How what the rule finds is put right: its grade, and whether one has to ask for it."""
    fix = _FIX[rule.fixes] if rule.fixes else _NO_FIX
    if rule.asked:
        fix += f" Only where you ask for it: `matready fix --rule {rule.name}`."
    return fix


def paragraphs_of(body: str) -> list[str]:
    """The text under a heading in paragraphs, one line each; Wrong and Right are two of them."""
    return [" ".join(paragraph.split()) for paragraph in _PARAGRAPHS.split(body)]


def shared_limits(rule: Rule) -> dict[str, tuple[float, Limit]]:
    """The distances shared by several rules that this one speaks of: default and description."""
    words = f"{' '.join(rule.explanation.values())} {rule.limits.__doc__}"
    return {name: limit for name, limit in described(Distances).items() if name in words}


def _limits(rule: Rule, width: int, settings: Settings, written_in: str | None) -> Iterator[str]:
    """The rule's own numbers, then those that it shares: value, unit, meaning, source."""
    own = rule.described_limits()
    shared = shared_limits(rule)
    if not own and not shared:
        yield from wrapped("This rule has no limits of its own.", width)
    if own:
        yield f"Limits (settings: [rules.{rule.name}] in {FILE_NAME})"
        values = settings.limits(rule)
        said = settings.rules.get(rule.name, {})
        for name, (default, limit) in own.items():
            stock = None if name in said or not limit.stock else settings.stock
            yield from _number(name, getattr(values, name), default, limit, width)
            yield from _origin(limit, stock, name in said, written_in, width)
    if shared:
        yield f"Distances shared with other rules (settings: [distances] in {FILE_NAME})"
        for name, (default, limit) in shared.items():
            value = getattr(settings.distances, name)
            yield from _number(name, value, default, limit, width)
            yield from _origin(limit, None, value != default, written_in, width)


def _number(name: str, value: float, default: float, limit: Limit, width: int) -> Iterator[str]:
    """A number and what it means; its default beside it where that is another one."""
    unit = f" ({limit.unit})"
    other = f", by default {format_number(default, 3)}" if value != default else ""
    yield f"{INDENT}{name} = {format_number(value, 3)}{unit}{other}"
    yield from wrapped(limit.meaning, width, INDENT * 2, INDENT * 2)


def _origin(
    limit: Limit, stock: Stock | None, is_set: bool, written_in: str | None, width: int
) -> Iterator[str]:
    """Where a number comes from: the settings, the stock, or the source of its default."""
    texts = [f"Set in {written_in or FILE_NAME}."] if is_set else []
    if stock is not None and limit.stock:
        weight, thickness = (
            format_number(number, 3) for number in (stock.grammage_g_m2, stock.thickness_mm)
        )
        how = DESCRIBED[limit.stock].source
        texts.append(f"Stock {stock.name} ({weight} g/m², {thickness} mm thick): {how}")
    texts.append(f"Source: {limit.source}")
    for text in texts:
        yield from wrapped(text, width, INDENT * 2, INDENT * 2)
