"""A page of Markdown for a rule: its own words, its limits, how to silence it, its pictures.

A picture says itself what is drawn and what was found there, in its <title> and <desc>: the page
reads both from it, so that a picture and the words beside it cannot part.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

from matready.lint.finding import Severity
from matready.lint.reading.units import format_number
from matready.lint.reports.markdown import escaped, explanation_as_markdown, table_row
from matready.lint.reports.rule_pages import fix_in_words, shared_limits
from matready.lint.rule import Limit, Rule
from matready.lint.settings import FILE_NAME
from matready.lint.stocks import CARD_200, DESCRIBED, STOCKS

_KINDS = ("flagged", "clean")
_SVG = "{http://www.w3.org/2000/svg}"
_MILDER = {
    Severity.FAULT: Severity.CAUTION,
    Severity.CAUTION: Severity.TIDY,
    Severity.TIDY: Severity.CAUTION,
}


class Picture(NamedTuple):
    """A picture of a rule: where it lies, what is drawn, and what was said of it, line by line."""

    kind: str
    link: str
    title: str
    said: tuple[str, ...]


def picture_name(rule: Rule, kind: str) -> str:
    """The file name of a rule's picture, "flagged" or "clean"."""
    return f"{rule.name}-{kind}.svg"


def page_name(rule: Rule) -> str:
    """The file name of a rule's page."""
    return f"{rule.name}.md"


def pictures_in(folder: Path, rule: Rule, seen_from: Path) -> list[Picture]:
    """The rule's pictures that are in a folder, with links that lead there from another one."""
    paths = [(kind, folder / picture_name(rule, kind)) for kind in _KINDS]
    return [
        Picture(kind, _link(path, seen_from), *_words_in(path))
        for kind, path in paths
        if path.is_file()
    ]


def _link(path: Path, seen_from: Path) -> str:
    try:
        way = os.path.relpath(path.resolve(), seen_from.resolve())
    except ValueError:  # on Windows no way leads from one drive to another
        return path.resolve().as_uri()
    return way.replace(os.sep, "/").replace(" ", "%20")


def _words_in(path: Path) -> tuple[str, tuple[str, ...]]:
    root = ElementTree.parse(path).getroot()
    title, said = (root.findtext(f"{_SVG}{tag}") or "" for tag in ("title", "desc"))
    return title, tuple(said.splitlines())


def pages_as_markdown(rules: Iterable[Rule], seen_from: Path) -> str:
    """The pages of some rules, one after the other; links to pictures lead there from a folder."""
    return "\n".join(
        rule_as_markdown(rule, pictures_in(pages_folder(rule), rule, seen_from)) for rule in rules
    )


def pages_folder(rule: Rule) -> Path:
    """Where the rule's page and pictures lie: in `pages`, beside its module."""
    return Path(sys.modules[rule.module].__file__ or "").parent / "pages"


def rule_as_markdown(rule: Rule, pictures: Sequence[Picture]) -> str:
    """The page of one rule, with a line end."""
    lines = [f"# {rule.name}", "", escaped(rule.summary), ""]
    lines += [f"Severity: {rule.severity}. Fix: {escaped(fix_in_words(rule))}"]
    for picture in pictures:
        lines += ["", *_picture(rule, picture)]
    for heading, body in rule.explanation.items():
        lines += ["", f"## {heading}", "", explanation_as_markdown(body)]
    lines += ["", "## Limits", "", *_limits(rule)]
    lines += ["", "## How to silence it", "", *_silencing(rule)]
    return "\n".join(lines) + "\n"


def index_as_markdown(rules: Iterable[Rule]) -> str:
    """The list of all pages, with a line end."""
    grades = (
        "A `fault` will spoil the cut. A `caution` may spoil it, or the result is likely not what "
        "was meant. `tidy` cuts right, but will trip the next person or program."
    )
    lines = ["# The rules", "", grades, "", "| rule | severity | finds |", "|---|---|---|"]
    lines += [
        table_row([f"[{rule.name}]({page_name(rule)})", rule.severity.value, escaped(rule.summary)])
        for rule in rules
    ]
    return "\n".join(lines) + "\n"


def _picture(rule: Rule, picture: Picture) -> Iterator[str]:
    """The picture, and below it what the program says of it."""
    title, said = escaped(picture.title), [escaped(line) for line in picture.said]
    nothing = f"{rule.name} finds nothing here."
    alt = f"{picture.kind.capitalize()}: {title}. {'; '.join(said) or nothing}".replace("`", "")
    yield f"![{alt}]({picture.link})"
    yield ""
    if not said:
        yield f"Clean: {title}. {nothing}"
        return
    yield f"Flagged: {title}. What matready says of it:"
    yield ""
    yield from (f"{number}. {line}" for number, line in enumerate(said, 1))


def _limits(rule: Rule) -> Iterator[str]:
    """The rule's own numbers, what follows from the stock, and the distances that it shares."""
    own, shared = rule.described_limits(), shared_limits(rule)
    if not own and not shared:
        yield "This rule has no limits."
        return
    if own:
        yield f"Its own, under `[rules.{rule.name}]` in `{FILE_NAME}`:"
        yield ""
        yield from _table(own)
    by_stock = {name: limit for name, (_, limit) in own.items() if limit.stock}
    if by_stock:
        yield ""
        yield from _by_stock(by_stock)
    if shared:
        yield from [""] if own else []
        yield f"Shared with other rules, under `[distances]` in `{FILE_NAME}`:"
        yield ""
        yield from _table(shared)


def _table(limits: Mapping[str, tuple[float, Limit]]) -> Iterator[str]:
    yield "| name | default | unit | meaning | source |"
    yield "|---|---|---|---|---|"
    for name, (default, limit) in limits.items():
        value = format_number(default, 3) + (", by the stock" if limit.stock else "")
        words = (limit.unit, limit.meaning, limit.source)
        yield table_row([f"`{name}`", value, *map(escaped, words)])


def _by_stock(limits: Mapping[str, Limit]) -> Iterator[str]:
    """What the limits are for each stock that is built in, and how they follow from it."""
    fields = {name: limit.stock for name, limit in limits.items() if limit.stock}
    names = " and ".join(filter(None, [", ".join([*fields][:-1]), [*fields][-1]]))
    follow = "follows" if len(fields) == 1 else "follow"
    yield f"{names} {follow} from the stock (`--stock`; `{CARD_200.name}` where none is named):"
    yield ""
    yield table_row(["stock", "thickness", *(f"`{name}`" for name in fields)])
    yield f"|{'---|' * (len(fields) + 2)}"
    for stock in STOCKS.values():
        values = [format_number(getattr(stock, field), 3) for field in fields.values()]
        thickness = f"{format_number(stock.thickness_mm, 3)} mm"
        yield table_row([f"`{stock.name}`", thickness, *values])
    yield ""
    for name, field in fields.items():
        yield f"- `{name}`: {escaped(DESCRIBED[field].source)}"


def _silencing(rule: Rule) -> Iterator[str]:
    allow = f'`data-matready-allow="{rule.name}"`'
    if rule.check_set:
        yield f"In the drawings: {allow} on the `<svg>` tag of those that it is right to leave."
    else:
        yield f"In a drawing: {allow} on an element silences it for this one and all that is in it."
    yield ""
    yield f"In `{FILE_NAME}`, either of these:"
    yield ""
    yield "```toml"
    yield f'skip = ["{rule.name}"]  # it does not run'
    yield ""
    yield f"[rules.{rule.name}]"
    yield f'severity = "{_MILDER[rule.severity]}"  # it counts for this much'
    for name, (default, _) in rule.described_limits().items():
        yield f"{name} = {format_number(default, 3)}"
    yield "```"
