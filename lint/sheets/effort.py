"""How long a search may go on: counted in steps of work, and by the clock only in need."""

from __future__ import annotations

import time
from collections.abc import Callable


class Effort:
    """Steps that are left to a search, the same on every machine and in every run.

    The clock, or who asks to stop, ends it early; then `cut_short` is true.
    """

    def __init__(
        self,
        steps: int,
        seconds: float,
        on_progress: Callable[[int, int], None] | None = None,
        stop: Callable[[], bool] | None = None,
    ) -> None:
        self.steps = steps
        self.done = 0
        self.rounds = 0
        self.cut_short = False
        self._end = time.monotonic() + seconds
        self._on_progress = on_progress
        self._stop = stop

    def spend(self, steps: int) -> None:
        """Note one round of so many steps."""
        self.rounds += 1
        self.done += steps
        if self._on_progress is not None:
            self._on_progress(min(self.done, self.steps), self.steps)

    def goes_on(self, share: float = 1.0) -> bool:
        """Whether less than this share of all steps is done and no one ends the search."""
        stopped = self._stop is not None and self._stop()
        if stopped or time.monotonic() > self._end:
            self.cut_short = True
        return not self.cut_short and self.done < self.steps * share

    def finish(self) -> None:
        """Say that there is nothing left to do."""
        if self._on_progress is not None:
            self._on_progress(self.steps, self.steps)
