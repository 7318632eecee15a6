"""The cutting list as Markdown, to be read and ticked off beside the machine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import PurePath

from matready.lint.reports.as_text import CARE, inches, lengths, many
from matready.lint.reports.markdown import name_escaped, table_row
from matready.lint.sheets.cutting_list import (
    CuttingList,
    LaidRecord,
    MatRecord,
    PartRecord,
    passes_of,
)
from matready.lint.sizes import in_inches

_PLACES = 3  # decimals of a length in mm, as the records have them


def as_markdown(found: CuttingList) -> str:
    """The whole list as text, closed by a line end."""
    lines = ["# Cutting list", "", *_summary(found), "", CARE, ""]
    for mat in found.mats:
        lines += [*_mat(mat), ""]
    lines += _refused(found)
    lines += _left_out(found)
    return "\n".join(lines).rstrip("\n") + "\n"


def _summary(found: CuttingList) -> Iterator[str]:
    totals = found.totals
    refused = f", {totals.refused} refused" if totals.refused else ""
    yield (
        f"{many(totals.pieces, 'piece')} of {many(totals.files, 'file')}: {totals.placed} on "
        f"{many(totals.mats, 'mat')}{refused}. No layout can use fewer than "
        f"{many(totals.least, 'mat')}."
    )
    if not found.complete:
        yield "The search for a better layout was ended early; this is the best it had found."
    if found.mats:
        yield ""
        yield (
            f"{_metres(totals.cut_mm)} m to cut and {_metres(totals.score_mm)} m to score take "
            f"about {duration(totals.blade_s)} at {found.speed_mm_s:g} mm/s: an estimate for the "
            "lines alone, without lifting, turning and loading."
        )
    for note in found.notes:
        yield ""
        yield f"{name_escaped(note)[:1].upper()}{name_escaped(note)[1:].rstrip('.')}."
    if found.mats:
        yield ""
        yield "Load the mats in this order:"
        yield ""
        for mat in found.mats:
            papers = ", ".join(dict.fromkeys(name_escaped(laid.paper) for laid in mat.papers))
            yield f"{mat.number}. `{_code(mat.file)}`: {papers}"


def _mat(mat: MatRecord) -> Iterator[str]:
    with_inches = in_inches(mat.size_mm)
    size = lengths(mat.size_mm, " × ", with_inches, _PLACES)
    yield f"## Mat {mat.number}: {name_escaped(mat.file)}"
    yield ""
    if len(mat.papers) == 1 and mat.papers[0].size_mm == mat.size_mm:
        yield f"Lay {_laid(mat.papers[0])}: it covers the mat of {size}."
    else:
        yield f"Lay on the mat of {size}, measured from its top-left corner to the paper's:"
        yield ""
        for laid in mat.papers:
            left, top = (lengths([value], "", with_inches, _PLACES) for value in laid.at_mm)
            yield (
                f"- {_laid(laid)}, {lengths(laid.size_mm, ' × ', with_inches, _PLACES)}, at {left} "
                f"from the left and {top} from the top"
            )
    yield from _passes(mat)
    yield ""
    drawn = f", {mat.draw_mm:.0f} mm drawn" if mat.draw_mm else ""
    used = ", ".join(f"{100 * laid.used_share:.0f} %" for laid in mat.papers)
    yield (
        f"Cut {mat.cut_mm:.0f} mm, scored {mat.score_mm:.0f} mm{drawn}: about "
        f"{duration(mat.blade_s)}. Used of the paper: {used}."
    )
    yield ""
    yield from _table(mat)


def _passes(mat: MatRecord) -> Iterator[str]:
    """Which paper is cut first, and which pieces that are, where one pass does not do for all."""
    passes = passes_of(mat)
    if len(passes) < 2:
        return
    yield ""
    yield (
        "Different stocks lie on this mat: blade and pressure suit one of them at a time. Cut it "
        f"in {len(passes)} passes, and lift out nothing between them; in the file each paper is a "
        "group of its own:"
    )
    yield ""
    for number, one in enumerate(passes, 1):
        parts = [mat.parts[k - 1] for k in one.numbers]
        papers = " and ".join(
            name_escaped(paper) + _stock(one.stock, paper) for paper in one.papers
        )
        names = ", ".join(name_escaped(name) for part in parts for name in part.pieces)
        yield f"{number}. {papers}: {names}"


def _stock(stock: str, paper: str) -> str:
    return f" ({name_escaped(stock)})" if stock and stock != paper else ""


def _laid(laid: LaidRecord) -> str:
    return f"{name_escaped(laid.paper)}{_stock(laid.stock, laid.paper)}, sheet {laid.sheet}"


def _table(mat: MatRecord) -> Iterator[str]:
    several = len({laid.paper for laid in mat.papers}) > 1
    paper = ["paper"] if several else []
    with_inches = in_inches(mat.size_mm)
    at = "at, mm (in)" if with_inches else "at, mm"
    heads = ["piece", "from", "copy", *paper, "turned", at, "cut, mm"]
    yield table_row(heads)
    yield f"|{'---|' * len(heads)}"
    for part in mat.parts:
        yield table_row(_row(part, several, with_inches))


def _row(part: PartRecord, with_paper: bool, with_inches: bool) -> list[str]:
    x, y, _, _ = part.box_mm
    return [
        ", ".join(map(name_escaped, part.pieces)),
        name_escaped(PurePath(part.file).name),
        str(part.copy),
        *([name_escaped(part.paper)] if with_paper else []),
        f"{part.turn_deg:g}°" if part.turn_deg else "no",
        f"{x:.1f}, {y:.1f}" + (f" ({inches(x)}, {inches(y)})" if with_inches else ""),
        f"{part.cut_mm:.0f}",
    ]


def _refused(found: CuttingList) -> Iterator[str]:
    if not found.refused:
        return
    yield "## On no mat"
    yield ""
    for one in found.refused:
        file, names = name_escaped(one.file), ", ".join(map(name_escaped, counted(one.pieces)))
        who = f"all of {file}" if one.whole else f"{names} of {file}"
        if one.whole and names:
            who += f" ({names})"
        yield f"- {who}: {name_escaped(one.reason)}."
    yield ""


def _left_out(found: CuttingList) -> Iterator[str]:
    if not found.left_out:
        return
    yield "## Hidden, in no piece, or not read, and so on no mat"
    yield ""
    for one in found.left_out:
        yield f"- {name_escaped(one.file)}: {name_escaped(one.what)}."
    yield ""


def counted(pieces: Iterable[str]) -> list[str]:
    """Names of pieces, each once, with how often it is there: "wall (3 times)"."""
    return [
        f"{name} ({count} times)" if count > 1 else name for name, count in Counter(pieces).items()
    ]


def duration(seconds: float) -> str:
    """A time in words, to the minute, or to the second where it is short."""
    if round(seconds) < 60:
        return f"{max(1, round(seconds))} s"
    minutes = round(seconds / 60)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if hours else f"{minutes} min"


def _metres(length_mm: float) -> str:
    return f"{length_mm / 1000:.1f}"


def _code(text: str) -> str:
    return " ".join(text.split()).replace("`", "'")
