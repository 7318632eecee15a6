"""What is said of files that were met on a walk and are not read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from matready.lint.folders import LeftOut
from matready.lint.reports.as_text import name_as_text, shown

_KINDS = {
    "copy": ("copy of an earlier fix", "copies of an earlier fix"),
    "mat": ("mat of an earlier run", "mats of an earlier run"),
}


def left_out_as_text(left_out: Iterable[LeftOut]) -> Iterator[str]:
    """One line for each folder of what earlier runs wrote: how much of it is not read."""
    for (folder, kind), count in Counter((one.folder, one.kind) for one in left_out).items():
        what = f"1 {_KINDS[kind][0]} is" if count == 1 else f"{count} {_KINDS[kind][1]} are"
        them = "it" if count == 1 else "them"
        yield f"{name_as_text(str(folder))}: {what} left out; name this folder to have {them} read"


def strays_as_text(out: Path | None, strays: Sequence[Path]) -> Iterator[str]:
    """One line where the folder of copies holds drawings of the user's own, which are not read."""
    if strays:
        first, more = shown(strays[0].name), len(strays) - 1
        them = "them" if more else "it"
        yield (
            f"{name_as_text(str(out))}: {first} "
            f"{f'and {more} more are no copies' if more else 'is no copy'} of an earlier fix and "
            f"not read; move {them} out of there to have {them} fixed"
        )
