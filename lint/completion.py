"""What a shell offers for a half-typed option, besides what click knows by itself.

A shell starts the program anew at each key press, so nothing heavy is imported: the rules are told
by their modules' names and first lines, and are not loaded.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from click import Context, Parameter
    from click.shell_completion import CompletionItem


def complete_rule(_: Context, __: Parameter, begun: str) -> list[CompletionItem]:
    """The rules whose names begin so, each with what it finds."""
    return _offers(dict(sorted(_rules())), begun)


def complete_stock(context: Context, _: Parameter, begun: str) -> list[CompletionItem]:
    """The stocks whose names begin so: built in, or of the settings that hold in this folder."""
    from matready.lint.stocks import STOCKS

    built_in = {name: f"{stock.thickness_mm} mm thick" for name, stock in STOCKS.items()}
    own = dict.fromkeys(_own_stocks(context.params.get("config")), "your own")
    return _offers({**built_in, **own}, begun)


def complete_size(_: Context, __: Parameter, begun: str) -> list[CompletionItem]:
    """The sizes of mats whose names begin so."""
    from matready.lint.sizes import KNOWN_PAGES, NAMED

    sizes = {page.name: (page.width_mm, page.height_mm) for page in KNOWN_PAGES} | NAMED
    told = {name: f"{width:g} × {height:g} mm" for name, (width, height) in sizes.items()}
    return _offers(told, begun)


def complete_folder(_: Context, __: Parameter, begun: str) -> list[CompletionItem]:
    """Folders only; the shell itself looks for them."""
    from click.shell_completion import CompletionItem

    return [CompletionItem(begun, type="dir")]


def _offers(told: Mapping[str, str], begun: str) -> list[CompletionItem]:
    """What begins so, whatever the letter case, each with a word on it."""
    from click.shell_completion import CompletionItem

    begun = begun.casefold()
    return [
        CompletionItem(name, help=text)
        for name, text in told.items()
        if name.casefold().startswith(begun)
    ]


def _rules() -> Iterator[tuple[str, str]]:
    """Name and summary of each rule: its module is named after it and begins with its summary."""
    package = find_spec("matready.rules")  # finds the package without running it
    assert package is not None
    for folder in package.submodule_search_locations or ():
        for path in Path(folder).glob("[!_]*.py"):
            with path.open(encoding="utf-8") as lines:
                yield path.stem.replace("_", "-"), lines.readline().strip().strip('"')


def _own_stocks(config: Any) -> list[str]:
    """Names under [stocks] in the settings file; none where it cannot be read."""
    import tomllib

    from matready.lint.settings import FILE_NAME

    with suppress(OSError, ValueError):  # a faulty file is told of when the command runs
        here = Path.cwd()
        near = (folder / FILE_NAME for folder in (here, *here.parents))
        path = config or next((path for path in near if path.is_file()), None)
        if path is not None:
            stocks = tomllib.loads(path.read_bytes().decode("utf-8-sig")).get("stocks")
            return list(stocks) if isinstance(stocks, dict) else []
    return []
