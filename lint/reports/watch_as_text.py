"""What a save has changed, as people read it beside the window in which they draw.

All texts end without a line end; `width` and `colour` are as in `as_text`.
"""

from __future__ import annotations

from collections import Counter

from matready.lint.reports.as_text import (
    files_as_text,
    found_as_text,
    name_as_text,
    not_checked_as_text,
    paint,
    shown,
    was_in_part,
    wrapped,
)
from matready.lint.results import Checked, UnreadableFile

INDENT = " " * 10  # as wide as the time of day


def line_as_text(time: str, what: str, width: int) -> str:
    """One thing that has happened, with the time of day before it."""
    return "\n".join(wrapped(what, width, f"{time}  ", INDENT))


def drawing_as_text(
    time: str,
    what: str,
    now: Checked | UnreadableFile,
    before: Checked | UnreadableFile | None,
    width: int,
    colour: bool,
) -> str:
    """A drawing that was read again: its state, what it was before, then its findings.

    `what` says what has happened to it: "saved", "is new", "renamed from …", or nothing.
    """
    path = now.path if isinstance(now, UnreadableFile) else now.report.path
    name = f"{name_as_text(path)} {what}".rstrip()
    state = state_as_text(now)
    if before is not None:
        old = state_as_text(before)
        state += ", as before" if old == state else f" (before: {old})"
    lines = [line_as_text(time, f"{name}: {state}", width)]
    if isinstance(now, Checked) and now.report.findings:
        # The block's first line would say the name once more.
        lines.append(files_as_text([now], width, colour).partition("\n")[2])
    elif isinstance(now, Checked):
        lines += not_checked_as_text(now.report.not_checked, width)
    lines[0] = paint(lines[0], colour, bold=True)
    return "\n".join(lines)


def state_as_text(outcome: Checked | UnreadableFile) -> str:
    """The state of a drawing in short: "clean", "2 faults, 1 tidy", or why it was not read."""
    if isinstance(outcome, UnreadableFile):
        return f"not read, {shown(outcome.reason)}"
    if outcome.report.findings:
        return found_as_text(Counter(one.severity for one in outcome.report.findings))
    in_part = was_in_part(outcome.report.not_checked)
    return "nothing found in what could be checked" if in_part else "clean"
