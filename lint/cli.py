"""The command line: arguments in, exit status out.

Nothing heavy is imported before a command runs, so that `matready --help` answers at once. This is
the only module of the engine that knows the rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from matready.lint import cli_options as option
from matready.lint.cli_options import Choices
from matready.lint.cli_voice import PlainGroup, check_quotes
from matready.lint.completion import complete_folder, complete_rule
from matready.lint.console import Trouble, leave, say, stopped_at_once, width

if TYPE_CHECKING:
    from matready.lint.reports.commands import Typed
    from matready.lint.rule import Rule
    from matready.lint.settings import Settings, SettingsFinder
    from matready.lint.stocks import Stock


@click.group(cls=PlainGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="matready", message="matready %(version)s")
def main() -> None:
    """Preflight for SVG cut files: tells what will go wrong on the mat, and fixes what it can."""


@main.command(short_help="Tell what will go wrong on the mat, file by file.")
@option.paths
@option.form("text", "json", "sarif")
@option.report
@option.opened
@option.mat
@option.stock
@option.only
@option.skip
@click.option(
    "--fail-on",
    type=click.Choice(["fault", "caution", "tidy", "never"]),
    help="Exit with 1 for findings this bad or worse.  [default: caution]",
)
@option.config
@option.jobs
@click.option(
    "--watch", is_flag=True, help="Go on: check each drawing again as it is saved, until Ctrl-C."
)
def lint(paths: tuple[Path, ...], form: str, **options: Any) -> None:
    """Read every SVG below the paths and print what will go wrong on the mat.

    A PATH is a file, or a folder that is searched for .svg and .svgz files; - reads one drawing
    from standard input. The exit status is 0 when nothing was found at or above --fail-on, 1 when
    something was, and 2 when a file could not be read or the command is wrong; with --watch it is
    0 once Ctrl-C has ended the watching, whatever was found.
    """
    try:
        wishes = [options.pop(name) for name in ("page", "opened", "watch")]
        status = _lint(paths, form, wishes, Choices(**options))
    except KeyboardInterrupt:
        status = stopped_at_once(", without a whole report")
    leave(status)


@main.command(short_help="Write fixed copies, each proven against its source.")
@option.paths
@click.option(
    "--out",
    metavar="DIR",
    type=option.PathParam(),
    shell_complete=complete_folder,
    help="Write copies below this folder.",
)
@click.option("--in-place", is_flag=True, help="Change the files themselves.")
@click.option(
    "--dry-run",
    is_flag=True,
    help="Write nothing; print what would change as a unified diff (with --format json: the JSON).",
)
@click.option("--reshape", is_flag=True, help="Also make fixes that change size or shape.")
@option.form("text", "json")
@option.mat
@option.stock
@option.only
@option.skip
@option.config
@option.jobs
def fix(paths: tuple[Path, ...], form: str, **options: Any) -> None:
    """Fix what can be fixed in every SVG below the paths, and prove it on the copy.

    A PATH is a file, or a folder that is searched for .svg and .svgz files. Say where the result
    goes: --out or --in-place. The exit status is 0 when everything was fixed or nothing had to be,
    1 when a fixable finding could not be fixed, and 2 when a file could not be read or written or
    the command is wrong.
    """
    wishes = [options.pop(name) for name in ("out", "in_place", "dry_run", "reshape")]
    try:
        status = _fix(paths, form, wishes, Choices(fail_on=None, **options))
    except KeyboardInterrupt:
        status = stopped_at_once(", without a whole report; no file is half written")
    leave(status)


@main.command(short_help="Lay the pieces of all files on the fewest mats.")
@option.paths
@option.for_sheets
def sheets(paths: tuple[Path, ...], form: str, **options: Any) -> None:
    """Lay the pieces of every SVG below the paths on the fewest mats, and write those.

    A PATH is a file, or a folder that is searched for .svg and .svgz files. DIR is a new or empty
    folder, or that of an earlier run, whose mats are replaced. The exit status is 0 when every
    piece is on a mat, 1 when some were refused, and 2 when a file could not be read, nothing could
    be written, or the command is wrong. Ctrl-C ends the search and writes the best mats so far; a
    second one writes nothing.
    """
    kept = {name: options.pop(name) for name in ("mat", "stock", "config", "jobs")}
    try:
        status = _sheets(
            paths, {"form": form, **options}, Choices(only=(), skip=(), fail_on=None, **kept)
        )
    except KeyboardInterrupt:
        status = stopped_at_once("; nothing was written")
    leave(status)


@main.command(short_help="List the rules, or explain one.")
@click.argument("name", required=False, shell_complete=complete_rule)
@click.option(
    "--markdown", is_flag=True, help="Print the page of the rule NAME, or of all, as Markdown."
)
def rules(name: str | None, markdown: bool) -> None:
    """List the rules; or explain the rule NAME.

    Its limits are those in force in this folder: the settings of the nearest matready.toml count,
    and the stock that it names. In Markdown, limits are the defaults, and links to pictures lead
    from this folder to where the program is installed.
    """
    from matready.lint.reports.rule_pages import rule_as_text, rules_as_text
    from matready.lint.settings import SettingsFinder
    from matready.rules import RULES

    if name is not None:
        _check_names([name], RULES)
    if markdown:
        from matready.lint.reports.rule_markdown import pages_as_markdown

        say(pages_as_markdown([one for one in RULES if name in (None, one.name)], Path()).rstrip())
        return
    if name is None:
        say(rules_as_text(RULES, width()))
        return
    with _bad_settings_in_words():
        here = SettingsFinder(None, RULES).for_folder(Path())
    rule = next(rule for rule in RULES if rule.name == name)
    say(rule_as_text(rule, width(), here))


def _lint(paths: Sequence[Path], form: str, wishes: Sequence[Any], choices: Choices) -> int:
    """Lint and report; the exit status."""
    from matready.lint.cli_lint import Wishes, run_lint
    from matready.rules import RULES

    wanted = Wishes(form, _typed(paths, choices), *wishes)
    check_quotes(paths)
    wanted.check(paths)
    _check_names([*choices.only, *choices.skip], RULES)
    with _bad_settings_in_words():
        if wanted.watch:
            from matready.lint.cli_watch import run_watch

            read = partial(_finder, choices, RULES)
            return run_watch(paths, RULES, read, choices.config, choices.jobs, wanted)
        return run_lint(paths, RULES, _finder(choices, RULES), choices.jobs, wanted)


def _fix(paths: Sequence[Path], form: str, wishes: Sequence[Any], choices: Choices) -> int:
    """Fix, write and report; the exit status."""
    from matready.lint.cli_fix import Wishes, run_fix
    from matready.rules import RULES

    wanted = Wishes(form, _typed(paths, choices), *wishes)
    check_quotes(paths)
    wanted.check(paths)
    _check_names([*choices.only, *choices.skip], RULES)
    with _bad_settings_in_words():
        return run_fix(paths, RULES, _finder(choices, RULES), choices.jobs, wanted)


def _sheets(paths: Sequence[Path], wishes: dict[str, Any], choices: Choices) -> int:
    """Lay out, write and report; the exit status."""
    from matready.lint.cli_sheets import run_sheets
    from matready.lint.cli_sheets_wishes import Wishes
    from matready.rules import RULES

    wanted = Wishes(**wishes)
    check_quotes(paths)
    wanted.check(paths)
    with _bad_settings_in_words():
        return run_sheets(paths, RULES, _finder(choices, RULES), choices.jobs, wanted)


def _typed(paths: Sequence[Path], choices: Choices) -> Typed:
    """What the command was given, for a report that says what to type next."""
    from matready.lint.reports.commands import Typed

    single = (("--config", choices.config), ("--mat", choices.mat), ("--stock", choices.stock))
    options = [(name, str(value)) for name, value in single if value is not None]
    options += [("--rule", name) for name in choices.only]
    options += [("--skip", name) for name in choices.skip]
    return Typed(tuple(map(str, paths)), tuple(options))


@contextmanager
def _bad_settings_in_words() -> Iterator[None]:
    """Turn faulty settings into a sentence of the command."""
    from matready.lint.settings import BadSettings

    try:
        yield
    except BadSettings as error:
        raise Trouble(str(error)) from None


def _finder(choices: Choices, rules: Sequence[Rule]) -> SettingsFinder:
    """Settings of each file with the command's own options over them."""
    from dataclasses import replace

    from matready.lint.settings import SettingsFinder
    from matready.lint.sizes import parse_size

    only, skip = frozenset(choices.only), frozenset(choices.skip)
    if only and only <= skip:
        raise Trouble("every rule named by --rule is skipped by --skip; leave one of them out")
    changes: dict[str, Any] = {"only": only} if only else {}
    stock = choices.stock
    if choices.fail_on:
        changes["fail_on"] = choices.fail_on
    if choices.mat:
        try:
            changes["mat"] = parse_size(choices.mat)
        except ValueError as error:
            raise Trouble(f"--mat: {error}") from None

    def amend(settings: Settings) -> Settings:
        if stock is not None:
            changes["stock"] = _stock_named(stock, settings)
        # A rule that is asked for by name runs, whatever a settings file says.
        return replace(settings, skip=settings.skip - only | skip, **changes)

    return SettingsFinder(choices.config, rules, amend)


def _stock_named(name: str, settings: Settings) -> Stock:
    """The stock that --stock names, built in or of a settings file."""
    from matready.lint.stocks import named_stock

    try:
        return named_stock(name, settings.stocks)
    except ValueError as error:
        raise Trouble(f"--stock: {error}") from None


def _check_names(names: Iterable[str], rules: Sequence[Rule]) -> None:
    """Refuse the first name that no rule has, and offer one that is near."""
    from matready.lint.sizes import nearest

    known = [rule.name for rule in rules]
    for name in names:
        if name not in known:
            near = nearest(name, known)
            hint = f'the nearest is "{near}", and ' if near else ""
            raise Trouble(f'no rule is named "{name[:60]}"; {hint}`matready rules` lists them all')
