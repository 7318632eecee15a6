"""The tables of a settings file about papers and mats: `[papers.NAME]` and `[sheets]`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, cast

from matready.lint.patterns import fault_of
from matready.lint.settings_parts import colour_of
from matready.lint.settings_ranges import ON_MAT, Range
from matready.lint.settings_table import Table, bad, told
from matready.lint.sheets.papers import (
    GRAINS,
    MOST_SHEETS,
    Grain,
    OnMat,
    Paper,
    Picks,
    Sheet,
    has_word,
    sheet_of,
)
from matready.lint.sizes import parse_size
from matready.lint.stocks import Stock, named_stock

PICKS = ("files", "layers", "ids", "fills")
PAPER = ("size", "count", "scraps", "stock", "grain", "print", *PICKS)
_COUNT = Range(1, MOST_SHEETS, "count")


def papers_of(
    data: object, shown: str, folder: Path, stocks: Mapping[str, Stock]
) -> tuple[Paper, ...]:
    """The papers of `[papers.NAME]`, in the order written; raises BadSettings.

    `folder` is where patterns of files begin, `stocks` are the file's own.
    """
    if not isinstance(data, dict):
        raise bad(shown, '"papers" must hold a table for each paper: write [papers.NAME]')
    for name in data:
        if not has_word(name):
            raise bad(shown, f"[papers.{name[:60]}] needs a name with a letter or digit in it")
    return tuple(
        _paper(name, Table(shown, f"papers.{name}", values, PAPER), folder, stocks)
        for name, values in data.items()
    )


def on_mat_of(data: object, shown: str) -> OnMat:
    """What `[sheets]` sets; raises BadSettings."""
    table = Table(shown, "sheets", data, ON_MAT)
    return OnMat(**{key: table.number(key, ON_MAT[key]) for key in table.values})


def _paper(name: str, table: Table, folder: Path, stocks: Mapping[str, Stock]) -> Paper:
    grain = table.choice("grain", GRAINS) if "grain" in table.values else None
    printed = table.values.get("print", False)
    if not isinstance(printed, bool):
        table.fail("print", f"must be true or false, not {told(printed)}")
    return Paper(
        name=name,
        sheets=tuple(_sheets(table)),
        stock=_stock(table, stocks),
        grain=cast("Grain | None", grain),
        printed=printed,
        picks=_picks(table, folder),
    )


def _sheets(table: Table) -> list[Sheet]:
    found = []
    count = table.number("count", _COUNT, whole=True) if "count" in table.values else None
    if "size" in table.values:
        width, height = _read(table, "size", table.text("size", '"12x12in"'), parse_size)
        found.append(Sheet(width, height, count))
    elif count is not None:
        table.fail("count", "counts sheets of a size; write size too")
    return found + [
        _read(table, "scraps", text, sheet_of) for text in _texts(table, "scraps", "100x150mm:2")
    ]


def _read(table: Table, key: str, text: str, read: Callable[[str], Any]) -> Any:
    try:
        return read(text)
    except ValueError as error:
        table.fail(key, f"cannot be read: {error}")


def _stock(table: Table, stocks: Mapping[str, Stock]) -> Stock | None:
    if "stock" not in table.values:
        return None
    name = table.text("stock", '"card-200"')
    return cast(Stock, _read(table, "stock", name, lambda text: named_stock(text, stocks)))


def _picks(table: Table, folder: Path) -> Picks:
    files = _texts(table, "files", "windows/*.svg")
    for text in files:
        if problem := fault_of(text):
            table.fail("files", f"{problem}, not {told(text)}")
    fills = tuple(colour_of(table, "fills", text) for text in _texts(table, "fills", "#fff8e1"))
    return Picks(
        files=files,
        layers=_texts(table, "layers", "windows"),
        ids=_texts(table, "ids", "window-*"),
        fills=fills,
        folder=str(folder) if files else "",
    )


def _texts(table: Table, key: str, such_as: str) -> tuple[str, ...]:
    """A list of texts that are not empty, or one of them; nothing where the key is not there."""
    value: Any = table.values.get(key, ())
    texts: Sequence[Any] = [value] if isinstance(value, str) else value
    if not isinstance(texts, list | tuple) or not all(
        isinstance(text, str) and text.strip() for text in texts
    ):
        table.fail(key, f'must be a list such as ["{such_as}"], not {told(value)}')
    if key in table.values and not texts:
        table.fail(key, f'must not be empty: write it as ["{such_as}"], or leave it out')
    return tuple(text.strip() for text in texts)
