"""What `matready sheets` made, as people read it: refusals, mats, sums, and what to do next."""

from __future__ import annotations

from pathlib import PurePath

from matready.lint.reports.as_text import (
    CARE,
    INDENT,
    lengths,
    many,
    name_as_text,
    paint,
    shown,
    wrapped,
)
from matready.lint.reports.list_as_markdown import counted, duration
from matready.lint.sheets.cutting_list import (
    CuttingList,
    LaidRecord,
    MatRecord,
    RefusedRecord,
    passes_of,
)
from matready.lint.sizes import in_inches

_MOST_NAMES = 4  # pieces named one by one; of more the number is told


def sheets_as_text(record: CuttingList, out: str, width: int, colour: bool) -> str:
    """Everything that was made and everything that was not, to be read from top to bottom."""
    lines: list[str] = []
    for refused in record.refused:
        lines += _refused(refused, width, colour)
    for left in record.left_out:
        text = f"{name_as_text(left.file)}: {shown(left.what)}"
        lines += _headed("left out", text, width, colour, fg="yellow")
    for note in record.notes:
        lines += _headed("note", shown(note), width, colour)
    lines += [""] if lines else []
    for mat in record.mats:
        lines += _mat(mat, width, colour)
    lines += ["", *_closing(record, out, width)]
    return "\n".join(lines).strip("\n")


def _headed(head: str, text: str, width: int, colour: bool, fg: str | None = None) -> list[str]:
    """Lines that begin with a word that stands out; what colours it takes no room on the line."""
    first, *others = wrapped(f"{head} {text}", width, "", INDENT)
    return [paint(head, colour, fg=fg, bold=True) + first.removeprefix(head), *others]


def _refused(record: RefusedRecord, width: int, colour: bool) -> list[str]:
    names = counted(record.pieces)
    whole = "the whole file" if record.whole else ""
    some = ", ".join(names) if len(names) <= _MOST_NAMES else many(len(record.pieces), "piece")
    what = f"{whole}, {some}" if whole and names else whole or some
    text = f"{name_as_text(record.file)}: {shown(what)}: {shown(record.reason)}"
    return _headed("refused", text, width, colour, fg="red")


def _mat(mat: MatRecord, width: int, colour: bool) -> list[str]:
    pieces = sum(len(part.pieces) for part in mat.parts)
    with_inches = in_inches(mat.size_mm)
    papers = ", ".join(_paper(laid, with_inches) for laid in mat.papers)
    text = (
        f"{many(pieces, 'piece')} on {papers}; {(mat.cut_mm + mat.score_mm) / 1000:.1f} m to cut "
        f"and score, about {duration(mat.blade_s)}"
    )
    return _headed(f"{shown(mat.file)}:", text, width, colour)


def _paper(laid: LaidRecord, with_inches: bool) -> str:
    """One sheet of paper: which it is, where it lies where it is not the whole mat, how full."""
    place = "" if laid.at_mm == (0.0, 0.0) else f" at {lengths(laid.at_mm, ', ', with_inches)}"
    return f"{shown(laid.paper)} {laid.sheet}{place} ({laid.used_share:.0%} used)"


def _closing(record: CuttingList, out: str, width: int) -> list[str]:
    totals = record.totals
    told = f"{many(totals.pieces, 'piece')} of {many(totals.files, 'file')}: "
    told += f"{totals.placed} on {many(totals.mats, 'mat')}"
    told += f", {totals.refused} refused" if totals.refused else ""
    lines = wrapped(told + ".", width)
    if not record.mats:
        return [*lines, *wrapped("Nothing was written: no piece can be laid on a mat.", width)]
    if totals.mats > totals.least:
        bound = f"No layout can use fewer than {totals.least} by area"
    else:
        bound = "No layout can use fewer"
    early = "" if record.complete else "; the search ended early, so --time may find fewer"
    lines += wrapped(f"{many(totals.mats, 'mat')}. {bound}{early}.", width)
    read = f"read {PurePath(out, 'cutting-list.md')} beside the machine; it says what to lay where,"
    # Pieces that are missed only after the cut cost another mat.
    first = "see to what is refused, and type this again. Or " if totals.refused else ""
    lines += wrapped(f"Next: {first}{read} and in which order.", width)
    return [*lines, *_two_stocks(record, width), *wrapped(CARE, width)]


def _two_stocks(record: CuttingList, width: int) -> list[str]:
    """A word about mats that carry two stocks: one depth of the blade does not do for both."""
    lines = []
    for mat in record.mats:
        passes = passes_of(mat)
        if len(passes) > 1:
            papers = ", then ".join(shown(" and ".join(one.papers)) for one in passes)
            text = (
                f"{shown(mat.file)} carries papers of different stocks, each a group in the file: "
                f"set blade and force anew for each, and cut {papers}."
            )
            lines += wrapped(text, width)
    return lines
