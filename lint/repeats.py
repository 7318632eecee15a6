"""Repeats of one cause in one file, told as one finding: forty alike are read by no one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from matready.lint.finding import Finding, box_around


def told_once(
    findings: Sequence[Finding], together: Callable[[int], str], most: int = 3
) -> Iterator[Finding]:
    """The findings as they are up to `most`; one in place of all of them where there are more.

    That one stands at the first, its box goes round all, and `together` words it from their number.
    Their fixes are lost; a rule with a fix merges by an act that mends them all.
    """
    if len(findings) <= most:
        yield from findings
        return
    first = findings[0]
    boxes = [found.box for found in findings if found.box is not None]
    yield replace(
        first,
        message=together(len(findings)),
        box=box_around(boxes) if boxes else None,
        nodes=tuple(dict.fromkeys(node for found in findings for node in found.nodes)),
        elements=tuple(dict.fromkeys(one for found in findings for one in found.elements)),
        piece=first.piece if len({found.piece for found in findings}) == 1 else None,
        fix=None,
        places=tuple(found.at for found in findings if found.at is not None),
        rests_on=tuple(dict.fromkeys(node for found in findings for node in found.rests_on)),
    )
