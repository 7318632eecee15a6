"""A mat as an SVG file: true size, one named group a part, in the order in which it is cut."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from itertools import chain, groupby
from pathlib import PurePath
from xml.sax.saxutils import escape, quoteattr

from matready.lint.allowances import ATTRIBUTE
from matready.lint.reading.units import format_number
from matready.lint.repair.curves import Arc, Bezier, Curve
from matready.lint.settings import Reading
from matready.lint.sheets.laid import Mat, Placement
from matready.lint.sheets.parts import CUT, DRAW, SCORE, PartLine
from matready.lint.sheets.turning import Motion

# A place is written to a ten-thousandth of a mm: far within the 0.01 mm that a copy may be off.
DECIMALS = 4
# Fine as guides for cutting ask for it, and wide enough to be seen on a screen.
_STROKE_MM = 0.2
_LETTERS = {2: "L", 3: "Q", 4: "C"}  # by how many points a curve has
# Colours that tell lines apart to the eye, more than one each, for a setting may have given one of
# them to another role. What tells them apart to a program is the class.
_INKS = {
    CUT: ("#34495a", "#1d2b36", "#4d4d4d", "#000000"),
    SCORE: ("#c2603a", "#8f3f1f", "#b03a5b", "#d98a00"),
    DRAW: ("#5a8a4a", "#2f6b57", "#6b8e23", "#4a7aa0"),
}


def mat_svg(mat: Mat, title: str, read: Reading | None = None) -> str:
    """The mat as the text of an SVG file; its placements are written in the order they stand in.

    `title` names the mat; `read` are the settings by which lines are told apart, so that this file
    is read as it is meant. The same mat gives the same text. No outline of the paper is drawn: a
    cutter would cut it.
    """
    width, height = number(mat.width_mm), number(mat.height_mm)
    names = part_ids([placement.part.name for placement in mat.placements])
    inks = _inks(read or Reading())
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>',
        f"  <title>{escape(_clean(title))}</title>",
        f"  <desc>{escape(_clean(_description(mat)))}</desc>",
    ]
    groups = [list(_group(*each, inks)) for each in zip(names, mat.placements, strict=True)]
    lines += _by_paper(mat, names, groups) if len(set(_papers(mat))) > 1 else chain(*groups)
    return "\n".join([*lines, "</svg>", ""])


def _description(mat: Mat) -> str:
    laid = [
        f"{paper.paper} of {paper.width_mm:g} × {paper.height_mm:g} mm at "
        f"{paper.x_mm:g}, {paper.y_mm:g} mm"
        for paper in mat.papers
    ]
    papers = f" Lay {'; '.join(laid)} from the top-left corner of the mat." if laid else ""
    passes = f"Cut it in {len(mat.passes)} passes. " if len(mat.passes) > 1 else ""
    return (
        f"Mat {mat.number}, {mat.width_mm:g} × {mat.height_mm:g} mm, cut at true size.{papers} "
        f"{passes}Scores before holes, holes before outlines."
    )


def _papers(mat: Mat) -> list[str]:
    """For each placement the paper that it is cut from."""
    return [mat.papers[place.laid].paper if mat.papers else "" for place in mat.placements]


def _by_paper(mat: Mat, names: Sequence[str], groups: Sequence[list[str]]) -> Iterator[str]:
    """The parts of each paper in a group of their own, so that a pass can be chosen at a touch."""
    pass_of = {laid: k for k, together in enumerate(mat.passes, 1) for laid in together}
    runs = [list(run) for _, run in groupby(range(len(groups)), _papers(mat).__getitem__)]
    papers = [mat.papers[mat.placements[run[0]].laid] for run in runs]
    ids = part_ids([*names, *(f"paper {paper.paper}" for paper in papers)])[len(names) :]
    for name, paper, run in zip(ids, papers, runs, strict=True):
        laid = mat.placements[run[0]].laid
        told = f"{paper.paper} ({paper.stock}), pass {pass_of[laid]} of {len(mat.passes)}"
        yield f'  <g id="{name}">'
        yield f"    <title>{escape(_clean(told))}</title>"
        yield from (f"  {line}" for k in run for line in groups[k])
        yield "  </g>"


def _group(name: str, placement: Placement, inks: dict[str, str]) -> Iterator[str]:
    part, motion = placement.part, Motion.of(placement)
    allow = f" {ATTRIBUTE}={quoteattr(_clean(' '.join(part.allowed)))}" if part.allowed else ""
    yield f'  <g id="{name}"{allow}>'
    yield f"    <title>{escape(_clean(f'{part.name} ({PurePath(part.file).name})'))}</title>"
    for (role, kind), lines in groupby(part.lines, _kind):
        yield (
            f'    <g id="{name}-{kind}" class="{role}" fill="none" stroke="{inks[role]}" '
            f'stroke-width="{_STROKE_MM:g}">'
        )
        for line in lines:
            dashes = " ".join(number(dash) for dash in line.dashes_mm)
            dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
            yield f'      <path class="{role}" d="{path_data(line, motion)}"{dashed}/>'
        yield "    </g>"
    yield "  </g>"


def _kind(line: PartLine) -> tuple[str, str]:
    """The role of a line, and what the group of its kind is called."""
    if line.role != CUT:
        return line.role, {SCORE: "scores", DRAW: "drawn"}[line.role]
    return CUT, "holes" if line.inner else "outline"


def _inks(read: Reading) -> dict[str, str]:
    """A colour for each role: what the settings say, else one that they give to no other role."""
    told = {CUT: read.cut_colours, SCORE: read.score_colours, DRAW: read.draw_colours}
    given = {colour for colours in told.values() for colour in colours}
    return {
        role: own[0] if own else next((ink for ink in _INKS[role] if ink not in given), "#777777")
        for role, own in told.items()
    }


def by_colour(mats: Sequence[Mat], read: Reading) -> tuple[str, ...]:
    """What to set the machine by, as one sentence; nothing where all there is to do is to cut."""
    roles = {line.role for mat in mats for place in mat.placements for line in place.part.lines}
    if roles <= {CUT}:
        return ()
    told = ", ".join(f"{role} {ink}" for role, ink in _inks(read).items() if role in roles)
    folds = "; a fold drawn as one whole line parts where it is cut" if SCORE in roles else ""
    return (f"set the machine by colour: {told}{folds}",)


def part_ids(names: Sequence[str]) -> list[str]:
    """An id for each name, each once: letters, digits and dashes, as every program takes them."""
    taken: set[str] = set()
    ids = []
    for name in names:
        plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
        stem = re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-").lower()
        stem = stem if stem[:1].isalpha() else f"piece-{stem}".rstrip("-")
        free, count = stem, 1
        while free in taken:
            count += 1
            free = f"{stem}-{count}"
        # Kinds of lines in a part have ids of this form, too.
        taken.update((free, *(f"{free}-{kind}" for kind in _KINDS)))
        ids.append(free)
    return ids


_KINDS = ("scores", "drawn", "holes", "outline")


def _clean(text: str) -> str:
    """The text without what no XML may hold (XML 1.0, 2.2)."""
    return re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "", text)


def number(value: float) -> str:
    """A length in mm as it is written."""
    return format_number(value, DECIMALS)


def path_data(line: PartLine, motion: Motion) -> str:
    """The line where the motion brings it."""
    curves = [motion.curve(curve) for curve in line.curves]
    words = ["M", _pair(curves[0].start)]
    # Z draws a straight line home by itself.
    home = line.closed and isinstance(curves[-1], Bezier) and len(curves[-1].points) == 2
    for curve in curves[:-1] if home and len(curves) > 1 else curves:
        words += _command(curve)
    return " ".join([*words, "Z"] if line.closed else words)


def _command(curve: Curve) -> list[str]:
    if isinstance(curve, Arc):
        rx, ry = number(curve.rx), number(curve.ry)
        rotation = "0" if rx == ry else number(curve.rotation)
        return [
            "A",
            rx,
            ry,
            rotation,
            str(int(curve.large)),
            str(int(curve.sweep)),
            _pair(curve.end),
        ]
    return [_LETTERS[len(curve.points)], *(_pair(point) for point in curve.points[1:])]


def _pair(point: complex) -> str:
    return f"{number(point.real)},{number(point.imag)}"
