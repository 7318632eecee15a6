"""The options of the commands, those that several share first."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import click

from matready.lint.completion import complete_folder, complete_rule, complete_size, complete_stock
from matready.lint.console import Trouble
from matready.lint.sheets.papers import TURNS

_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+://")  # RFC 3986, 3: a scheme, then an authority

_Command = TypeVar("_Command", bound=Callable[..., Any])


class PathParam(click.Path):
    """A path; an empty one, which would stand for the folder we are in, is a slip.

    Whether it can be read shows when it is, so that one that cannot does not keep the others back.
    """

    def __init__(self) -> None:
        super().__init__(readable=False, path_type=Path)

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The path; raises Trouble for an empty one, and for an address."""
        if value == "":
            raise Trouble("a path is empty, perhaps a variable that was not set; name it in full")
        if isinstance(value, str) and _ADDRESS.match(value):
            raise Trouble(f"{value[:200]} is an address; download it first, then name the file")
        return super().convert(value, param, ctx)


@dataclass(frozen=True, slots=True)
class Choices:
    """The options that decide what is looked for and what counts."""

    mat: str | None
    stock: str | None
    only: tuple[str, ...]
    skip: tuple[str, ...]
    fail_on: str | None
    config: Path | None
    jobs: int | None


paths = click.argument("paths", nargs=-1, metavar="PATH...", type=PathParam())


def form(*forms: str) -> Callable[[_Command], _Command]:
    """The option --format with the forms in which a command can report."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(forms),
        default=forms[0],
        show_default=True,
        help="Text for people, JSON for a script, SARIF for code scanning."
        if "sarif" in forms
        else "Text for people, or JSON for a script.",
    )


mat = click.option(
    "--mat",
    metavar="SIZE",
    shell_complete=complete_size,
    help="The mat's size: 12x12in, A4, Letter, 210x297mm, …",
)
stock = click.option(
    "--stock",
    metavar="NAME",
    shell_complete=complete_stock,
    help="The card: card-200, paper-80, … or one of matready.toml.",
)
only = click.option(
    "--rule",
    "only",
    metavar="NAME",
    multiple=True,
    shell_complete=complete_rule,
    help="Only this rule (repeatable).",
)
skip = click.option(
    "--skip",
    metavar="NAME",
    multiple=True,
    shell_complete=complete_rule,
    help="Not this rule (repeatable).",
)
config = click.option(
    "--config",
    metavar="FILE",
    type=PathParam(),
    help="Settings to use instead of the nearest matready.toml.",
)
jobs = click.option(
    "--jobs", metavar="N", type=click.IntRange(min=1), help="How many files at a time."
)
report = click.option(
    "--report",
    "page",
    metavar="FILE.html",
    type=PathParam(),
    help="Also write a page with pictures for a browser.",
)
opened = click.option("--open", "opened", is_flag=True, help="Show that page at once.")

_OF_SHEETS: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "--out",
        metavar="DIR",
        type=PathParam(),
        shell_complete=complete_folder,
        help="Write the mats and the cutting list into this folder.",
    ),
    report,
    opened,
    mat,
    click.option("--margin", metavar="LENGTH", help="Free edge of each paper.  [default: 6mm]"),
    click.option("--gap", metavar="LENGTH", help="Least distance between pieces.  [default: 2mm]"),
    click.option(
        "--turn",
        type=click.Choice(TURNS),
        default="quarter",
        show_default=True,
        help="How pieces may be turned; grain and print allow less.",
    ),
    click.option(
        "--paper",
        "papers",
        metavar="NAME=SIZE:COUNT",
        multiple=True,
        help="Sheets at hand, such as cream-card=12x12in:3 (repeatable); no COUNT means enough.",
    ),
    click.option(
        "--copies", metavar="FILE=COUNT", multiple=True, help="So many of this file (repeatable)."
    ),
    click.option("--fix", "mend", is_flag=True, help="First fix in memory what has a safe fix."),
    click.option(
        "--reshape", is_flag=True, help="With --fix, also fixes that change size or shape."
    ),
    click.option(
        "--time",
        "seconds",
        metavar="SECONDS",
        type=click.FloatRange(min=0),
        default=10,
        show_default=True,
        help="How long to search at most.",
    ),
    click.option(
        "--seed",
        metavar="N",
        type=click.IntRange(min=0),
        default=0,
        show_default=True,
        help="Another seed gives another layout; the same gives the same files.",
    ),
    form("text", "json"),
    stock,
    config,
    jobs,
)


def for_sheets(command: _Command) -> _Command:
    """All options of `sheets`, in the order of its help."""
    for option in reversed(_OF_SHEETS):
        command = option(command)
    return command
