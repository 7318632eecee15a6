"""Drawings of one set tell cuts from scores in different ways.

What it finds
    Drawings of one folder between which the machine must be set anew: a colour is cut in one and
    scored in another; folds are dashes drawn one by one here and whole lines there; or scores have
    a colour or a layer of their own in some, and not, or another one, in the rest. Drawings
    without scores, and sets in which all folds are drawn dashes, say nothing.

Why it matters at the machine
    Whoever has set the machine for one sheet loads the next one. Where a colour has changed its
    meaning, folds are cut through and outlines are only scored; where it has none, the score lines
    are cut or left out.

How to put it right
    Choose one way for the whole set, such as one colour for cuts and one for scores, and change the
    drawings that the finding names first: they are the fewer.

When to leave it
    When you look at each sheet's settings before you cut it anyway.

In a drawing
    Wrong: folds of the wings are blue and cuts red, folds of the arch are red and cuts blue.
    Right: cuts are red and folds blue in both.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from matready.lint.cutting import Cutout
from matready.lint.cutting.marking import DASHES, WHOLE, Marking, marking_of
from matready.lint.finding import Severity
from matready.lint.rule import Rule
from matready.lint.scale import content_box, doubt_of, is_huge
from matready.lint.sets import Place, SetFinding, place_of


@dataclass(frozen=True, slots=True)
class Limits:
    """There is nothing to measure: the ways are the same, or they are not."""


@dataclass(frozen=True, slots=True)
class _File:
    path: str
    marking: Marking
    place: Place


def collect(cutout: Cutout, limits: Limits) -> tuple[Marking, Place] | None:
    """How folds are marked."""
    marking, box = marking_of(cutout), content_box(cutout)
    if marking is None or box is None:
        return None
    # At another scale, which wrong-scale tells of, dashes are too long or short to be told as such.
    if doubt_of(cutout) is not None or is_huge(box):
        marking = replace(marking, form=None)
    return marking, place_of(cutout)


def check_set(
    files: Sequence[tuple[str, tuple[Marking, Place]]], limits: Limits
) -> Iterator[SetFinding]:
    """At most one finding about colours, one about dashes and one about other ways."""
    all_files = [_File(path, *record) for path, record in files]
    named: set[str] = set()
    for found in (*_colours(all_files), *_forms(all_files)):
        named.update(found.files)
        yield found
    if not named:
        yield from _ways(all_files)


def _finding(message: str, fewer: Sequence[_File], more: Sequence[_File]) -> SetFinding:
    files = tuple(file.path for file in (*fewer, *more))
    return SetFinding(message=message, files=files, place=fewer[0].place)


def _drawings(files: Sequence[_File], other: str = "") -> str:
    return f"1 {other}drawing" if len(files) == 1 else f"{len(files)} {other}drawings"


def _colours(files: Sequence[_File]) -> Iterator[SetFinding]:
    """A colour that most cuts of one drawing have, and folds of another one."""
    parted = [file for file in files if file.marking.scores and not file.marking.settings]
    for colour in dict.fromkeys(file.marking.cut for file in parted):
        cut = [file for file in parted if file.marking.cut == colour]
        scored = [file for file in parted if colour in file.marking.scores]
        if not scored:
            continue
        few, many = sorted((cut, scored), key=len)
        here, there = ("cut", "scored") if few is cut else ("scored", "cut")
        said = (
            f"{colour} is {here} in {_drawings(few)} and {there} in {_drawings(many, 'other ')} of "
            "the set: a machine set by colour cuts folds through"
        )
        yield _finding(said, few, many)
        return  # where colours are swapped, the other one tells the same


def _forms(files: Sequence[_File]) -> Iterator[SetFinding]:
    """Folds as drawn dashes in one drawing, as whole lines in another one."""
    dashed = [file for file in files if file.marking.form == DASHES]
    whole = [file for file in files if file.marking.form == WHOLE]
    if dashed and whole:
        few, many = sorted((whole, dashed), key=len)
        here, there = (WHOLE, DASHES) if few is whole else (DASHES, WHOLE)
        said = (
            f"folds are {here} in {_drawings(few)} and {there} in {_drawings(many, 'other ')} of "
            "the set: whole lines must be scored, dashes must be cut"
        )
        yield _finding(said, few, many)


def _handles(marking: Marking) -> dict[str, str]:
    """By what the scores of a drawing can be picked out, each with its words."""
    found = {f"colour {c}": f"by their colour {c}" for c in sorted(marking.scores)}
    found |= {"layer": "by a layer of their own"} if marking.layer else {}
    return found | ({"settings": "by your settings"} if marking.settings else {})


def _way(marking: Marking) -> str:
    """The words for the first handle of a drawing, or for what told its scores without any."""
    return next(iter(_handles(marking).values()), f"by {marking.clue or 'nothing'}")


def _ways(files: Sequence[_File]) -> Iterator[SetFinding]:
    """Scores that can be picked out by a colour or a layer in some drawings, not so in others."""
    lines = [file for file in files if file.marking.form != DASHES]
    counts = Counter(handle for file in lines for handle in _handles(file.marking))
    if not counts or counts.most_common(1)[0][1] == len(lines):
        return
    handle, _ = counts.most_common(1)[0]
    many = [file for file in lines if handle in _handles(file.marking)]
    few = [file for file in lines if file not in many]
    here = " or ".join(dict.fromkeys(_way(file.marking) for file in few))
    there = _handles(many[0].marking)[handle]
    said = (
        f"scores are told {here} in {_drawings(few)} and {there} in {_drawings(many, 'other ')} of "
        "the set: the machine must be set anew in between"
    )
    yield _finding(said, few, many)


RULE = Rule("uneven-marking", Severity.CAUTION, Limits, None, collect=collect, check_set=check_set)
