"""One piece of work on many files, here or on several cores, in a way that an interrupt ends well.

A terminal sends an interrupt to every process. The workers do not hear it: the one that reports
ends the run, and asks the workers to leave off what they have in hand.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from itertools import repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from matready.lint.rule import Rule
    from matready.lint.settings import Settings

_ALONE = 40  # so many files are done before a second process would be awake
_CHUNK = 8
_MOST = 61  # so many processes Windows can wait for: docs.python.org, concurrent.futures

_Result = TypeVar("_Result")


class WorkersLost(Exception):
    """A worker was ended from outside; str() is one plain sentence."""

    def __init__(self) -> None:
        super().__init__(
            "a process that did part of the work was ended from outside, perhaps because memory "
            "ran out; run this again with --jobs 1"
        )


def each(
    work: Callable[[Path, Sequence[Rule], Settings], _Result],
    paths: Sequence[Path],
    rules: Sequence[Rule],
    settings: Sequence[Settings],
    jobs: int | None,
) -> Generator[_Result, None, None]:
    """Do the work on every file with its settings; results in the order of the files, never None.

    `jobs` None means one process for a few files and one a core for many. An iterator that is
    closed before its end, or that an interrupt ends, leaves no process behind. Raises WorkersLost.
    """
    jobs = jobs or (1 if len(paths) <= _ALONE else os.cpu_count() or 1)
    if jobs == 1 or len(paths) < 2:
        yield from map(work, paths, repeat(rules), settings)
        return
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(min(jobs, len(paths), _MOST), initializer=_get_ready)
    whole = False
    try:
        task = partial(_until_told, work)
        with _interrupts_held_back():
            results = pool.map(task, paths, repeat(rules), settings, chunksize=_CHUNK)
        for result in results:
            if result is None:  # someone else than us has told a worker to leave off
                raise WorkersLost
            yield result
        whole = True
    except BrokenProcessPool:
        raise WorkersLost from None
    finally:
        if whole:
            pool.shutdown()
        else:
            _break_off(pool, others)


def _break_off(pool: ProcessPoolExecutor, others: set[Any]) -> None:
    """Tell the workers to leave off, and wait for them; a second interrupt does not wait."""
    workers = set(multiprocessing.active_children()) - others
    try:
        for worker in workers:
            worker.terminate()
        pool.shutdown(cancel_futures=True)
    except KeyboardInterrupt:
        for worker in workers:
            worker.kill()
        raise


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Let no interrupt through until the end of the block; processes started in it never hear one.

    `_get_ready` alone would come too late for a process that is still starting.
    """
    if sys.platform == "win32":  # there the initializer has to do
        yield
    else:
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)


class _Worker:
    """What a worker process knows of itself."""

    at_work = False
    told = False


def _get_ready() -> None:
    """Set up a worker: deaf to interrupts, and orderly when it is told to leave off.

    A worker that died while it sends a result would leave half of it in the pipe, and the reader
    would wait for the rest for ever; so only the work itself is broken off.
    """

    def leave_off(_number: int, _frame: object) -> None:
        _Worker.told = True
        if _Worker.at_work:
            raise KeyboardInterrupt

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, leave_off)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Wait for the end of the process that reports; without it a worker would wait for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _until_told(work: Callable[..., _Result], *args: Any) -> _Result | None:
    """Do one piece of work in a worker; None once it was told to leave off."""
    try:
        _Worker.at_work = True
        return None if _Worker.told else work(*args)
    except KeyboardInterrupt:
        return None
    finally:
        _Worker.at_work = False
