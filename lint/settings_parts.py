"""The tables of a settings file, each checked by itself: what they may hold, and what it means."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from matready.lint import settings_ranges as ranges
from matready.lint.finding import Severity
from matready.lint.rule import Rule, described
from matready.lint.settings import FAIL_ON, ROLES, SCORES, Distances
from matready.lint.settings_table import Table, bad
from matready.lint.sizes import nearest, parse_size
from matready.lint.stocks import DESCRIBED, NUMBERS, STOCKS, Stock, nearest_stock, stock_of

DISTANCES = tuple(entry.name for entry in dataclasses.fields(Distances))
READ = (
    *(f"{role}-words" for role in ROLES),
    *(f"{role}-colours" for role in ROLES),
    "dashes",
    "scores",
)
TABLES = ("distances", "read", "rules")
KEYS = ("mat", "stock", "skip", "fail-on")
AT_TOP_ONLY = ("stocks", "papers", "sheets", "files")
_AT_TOP = "at the top of the file, above the first [table]"
# TOML puts a key that follows a [table] into that table; say where it should have stood.
_HOMES = {
    **dict.fromkeys(DISTANCES, "under [distances]"),
    **dict.fromkeys(READ, "under [read]"),
    **dict.fromkeys(KEYS, _AT_TOP),
    "match": "right below a [[files]]",
    "stocks": "at the top level: write [stocks.NAME]",
    "papers": "at the top level: write [papers.NAME]",
    "sheets": "at the top level: write [sheets]",
    "files": "at the top level: write [[files]]",
}


def part_of(data: object, shown: str, part: str, rules: Sequence[Rule]) -> dict[str, Any]:
    """What the top of the file, or the [[files]] that `part` names, sets; raises BadSettings."""
    prefix, extra = ("files.", ("match",)) if part else ("", AT_TOP_ONLY)
    homes = {key: home for key, home in _HOMES.items() if key not in (*TABLES, *KEYS, *extra)}
    top = Table(shown, "", data, (*TABLES, *KEYS, *extra), part, homes)
    by_name = {rule.name: rule for rule in rules}
    found: dict[str, Any] = {}
    if "distances" in top.values:
        table = _table(top, prefix, "distances", DISTANCES, part)
        found["distances"] = {
            name: table.number(name, ranges.DISTANCES[name]) for name in table.values
        }
    if "read" in top.values:
        found["read"] = _reading(_table(top, prefix, "read", READ, part))
    if "rules" in top.values:
        found["rules"] = _rules(top, prefix, part, by_name)
    if "mat" in top.values:
        found["mat"] = _mat(top)
    if "stock" in top.values:
        found["stock"] = top.text("stock", '"card-200"')
    if "skip" in top.values:
        found["skip"] = _skip(top, by_name)
    if "fail-on" in top.values:
        found["fail_on"] = top.choice("fail-on", FAIL_ON)
    return found


def _table(top: Table, prefix: str, name: str, known: Iterable[str], part: str) -> Table:
    own = {key: home for key, home in _HOMES.items() if key not in known}
    if part:
        own |= dict.fromkeys(KEYS, f"right below {part.partition(' ')[0]}, above its tables")
    return Table(top.shown, prefix + name, top.values[name], known, part, own)


def _reading(table: Table) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key in table.values:
        name = key.replace("-", "_")
        if key.endswith("-words"):
            found[name] = table.words(key)
        elif key.endswith("-colours"):
            found[name] = tuple(colour_of(table, key, text) for text in table.words(key))
        else:
            found[name] = table.choice(key, ROLES if key == "dashes" else SCORES)
    return found


def colour_of(table: Table, key: str, text: str) -> str:
    """An opaque CSS colour as "#rrggbb"; raises BadSettings for what is none."""
    from tinycss2.color3 import RGBA, parse_color

    colour = parse_color(text)
    if not isinstance(colour, RGBA) or colour.alpha != 1:
        table.fail(key, f'holds "{text}", which is no colour; write it as "#ff0000" or "red"')
    return "#" + "".join(f"{min(max(int(part * 255 + 0.5), 0), 255):02x}" for part in colour[:3])


def _mat(top: Table) -> tuple[float, float]:
    try:
        return parse_size(top.text("mat", '"12x12in" or "A4"'))
    except ValueError as error:
        top.fail("mat", f"cannot be read: {error}")


def _skip(top: Table, by_name: Mapping[str, Rule]) -> tuple[str, ...]:
    skip = top.words("skip")
    for name in skip:
        if name not in by_name:
            top.fail("skip", f'names no rule "{name[:60]}"; {_nearest_rule(name, by_name)}')
    return skip


def _rules(
    top: Table, prefix: str, part: str, by_name: Mapping[str, Rule]
) -> dict[str, dict[str, Any]]:
    data = top.values["rules"]
    if not isinstance(data, dict):
        problem = f'"rules"{top.where} must hold a table for each rule: write [{prefix}rules.NAME]'
        raise bad(top.shown, problem)
    of = f" of {part}" if part else ""
    for name in data:
        if name not in by_name:
            problem = f"[{prefix}rules.{name[:60]}]{of} names no rule"
            raise bad(top.shown, f"{problem}; {_nearest_rule(name, by_name)}")
    return {
        name: _one_rule(
            Table(
                top.shown, f"{prefix}rules.{name}", values, known_of(by_name[name]), part,
                {key: home for key, home in _HOMES.items() if key in (*KEYS, "match")},
            ),
            by_name[name],
        )
        for name, values in data.items()
    }  # fmt: skip


def known_of(rule: Rule) -> tuple[str, ...]:
    """What may be set of a rule: its severity and its limits."""
    return ("severity", *(name for name in numbers_of(rule)))


def numbers_of(rule: Rule) -> dict[str, int | float]:
    """The defaults of a rule's limits by name, each of its own type."""
    return {
        entry.name: entry.default
        for entry in dataclasses.fields(rule.limits)
        if isinstance(entry.default, int | float) and not isinstance(entry.default, bool)
    }


def _one_rule(table: Table, rule: Rule) -> dict[str, Any]:
    numbers = numbers_of(rule)
    units = {name: limit.unit for name, (_, limit) in described(rule.limits).items()}
    found: dict[str, Any] = {}
    for key in table.values:
        if key == "severity":
            found[key] = table.choice(
                key, tuple(Severity), "; to leave the rule out, name it in skip"
            )
            continue
        within = ranges.range_of_limit(units[key])
        found[key] = table.number(key, within, whole=isinstance(numbers[key], int))
    for key in found:
        most = key.replace("least_", "most_", 1)
        if most != key and found[key] > found.get(most, numbers.get(most, found[key])):
            table.fail(key, f"is more than {most}, so no drawing could be right: make it less")
    return found


def _nearest_rule(name: str, by_name: Iterable[str]) -> str:
    near = nearest(name, by_name)
    return f'the nearest name is "{near}"' if near else "`matready rules` lists them all"


def stocks_of(data: object, shown: str) -> dict[str, Stock]:
    """The stocks of `[stocks.NAME]`, each worked out; raises BadSettings."""
    if not isinstance(data, dict):
        raise bad(shown, '"stocks" must hold a table for each stock: write [stocks.NAME]')
    tables = {
        name: Table(shown, f"stocks.{name}", values, ("like", *NUMBERS))
        for name, values in data.items()
    }
    for name in tables:
        if name in STOCKS:
            raise bad(shown, f"[stocks.{name}] has the name of a built-in stock; choose another")
    found: dict[str, tuple[Stock, dict[str, float]]] = {}
    for name in tables:
        _add_stock(name, tables, found, ())
    return {name: stock for name, (stock, _) in found.items()}


def _add_stock(
    name: str,
    tables: Mapping[str, Table],
    found: dict[str, tuple[Stock, dict[str, float]]],
    above: tuple[str, ...],
) -> None:
    """Work out a stock, after the one that it is like."""
    if name in found:
        return
    table = tables[name]
    numbers = {
        key: table.number(key, ranges.range_of_stock(key, DESCRIBED[key].unit))
        for key in table.values
        if key != "like"
    }
    weight, thickness = numbers.pop("grammage_g_m2", None), numbers.pop("thickness_mm", None)
    base: Stock | None = None
    own: dict[str, float] = {}
    if "like" in table.values:
        like = table.text("like", '"card-200"')
        if like in (*above, name):
            table.fail("like", f'leads back to "{like}"; let one of them stand by itself')
        if like in tables:
            _add_stock(like, tables, found, (*above, name))
        elif like not in STOCKS:
            near = nearest_stock(like, (*STOCKS, *(other for other in tables if other != name)))
            hint = f'the nearest is "{near}"' if near else f"there are {', '.join(STOCKS)}"
            table.fail("like", f'names no stock "{like[:60]}"; {hint}')
        base, own = found.get(like) or (STOCKS[like], {})
    own = {**own, **numbers}
    stock = _worked_out(table, name, weight, thickness, base, own)
    if stock.least_cut_share >= stock.most_cut_share:
        table.fail(
            "least_cut_share",
            f"({stock.least_cut_share:g}) must be less than most_cut_share, "
            f"{stock.most_cut_share:g}",
        )
    found[name] = stock, own


def _worked_out(
    table: Table,
    name: str,
    weight: float | None,
    thickness: float | None,
    base: Stock | None,
    own: Mapping[str, float],
) -> Stock:
    """The stock of these numbers, or of those of the one that it is like."""
    source = f"{table.shown}, [stocks.{name}]"
    if base is None:
        if weight is None and thickness is None:
            raise bad(
                table.shown,
                f"[stocks.{name}] needs thickness_mm, or grammage_g_m2, or a stock that it is like",
            )
        return stock_of(name, weight, thickness, own, source)
    if weight is None and thickness is None:
        weight, thickness = base.grammage_g_m2, base.thickness_mm
    bulk = base.thickness_mm * 1000 / base.grammage_g_m2
    return stock_of(name, weight, thickness, own, source, bulk)
