"""What all commands share: where they write, how wide, in what colour, and how they give up."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from typing import Any, NoReturn

import click

FOUND = 1
TROUBLE = 2
STOPPED = 130  # what a shell reports of a program that was interrupted: 128 + SIGINT (POSIX)
QUIET_SECONDS = 1.0
PIPED_WIDTH = 80
WIDEST = 100  # longer lines are hard to read


class Trouble(click.ClickException):
    """One plain sentence on standard error and exit status 2."""

    exit_code = TROUBLE

    def show(self, file: Any = None) -> None:
        """Print the sentence, on one line whatever a name in it holds."""
        sentence = "".join(c if c.isprintable() else " " for c in self.message)
        with suppress(OSError):  # where standard error is full too, the status alone tells
            say(f"matready: {sentence}", err=True)


class Progress:
    """A bar on standard error, on a terminal only, and only once the work takes longer.

    `label` says what is being done. The bar shows how many of `length` files are done, or, where
    `counted` is False, how large a part of `length` steps. It waits from `since` on, a reading of
    the monotonic clock; from now on where that is None.
    """

    def __init__(
        self, label: str, length: int, *, counted: bool = True, since: float | None = None
    ) -> None:
        self._label = label
        self._length = length
        self._counted = counted
        self._done = 0
        self._begun = time.monotonic() if since is None else since
        self._open = ExitStack()
        self._bar: Any = None

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *exception: object) -> None:
        self._open.close()

    def one_more(self) -> None:
        """Count one file as done, and show it."""
        self.up_to(self._done + 1)

    def up_to(self, done: int) -> None:
        """Show that so many files or steps are done."""
        more, self._done = done - self._done, done
        if self._bar is not None:
            self._bar.update(more)
        elif sys.stderr.isatty() and time.monotonic() - self._begun > QUIET_SECONDS:
            bar = click.progressbar(
                length=self._length,
                label=self._label,
                show_pos=self._counted,
                update_min_steps=1 if self._counted else max(self._length // 100, 1),
                file=sys.stderr,
            )
            self._bar = self._open.enter_context(bar)
            self._bar.update(done)


@contextmanager
def hearing_interrupts(hear: Callable[[], None]) -> Iterator[None]:
    """Call `hear` for each interrupt in the block; where they are not heard anyway, leave it so.

    A handler, not a mask: the number libraries have threads of their own, and a signal that one
    thread does not take goes to the next.
    """
    before = signal.getsignal(signal.SIGINT)
    if before is signal.SIG_IGN or threading.current_thread() is not threading.main_thread():
        yield
        return
    signal.signal(signal.SIGINT, lambda _number, _frame: hear())
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def leave(status: int) -> NoReturn:
    """End the program with this exit status.

    From there on interrupts have nothing to end: one that comes while Python itself shuts down must
    not take the place of the status.
    """
    atexit.register(signal.signal, signal.SIGINT, signal.SIG_IGN)
    sys.exit(status)


def stopped_at_once(what: str) -> int:
    """Say that an interrupt ended the run, and what that means; the exit status."""
    say(f"matready: stopped at once{what}", err=True)
    return STOPPED


def stopped_after(done: int, length: int) -> str:
    """How far an interrupted run came, but for the last word: what the rest was not."""
    return (
        f"stopped after {done} of {length} {'file' if length == 1 else 'files'}; the rest was not"
    )


def width(*, err: bool = False) -> int:
    """Characters on a line: the terminal's own, or 80 when the output goes elsewhere."""
    if not (sys.stderr if err else sys.stdout).isatty():
        return PIPED_WIDTH
    return min(shutil.get_terminal_size((PIPED_WIDTH, 24)).columns, WIDEST)


def in_colour(stream: Any) -> bool:
    """Colour on a terminal only, and not where NO_COLOR is set (no-color.org)."""
    dull = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return bool(stream.isatty()) and not dull


def say(text: str, *, err: bool = False) -> None:
    """Print; characters that the stream cannot write become question marks, not an error."""
    stream = sys.stderr if err else sys.stdout
    encoding = stream.encoding or "utf-8"
    click.echo(text.encode(encoding, "replace").decode(encoding), err=err, color=True)
