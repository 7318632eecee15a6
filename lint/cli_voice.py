"""How the command line speaks of a slip in its use: one plain sentence, as of anything else."""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import click

from matready.lint.console import Trouble

# What click's own sentences hold, where it keeps it nowhere else; without it ours says less.
_VALUE = re.compile(r"'?(?P<typed>.*?)'? is not ", re.DOTALL)
_SPARE = re.compile(r"extra arguments? \((?P<typed>.*)\)", re.DOTALL)


class PlainCommand(click.Command):
    """A command whose slips know which command they are about."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the options; raises UsageError."""
        typed = tuple(args)  # the parser takes them out as it goes
        try:
            return super().parse_args(ctx, args)
        except click.NoSuchOption as error:
            error.ctx = error.ctx or ctx
            words = (arg.partition("=")[0] for arg in typed)
            if one_dash := next((word for word in words if f"-{word}" in _options(ctx)), None):
                said = f"there is no option {one_dash}; with two dashes there is: -{one_dash}"
                raise Trouble(said) from None
            raise
        except click.UsageError as error:
            error.ctx = error.ctx or ctx
            raise


class PlainGroup(click.Group):
    """A group of commands that tells whatever is wrong in their use in one sentence."""

    command_class = PlainCommand

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        """Read the options of the group; raises Trouble."""
        _open_closed_streams()
        with _in_one_sentence():
            return super().make_context(*args, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        """Read the rest and run the command; raises Trouble."""
        with _in_one_sentence():
            return super().invoke(ctx)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command of a name; raises Trouble where there is none."""
        name = args[0]
        if self.get_command(ctx, name) is None and not ctx.resilient_parsing:
            raise Trouble(_no_command(name, self.list_commands(ctx)))
        return super().resolve_command(ctx, args)


def check_quotes(paths: Sequence[Path]) -> None:
    """Raise Trouble where a name with spaces came in as several paths, for want of quotes."""
    for start, path in enumerate(paths):
        if os.path.lexists(path):
            continue
        for end in range(start + 2, len(paths) + 1):
            whole = " ".join(map(str, paths[start:end]))
            if os.path.lexists(whole):
                raise Trouble(
                    f'there is no "{path}" but there is "{whole}"; '
                    f'put a name that has spaces in quotes: "{whole}"'
                )


@contextmanager
def _in_one_sentence() -> Iterator[None]:
    try:
        yield
    except click.exceptions.NoArgsIsHelpError:
        raise  # no slip: who types nothing but the name is shown the help
    except click.UsageError as error:
        raise Trouble(_plain(error)) from None
    except OSError as error:
        # One about a file names it; a stream that cannot be written has no name. Where the reader
        # went away there is nobody to tell.
        if error.errno == errno.EPIPE or error.filename is not None:
            raise
        _forget_output()
        reason = (error.strerror or "unknown reason").lower()
        raise Trouble(
            f"standard output could not be written ({reason}); "
            "make room there, or send it somewhere else"
        ) from None


def _open_closed_streams() -> None:
    """Let a stream that the caller has closed, and Python therefore lacks, go nowhere."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            # It stays open as long as the program runs.
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115


def _forget_output() -> None:
    """Let what is still to be written go nowhere, or Python would fail once more at its end."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _no_command(name: str, known: Sequence[str]) -> str:
    from matready.lint.sizes import nearest

    said = f'there is no command "{name[:60]}"'
    if near := nearest(name, known):
        return f"{said}; the nearest is {near}, and `matready --help` tells of all"
    if os.path.lexists(name):
        return f"{said}, but a file or folder of this name: matready lint checks it"
    return f"{said}; `matready --help` tells of all there are"


def _plain(error: click.UsageError) -> str:
    """What is wrong and what to do."""
    where = f"`{error.ctx.command_path if error.ctx else 'matready'} --help`"
    if isinstance(error, click.NoSuchOption):
        return _no_option(error, where)
    if isinstance(error, click.BadOptionUsage):
        return _bad_option(error, where)
    if isinstance(error, click.BadParameter) and error.param is not None:
        return _bad_value(error, error.param, where)
    if found := _SPARE.search(error.message):
        return f'"{found["typed"]}" is too much here; leave it out, or see {where}'
    said = error.format_message().rstrip(".")
    return f"{said[:1].lower()}{said[1:]}; {where} tells what can be typed"


def _no_option(error: click.NoSuchOption, where: str) -> str:
    said = f"there is no option {error.option_name[:60]}"
    name = error.option_name.removeprefix("--")
    commands = _commands(error.ctx)
    if name in commands:
        return f"{said}; that is a command of its own: matready {name}, see `matready --help`"
    return f"{said}; {_meant(name, _options(error.ctx), commands)}{where} lists them all"


def _meant(
    name: str, options: Mapping[str, click.Option], commands: Mapping[str, click.Command]
) -> str:
    """What an option that is not there was to be, closed by "and"; empty where nobody knows."""
    from matready.lint.sizes import nearest

    for option, one in options.items():
        if isinstance(one.type, click.Choice) and name in one.type.choices:
            return f"write {option} {name}, and "
    # Without their dashes, which all have and which make any two alike.
    long = [option.removeprefix("--") for option in options if option.startswith("--")]
    if near := nearest(name, long):
        return f"the nearest is --{near}, and "
    has_it = next((of for of, one in commands.items() if _has(one, f"--{name}")), None)
    return f"matready {has_it} has one, and " if has_it else ""


def _bad_option(error: click.BadOptionUsage, where: str) -> str:
    option = _options(error.ctx).get(error.option_name)
    if option is not None and option.is_flag:
        return f"{error.option_name} stands by itself; leave out what follows its ="
    wanted = f": {error.option_name} {option.metavar}" if option and option.metavar else ""
    return f"{error.option_name} needs something after it{wanted}; see {where}"


def _bad_value(error: click.BadParameter, param: click.Parameter, where: str) -> str:
    name = max(param.opts, key=len)
    found = _VALUE.match(error.message)
    typed = f', not "{found["typed"][:60]}"' if found else ""
    return f"{name} must be {_wanted(param.type)}{typed}; see {where}"


def _wanted(kind: object) -> str:
    """What values an option takes."""
    if isinstance(kind, click.Choice):
        *rest, last = map(str, kind.choices)
        return f"{', '.join(rest)} or {last}"
    what = "a whole number" if isinstance(kind, click.IntRange) else "a number"
    least = getattr(kind, "min", None)
    return what if least is None else f"{what}, at least {least}"


def _options(context: click.Context | None) -> dict[str, click.Option]:
    """Each spelling of each option of the command."""
    params = context.command.get_params(context) if context else []
    return {name: one for one in params if isinstance(one, click.Option) for name in one.opts}


def _has(command: click.Command, option: str) -> bool:
    return any(option in param.opts for param in command.params)


def _commands(context: click.Context | None) -> dict[str, click.Command]:
    """The commands that can stand in place of this one."""
    group = context.find_root() if context else None
    return dict(group.command.commands) if group and isinstance(group.command, click.Group) else {}
