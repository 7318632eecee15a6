"""Folds are brought to their outline, and nothing that is seen changes; or it is said why not.

References: resvg, through resvg_py 0.5, draws source and copy, which must agree in every pixel;
svgelements 1.9.6 tells which lines stand in which group. One small drawing for each way in which a
drawing can be built: layers, style rules, symbols, paths of several pieces.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import pytest
import svgelements
from lxml import etree

from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings

from tests.drawn import STRUCTURE
from tests.spoiling.reading import MM_PER_PX, lines_of, png
from tests.spoiling.truth import Unseen

WIDTH = 1000
CUT = 'fill="none" stroke="#33475b" stroke-width=".3"'
FOLD = 'fill="none" stroke="#b5543a" stroke-width=".3" stroke-dasharray="2 1.5"'
THIN_CUT, THIN_FOLD = (style.replace(' stroke-width=".3"', "") for style in (CUT, FOLD))
DASHED = "stroke-dasharray='2 1.5'"
LEFT, RIGHT = (10.0, 10.0, 40.0, 90.0), (60.0, 10.0, 90.0, 90.0)
OUTLINE = {LEFT: "M10 10H40V90H10Z", RIGHT: "M60 10H90V90H60Z"}
CREASE = {LEFT: "M10 25H40", RIGHT: "M60 25H90"}
SPACE = ' xmlns="http://www.w3.org/2000/svg"'  # what an entity brings in has none of its own
GROUPING = Settings(only=frozenset({"loose-score"}))

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Sheet:
    """A drawing 100 mm square; `pieces` are boxes of what must be grouped in its copy.

    `reason` is what must be said where that cannot be done; `unseen` are style rules that the
    renderer does not know.
    """

    name: str
    body: str
    pieces: tuple[Box, ...] = (LEFT, RIGHT)
    reason: str = ""
    unseen: tuple[Unseen, ...] = ()
    head: str = ""
    names: str = ""

    def data(self) -> bytes:
        """The file."""
        return (
            f'{self.head}<svg xmlns="http://www.w3.org/2000/svg"{self.names} width="100mm"'
            f' height="100mm" viewBox="0 0 100 100">\n{self.body}\n</svg>\n'
        ).encode()


def _path(d: str, style: str = "") -> str:
    return f'<path d="{d}" {style}/>'.replace(" />", "/>")


def _layers(cuts: str, folds: str, between: str = "") -> str:
    """Two wings on one layer, their creases on the next."""
    rows = [
        f"<g {cuts}>",
        *(f"  {_path(d)}" for d in OUTLINE.values()),
        "</g>",
        *([between] if between else []),
        f"<g {folds}>",
        *(f"  {_path(d)}" for d in CREASE.values()),
        "</g>",
    ]
    return "\n".join(rows)


def _flat(*between: str) -> str:
    """The left wing, something, its crease; each on the page itself."""
    return "\n".join([_path(OUTLINE[LEFT], CUT), *between, _path(CREASE[LEFT], FOLD)])


# Printed on both outline and fold, or into the piece alone.
BAND = '<rect id="print-lines" x="5" y="20" width="40" height="10" fill="#ffd27f"/>'
SQUARE = '<rect x="20" y="20" width="15" height="15" fill="#ffd27f"/>'
STYLED = "<style>{}</style>\n"
PAINT = "path{fill:none;stroke:#33475b;stroke-width:.3}"

GROUPED = [
    Sheet(
        "all flat, one kind after the other",
        "\n".join(
            [*(_path(d, CUT) for d in OUTLINE.values()), *(_path(d, FOLD) for d in CREASE.values())]
        ),
    ),
    Sheet(
        "all flat, one piece after the other",
        "\n".join(f"{_path(OUTLINE[p], CUT)}\n{_path(CREASE[p], FOLD)}" for p in (LEFT, RIGHT)),
    ),
    Sheet(
        "the folds come first",
        "\n".join([_path(CREASE[LEFT], FOLD), _path(OUTLINE[LEFT], CUT)]),
        (LEFT,),
    ),
    Sheet("a comment between", _flat("<!-- the <crease> of the wing -->"), (LEFT,)),
    Sheet("a layer for each", _layers(f'id="outlines" {CUT}', f'id="creases" {FOLD}')),
    Sheet(
        "marked layers",
        _layers(
            f's:groupmode="layer" s:label="outlines" {CUT}',
            f's:groupmode="layer" s:label="creases" {FOLD}',
        ),
        names=' xmlns:s="urn:stage"',
    ),
    Sheet(
        "layers with equal transforms",
        _layers(
            f'transform="matrix(0 1 1 0 0 0)" {CUT}', f'transform="matrix(0 1 1 0 0 0)" {FOLD}'
        ),
        ((10, 10, 90, 40), (10, 60, 90, 90)),
    ),
    Sheet(
        "layers with different transforms",
        _layers(CUT, f'transform="scale(2)" {FOLD.replace(".3", ".15")}')
        .replace(CREASE[LEFT], "M5 12.5H20")
        .replace(CREASE[RIGHT], "M30 12.5H45"),
    ),
    Sheet(
        "a transform on the outlines alone",
        _layers(f'transform="translate(0 5)" {CUT}', FOLD),
        ((10, 15, 40, 95), (60, 15, 90, 95)),
    ),
    Sheet(
        "a look that only the outlines' layer gives",
        _layers(f'{CUT} stroke-linecap="round" stroke-linejoin="bevel" stroke-opacity=".5"', FOLD),
    ),
    Sheet(
        "a look that only the folds' layer gives",
        _layers(CUT, f'{FOLD} stroke-linecap="round" stroke-dashoffset="1" stroke-opacity=".4"'),
    ),
    Sheet(
        "a look that both inherit", f'<g {CUT} stroke-linecap="square">{_layers("", DASHED)}</g>'
    ),
    Sheet(
        "style attributes",
        _layers(
            "style='fill:none;stroke:#33475b'",
            "style='fill:none; stroke:#b5543a; stroke-dasharray:2,1.5;'",
        ),
    ),
    Sheet(
        "style attributes with variables",
        _layers(
            "style='--a:#33475b;fill:none;stroke:#33475b'",
            "style='--a:#b5543a;fill:none;stroke:#b5543a;stroke-dasharray:2'",
        ),
    ),
    Sheet(
        "the current colour",
        _layers(
            'color="#33475b" fill="none" stroke="currentColor"',
            'color="#b5543a" fill="none" stroke="currentColor" stroke-dasharray="2"',
        ),
    ),
    Sheet(
        "widths in ems",
        _layers(
            'font-size="1" fill="none" stroke="#33475b" stroke-width="1em"',
            'font-size=".5" fill="none" stroke="#b5543a" stroke-width="1em" stroke-dasharray="2"',
        ),
    ),
    Sheet(
        "classes on the layers",
        STYLED.format(f"{PAINT}.folds{{stroke-dasharray:2 1}}.folds path{{stroke:#b5543a}}")
        + _layers('class="cuts"', 'class="folds"'),
    ),
    Sheet(
        "classes on the lines",
        STYLED.format(f"{PAINT}.a{{stroke:#b5543a;stroke-dasharray:2 1}}")
        + "\n".join(
            [*map(_path, OUTLINE.values()), *(_path(d, 'class="a"') for d in CREASE.values())]
        ),
    ),
    Sheet(
        "a rule by the layer's id",
        STYLED.format(f"{PAINT}#folds path{{stroke:#b5543a;stroke-dasharray:2 1}}")
        + _layers('id="cuts"', 'id="folds"'),
    ),
    Sheet(
        "a rule by the layer's id, in CDATA",
        f"<style><![CDATA[{PAINT} #folds>path{{stroke:#b5543a;stroke-dasharray:2 1}}]]></style>\n"
        + _layers('id="cuts"', 'id="folds"'),
    ),
    Sheet(
        "a rule for children of a class",
        STYLED.format(
            f"{PAINT}g.cut>path{{stroke-width:.8;stroke-linecap:round}}"
            "g.folds>path{stroke:#b5543a;stroke-dasharray:2 1}"
        )
        + _layers('class="cut"', 'class="folds"'),
    ),
    Sheet(
        "a rule for children of the page",
        STYLED.format("svg>path{stroke-width:.7;stroke-linecap:round}")
        + _flat(_path("M60 10H90V90Z", CUT)),
        (LEFT,),
    ),
    Sheet(
        "a rule for the first child",
        STYLED.format(f"{PAINT}path:first-child{{stroke-width:.9}}.folds{{stroke-dasharray:2 1}}")
        + _layers("", 'class="folds"'),
    ),
    Sheet(
        "a rule for every second child",
        STYLED.format("path:nth-child(odd){stroke-width:.9}")
        + "\n".join(
            [*(_path(d, CUT) for d in OUTLINE.values()), *(_path(d, FOLD) for d in CREASE.values())]
        ),
        unseen=(
            Unseen(
                "//*[local-name()='path'][count(preceding-sibling::*) mod 2 = 0]", "stroke-width:.9"
            ),
        ),
    ),
    Sheet(
        "a rule for what follows",
        STYLED.format("path+path{stroke-width:.9}")
        + "\n".join(
            [
                *(_path(d, THIN_CUT) for d in OUTLINE.values()),
                *(_path(d, THIN_FOLD) for d in CREASE.values()),
            ]
        ),
        unseen=(
            Unseen(
                "//*[local-name()='path'][preceding-sibling::*[1][local-name()='path']]",
                "stroke-width:.9",
            ),
        ),
    ),
    Sheet(
        "an important rule that reaches them anywhere",
        STYLED.format("path{stroke-width:.8!important}") + _layers(CUT, FOLD),
    ),
    Sheet(
        "the outline in a use",
        f'<defs><path id="w" d="M0 0H30V80H0Z" {CUT}/></defs>\n'
        f'<use href="#w" x="10" y="10"/>\n<use href="#w" x="60" y="10"/>\n'
        + "\n".join(_path(d, FOLD) for d in CREASE.values()),
    ),
    Sheet(
        "outline and fold in a use each",
        f'<defs><symbol id="w" overflow="visible"><path d="M0 0H30V80H0Z" {CUT}/></symbol>'
        f'<path id="c" d="M0 15H30" {FOLD}/></defs>\n'
        '<use href="#w" x="10" y="10"/>\n<use href="#w" x="60" y="10"/>\n'
        '<use href="#c" x="10" y="10"/>\n<use href="#c" x="60" y="10"/>',
    ),
    Sheet(
        "the folds in a symbol that is used twice, the outlines on the page",
        f'<defs><symbol id="c" overflow="visible"><path d="M0 15H30" {FOLD}/>'
        f'<path d="M0 25H30" {FOLD}/></symbol></defs>\n'
        + "\n".join(_path(d, CUT) for d in OUTLINE.values())
        + '\n<use href="#c" x="10" y="10"/>\n<use href="#c" transform="translate(60 10)"/>',
    ),
    Sheet(
        "flat inside a nested svg",
        '<svg x="5" y="5" width="90" height="90" viewBox="0 0 90 90">\n'
        f"{_path('M10 10H40V70H10Z', CUT)}\n"
        f"{_path('M50 10H80V70H50Z', CUT)}\n{_path('M10 25H40', FOLD)}\n"
        f"{_path('M50 25H80', FOLD)}\n</svg>",
        ((15, 15, 45, 75), (55, 15, 85, 75)),
    ),
    Sheet(
        "inside a link",
        f'<a href="#x">\n{_path(OUTLINE[LEFT], CUT)}\n{_path(OUTLINE[RIGHT], CUT)}\n</a>\n'
        f'<a href="#y">\n{_path(CREASE[LEFT], FOLD)}\n{_path(CREASE[RIGHT], FOLD)}\n</a>',
    ),
    Sheet(
        "in a group that a switch shows",
        f'<switch><g systemLanguage="en">\n{_layers(CUT, FOLD)}\n</g><g>'
        f"{_path('M0 0H9', CUT)}</g></switch>",
    ),
    Sheet(
        "one path for both outlines",
        "\n".join(
            [_path(" ".join(OUTLINE.values()), CUT), *(_path(d, FOLD) for d in CREASE.values())]
        ),
    ),
    Sheet(
        "one filled path for both outlines",
        "\n".join(
            [
                _path(" ".join(OUTLINE.values()), CUT.replace("none", "#fff3d6")),
                *(_path(d, FOLD) for d in CREASE.values()),
            ]
        ),
    ),
    Sheet(
        "one path for outlines with windows, by either fill rule",
        "\n".join(
            [
                _path(
                    " ".join(OUTLINE.values()) + "M20 40H30V50H20ZM70 40V50H80V40z",
                    CUT.replace("none", "#fff3d6") + ' fill-rule="evenodd"',
                ),
                *(_path(d, FOLD) for d in CREASE.values()),
            ]
        ),
    ),
    Sheet(
        "one path for both outlines, moved by relative letters",
        "\n".join(
            [
                _path("m10 10h30v80h-30zm50 0h30v80h-30z", CUT),
                *(_path(d, FOLD) for d in CREASE.values()),
            ]
        ),
    ),
    Sheet(
        "one path for both folds",
        "\n".join(
            [
                *(_path(d, CUT) for d in OUTLINE.values()),
                _path(
                    "M10 25H40m20 0h30", FOLD.replace(' stroke-dasharray="2 1.5"', ' id="folds"')
                ),
            ]
        ),
    ),
    Sheet(
        "one path for outlines, one for folds",
        "\n".join([_path(" ".join(OUTLINE.values()), CUT), _path("M10 25H40M60 25H90", FOLD)]),
    ),
    Sheet(
        "outlines drawn line by line",
        "\n".join(
            [
                _path("M10 10H40", CUT),
                _path("M60 10H90V90H60Z", CUT),
                _path("M40 10V90", CUT),
                _path(CREASE[LEFT], FOLD),
                _path("M40 90H10V10", CUT),
                _path(CREASE[RIGHT], FOLD),
            ]
        ),
    ),
    Sheet("a text beside", _flat('<text x="60" y="50" font-size="5">wing</text>'), (LEFT,)),
    Sheet(
        "a picture beside",
        _flat('<image x="60" y="50" width="9" height="9" href="data:,"/>'),
        (LEFT,),
    ),
    Sheet("a decoration beside", _flat(SQUARE.replace('x="20"', 'x="60"')), (LEFT,)),
    Sheet(
        "a decoration in the piece that the fold does not touch",
        _flat(SQUARE.replace('y="20"', 'y="50"')),
        (LEFT,),
    ),
    Sheet("all on one line", _flat(_path("M60 10H90V90Z", CUT)).replace("\n", ""), (LEFT,)),
    Sheet(
        "tabs and Windows line ends",
        _flat(_path("M60 10H90V90Z", CUT)).replace("\n", "\r\n\t\t"),
        (LEFT,),
    ),
    Sheet(
        "odd quotes and spaces",
        _flat(_path("M60 10H90V90Z", CUT))
        .replace('"', "'")
        .replace(" stroke=", "\n\n  stroke =\t")
        .replace("/>", "\n/>"),
        (LEFT,),
    ),
    Sheet(
        "end tags written out and children in them",
        _flat(_path("M60 10H90V90Z", CUT)).replace("/>", "><title>a &gt; b</title></path>"),
        (LEFT,),
    ),
    Sheet(
        "a group that holds the outline alone",
        f'<g id="wing">{_path(OUTLINE[LEFT], CUT)}</g>{_path(CREASE[LEFT], FOLD)}',
        (LEFT,),
    ),
    Sheet(
        "a group that holds the outline and some folds",
        f'<g id="wing">{_path(OUTLINE[LEFT], CUT)}{_path("M10 30H40", FOLD)}</g>'
        f"{_path('M60 0V9', CUT)}{_path(CREASE[LEFT], FOLD)}",
        (LEFT,),
    ),
    Sheet(
        "a group that holds the outline, moved and painted its own way",
        f'<g id="wing" transform="translate(10 10)" {CUT}>{_path("M0 0H30V80H0Z")}</g>'
        f"{_path('M60 0V9', CUT)}{_path(CREASE[LEFT], FOLD)}",
        (LEFT,),
    ),
    Sheet(
        "a group for each in one group for both",
        f'<g id="wing"><g>{_path(OUTLINE[LEFT], CUT)}</g>{_path("M60 0V9", CUT)}'
        f"<g>{_path(CREASE[LEFT], FOLD)}</g></g>",
        (LEFT,),
    ),
    Sheet(
        "a group that is half transparent as a whole",
        f'<g opacity=".5">{_path(OUTLINE[LEFT], CUT)}</g>\n{_path(CREASE[LEFT], FOLD)}',
        (LEFT,),
    ),
    Sheet(
        "a group that is half transparent as a whole, nothing between the tags",
        f'<g opacity=".5">{_path(OUTLINE[LEFT], CUT)}</g>{_path(CREASE[LEFT], FOLD)}',
        (LEFT,),
    ),
    Sheet(
        "a rule for every second child, of what has no width of its own",
        STYLED.format("path:nth-child(odd){stroke-width:.9}")
        + "\n".join(
            [
                *(_path(d, THIN_CUT) for d in OUTLINE.values()),
                *(_path(d, THIN_FOLD) for d in CREASE.values()),
            ]
        ),
        unseen=(
            Unseen(
                "//*[local-name()='path'][count(preceding-sibling::*) mod 2 = 0]",
                "stroke-width:.9",
            ),
        ),
    ),
    Sheet(
        "a group that a use shows again",
        f'<g id="wing">{_path(OUTLINE[LEFT], CUT)}</g>\n{_path(CREASE[LEFT], FOLD)}\n'
        '<use href="#wing" x="50"/>',
        (LEFT,),
    ),
    Sheet(
        "folds that filled outlines hide",
        "\n".join(
            [
                f"<g {FOLD}>",
                *map(_path, CREASE.values()),
                "</g>",
                f"<g {CUT.replace('none', '#fff3d6')}>",
                *map(_path, OUTLINE.values()),
                "</g>",
            ]
        ),
    ),
    Sheet(
        "filled pieces a hair apart",
        _layers(CUT.replace("none", "#fff3d6").replace(".3", "1"), FOLD).replace("M60", "M40.1"),
        (LEFT, (40.1, 10.0, 90.0, 90.0)),
    ),
    Sheet(
        "a piece in the window of another",
        "\n".join(
            [
                *(_path(f"M{a} {a}H{100 - a}V{100 - a}H{a}Z", CUT) for a in (10, 20, 30)),
                _path("M30 50H70", FOLD),
                _path("M10 15H90", FOLD),
            ]
        ),
        ((30.0, 30.0, 70.0, 70.0),),
    ),
    Sheet(
        "layers in layers with transforms that cancel out",
        f"<g {CUT}><g>{_path(OUTLINE[LEFT])}</g><g>{_path(OUTLINE[RIGHT])}</g></g>"
        f'<g transform="translate(1 0)"><g {FOLD} transform="translate(-1 0)">'
        + "".join(map(_path, CREASE.values()))
        + "</g></g>",
    ),
    Sheet("a transform by a style", _layers(CUT, f'{FOLD} style="transform:translate(0px,3px)"')),
    Sheet(
        "an outline and a fold out of one entity",
        "&wing;",
        (LEFT,),
        head="<!DOCTYPE svg [<!ENTITY wing '"
        + _path(OUTLINE[LEFT], CUT + SPACE)
        + _path(CREASE[LEFT], FOLD + SPACE)
        + "'>]>\n",
    ),
    Sheet(
        "attributes out of entities",
        _flat(_path("M60 10H90V90Z", CUT)).replace('"none"', '"&n;"'),
        (LEFT,),
        head="<!DOCTYPE svg [<!ENTITY n 'none'>]>\n",
    ),
    Sheet(
        "path data out of an entity",
        "\n".join(
            [_path(f"&l; {OUTLINE[RIGHT]}", CUT), *(_path(d, FOLD) for d in CREASE.values())]
        ),
        head=f"<!DOCTYPE svg [<!ENTITY l '{OUTLINE[LEFT]}'>]>\n",
    ),
    Sheet(
        "a look out of the document type",
        "\n".join([_path(" ".join(OUTLINE.values())), *(_path(d, FOLD) for d in CREASE.values())]),
        head="<!DOCTYPE svg [<!ATTLIST path fill CDATA 'none' stroke CDATA '#33475b'>]>\n",
    ),
    Sheet("opacity on the folds' layer", _layers(CUT, f'{FOLD} opacity=".5"')),
    Sheet("opacity on the folds' layer by style", _layers(CUT, f'{FOLD} style="opacity:50%"')),
    Sheet(
        "opacity on the folds' layer by a rule",
        STYLED.format("#folds{opacity:.5}") + _layers(CUT, f'id="folds" {FOLD}'),
    ),
]


REFUSED = [
    *(
        Sheet(
            f"{what} on the folds' layer",
            defs + _layers(CUT, f"{FOLD} {what}"),
            reason="put the fold inside by hand",
        )
        for what, defs in (
            ('clip-path="url(#k)"', '<clipPath id="k"><path d="M0 0H95V95H0Z"/></clipPath>'),
            ('mask="url(#k)"', '<mask id="k"><path d="M0 0H95V95H0Z" fill="#fff"/></mask>'),
            ('filter="url(#k)"', '<filter id="k"><feOffset dx="1"/></filter>'),
            ('style="mix-blend-mode:multiply"', ""),
        )
    ),
    Sheet(
        "folds that cross on a layer with opacity",
        "\n".join(
            [
                f"<g {CUT}>{_path(OUTLINE[LEFT])}{_path(OUTLINE[RIGHT])}</g>",
                f'<g {FOLD} opacity=".5">{_path("M10 25H40")}{_path("M25 10V90")}',
                f"{_path('M60 25H90')}{_path('M75 10V90')}</g>",
            ]
        ),
        reason="put the fold inside by hand",
    ),
    Sheet("a decoration between", _flat(BAND), (LEFT,), "is painted between its parts"),
    Sheet(
        "a decoration in a use between",
        _flat(
            f'<defs>{BAND.replace(" id=", " class=")}</defs><use href="#b" id="print-lines"/>'
        ).replace("<rect", '<rect id="b"'),
        (LEFT,),
        "is painted between its parts",
    ),
    Sheet(
        "a text between",
        _flat('<text x="10" y="26" font-size="6">wing</text>'),
        (LEFT,),
        "is painted between its parts",
    ),
    Sheet(
        "a picture between",
        _flat('<image x="12" y="20" width="9" height="9" href="data:,"/>'),
        (LEFT,),
        "is painted between its parts",
    ),
    Sheet(
        "one path for outlines that touch",
        "\n".join(
            [
                _path("M10 10H50V50H10ZM50 50H90V90H50Z", CUT),
                _path("M10 25H50", FOLD),
                _path("M50 75H90", FOLD),
            ]
        ),
        ((10, 10, 50, 50), (50, 50, 90, 90)),
        "touch it; split the path first",
    ),
    Sheet(
        "one fold through two pieces",
        "\n".join(
            [
                _path("M10 10H45V90H10Z", CUT),
                _path("M55 10H90V90H55Z", CUT),
                _path("M10 25H90", FOLD),
            ]
        ),
        ((10, 10, 45, 90), (55, 10, 90, 90)),
        "runs through several pieces",
    ),
    Sheet(
        "a symbol of two pieces without groups",
        f'<defs><symbol id="s" overflow="visible">'
        f"{''.join(_path(d, CUT) for d in OUTLINE.values())}</symbol></defs>"
        f'<use href="#s"/>{"".join(_path(d, FOLD) for d in CREASE.values())}',
        reason="draws several pieces at once",
    ),
    Sheet(
        "a layer that is shown elsewhere too",
        _layers(CUT, f'id="folds" {FOLD}') + '<use href="#folds" y="70"/>',
        reason="is shown elsewhere too",
    ),
    Sheet(
        "a layer that moves",
        _layers(CUT, FOLD).replace(
            "</g>", '<animateTransform attributeName="transform" type="rotate" to="9"/></g>'
        ),
        reason="is animated",
    ),
    Sheet(
        "choices of a switch",
        f"<switch>{_path(OUTLINE[LEFT], CUT)}</switch><switch>{_path(CREASE[LEFT], FOLD)}</switch>",
        (LEFT,),
        "is a drawing of its own",
    ),
    Sheet(
        "outlines in a nested svg",
        f"<svg>{''.join(_path(d, CUT) for d in OUTLINE.values())}</svg>"
        f"{''.join(_path(d, FOLD) for d in CREASE.values())}",
        reason="is a drawing of its own",
    ),
    Sheet(
        "an important rule that reaches them by where they stand",
        STYLED.format("#folds path{stroke-width:.8!important}")
        + _layers(CUT, f'id="folds" {FOLD}'),
        reason="!important",
    ),
    Sheet(
        "a fold out of an entity",
        _flat().replace(_path(CREASE[LEFT], FOLD), _path("M60 10H90V90Z", CUT) + "&c;"),
        (LEFT,),
        "cannot be told for certain",
        head=f"<!DOCTYPE svg [<!ENTITY c '{_path(CREASE[LEFT], FOLD + SPACE)}'>]>\n",
    ),
    Sheet(
        "two pieces out of one entity",
        "&wings;",
        reason="the finding would still be there",
        head="<!DOCTYPE svg [<!ENTITY wings '{}'>]>\n".format(
            "".join(
                _path(OUTLINE[p], CUT + SPACE) + _path(CREASE[p], FOLD + SPACE)
                for p in (LEFT, RIGHT)
            )
        ),
    ),
]

UNTOUCHED = [
    Sheet(
        "one symbol of all, used three times",
        f'<defs><symbol id="s" overflow="visible">{_path("M0 0H20V30H0Z", CUT)}'
        f'{_path("M0 10H20", FOLD)}</symbol></defs><use href="#s" x="10" y="10"/>'
        '<use href="#s" x="40" y="10"/><use href="#s" x="10" y="50" transform="rotate(3)"/>',
    ),
    Sheet(
        "a group for each",
        "".join(f"<g>{_path(OUTLINE[p], CUT)}{_path(CREASE[p], FOLD)}</g>" for p in (LEFT, RIGHT)),
    ),
]

NAMES = [
    # name on the outline, name of the group
    ("wing", "wing-piece"),
    ("Flügel links", "Flügel-links"),
    ("幕", "幕-piece"),
    ("7up", "piece"),
    ("1-2", "piece-1"),
    ("fold-out-tray", "fold-out-tray-piece"),
    ("wing&amp;&quot;co", "wing-co"),
    ("a:b", "a-b"),
    ("_x", "_x-piece"),
]


@cache
def _fixed(sheet: Sheet) -> Repaired:
    return repair(sheet.data(), "sheet.svg", STRUCTURE, GROUPING)


def _same_picture(sheet: Sheet, data: bytes) -> bool:
    return png(sheet.data(), sheet.unseen, WIDTH) == png(data, sheet.unseen, WIDTH)


def _lines(element: object) -> list[Box]:
    """The boxes in mm of all lines in a group, by the independent reader."""
    boxes = []
    for shape in element.select(lambda one: isinstance(one, svgelements.Shape)):  # type: ignore
        for subpath in svgelements.Path(shape).as_subpaths():
            box = abs(svgelements.Path(subpath)).bbox()
            if box is not None:
                boxes.append(tuple(round(side * MM_PER_PX, 2) for side in box))
    return boxes


def _groups(data: bytes) -> Iterator[list[Box]]:
    """The lines of every group and use in a file, but for the page itself."""
    page = svgelements.SVG.parse(io.BytesIO(data), ppi=96)
    for one in page.select(lambda one: isinstance(one, svgelements.Group | svgelements.Use)):
        if one is not page:
            yield sorted(_lines(one))


def _in(box: Box, piece: Box) -> bool:
    return (
        box[0] >= piece[0] - 0.1
        and box[1] >= piece[1] - 0.1
        and box[2] <= piece[2] + 0.1
        and box[3] <= piece[3] + 0.1
    )


@pytest.mark.parametrize("sheet", GROUPED, ids=lambda sheet: sheet.name)
def test_folds_are_grouped_and_no_pixel_changes(sheet: Sheet) -> None:
    copy = _fixed(sheet)
    assert copy.not_fixed == ()
    assert copy.moved_mm == 0
    assert _same_picture(sheet, copy.data)
    before, after = lines_of(sheet.data()), lines_of(copy.data)
    assert sorted(line.round(4).tolist() for line in after) == sorted(
        line.round(4).tolist() for line in before
    )
    again = repair(copy.data, "copy.svg", STRUCTURE, GROUPING)
    assert (again.data, again.fixed, again.not_fixed, again.left) == (copy.data, (), (), ())


@pytest.mark.parametrize("sheet", GROUPED, ids=lambda sheet: sheet.name)
def test_a_group_holds_all_of_a_piece_and_nothing_of_another(sheet: Sheet) -> None:
    data = _fixed(sheet).data
    page = sorted(_lines(svgelements.SVG.parse(io.BytesIO(data), ppi=96)))
    groups = list(_groups(data))
    for piece in sheet.pieces:
        mine = [box for box in page if _in(box, piece)]
        assert len(mine) > 1
        assert mine in groups


@pytest.mark.parametrize("sheet", REFUSED, ids=lambda sheet: sheet.name)
def test_what_cannot_be_grouped_is_left_and_said(sheet: Sheet) -> None:
    data = sheet.data()
    copy = _fixed(sheet)
    assert copy.data is data or copy.data == data
    assert copy.fixed == ()
    assert len(copy.not_fixed) == len(sheet.pieces)
    for left in copy.not_fixed:
        assert sheet.reason in left.reason
        assert re.fullmatch(r"[^.\n]{10,160}", left.reason), "one plain clause"
    assert lint_bytes(data, "sheet.svg", STRUCTURE, GROUPING).findings


@pytest.mark.parametrize("sheet", UNTOUCHED, ids=lambda sheet: sheet.name)
def test_what_is_in_order_is_not_touched(sheet: Sheet) -> None:
    data = sheet.data()
    assert repair(data, "sheet.svg", STRUCTURE, GROUPING).data is data


# XML 1.0 (fifth edition), 2.3: what may be a name; lxml holds ids to be unique.
@pytest.mark.parametrize(("own", "given"), NAMES)
def test_a_new_group_is_named_after_its_piece(own: str, given: str) -> None:
    sheet = Sheet("", _flat().replace("<path", f'<path id="{own}"', 1), (LEFT,))
    root = etree.fromstring(_fixed(sheet).data)
    (group,) = root.iter("{*}g")
    assert group.get("id") == given
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))


def test_a_name_that_is_taken_gets_a_number() -> None:
    taken = "".join(
        f'<rect id="{name}" x="{x}" y="1" width="9" height="5" {CUT}/>'
        for name, x in (("wing-piece", 1), ("wing-piece-2", 71))
    )
    sheet = Sheet("", taken + _flat().replace("<path", '<path id="wing"', 1), (LEFT,))
    (group,) = etree.fromstring(_fixed(sheet).data).iter("{*}g")
    assert group.get("id") == "wing-piece-3"


def test_parts_in_a_row_are_wrapped_and_no_byte_of_them_changes() -> None:
    sheet = next(one for one in GROUPED if one.name == "all flat, one piece after the other")
    data = _fixed(sheet).data
    assert re.sub(rb'<g id="piece-\d">\n|\n</g>', b"", data) == sheet.data()


def test_what_is_moved_keeps_every_character() -> None:
    sheet = next(one for one in GROUPED if one.name == "odd quotes and spaces")
    before, after = (
        re.findall(r"<path[^>]*>", data.decode()) for data in (sheet.data(), _fixed(sheet).data)
    )
    assert sorted(before) == sorted(after)


def test_a_group_that_holds_the_outline_is_used_again() -> None:
    sheet = next(
        one for one in GROUPED if one.name == "a group that holds the outline and some folds"
    )
    root = etree.fromstring(_fixed(sheet).data)
    assert [group.get("id") for group in root.iter("{*}g")] == ["wing"]


@pytest.mark.parametrize("prefix", ["svg", "s.t-1"])
def test_elements_with_a_prefix(prefix: str) -> None:
    plain = Sheet("", _layers(f'id="outlines" {CUT}', f'id="creases" {FOLD}'))
    data = re.sub(rb"<(/?)([a-z])", rf"<\1{prefix}:\2".encode(), plain.data())
    data = data.replace(b"xmlns=", f"xmlns:{prefix}=".encode())
    copy = repair(data, "sheet.svg", STRUCTURE, GROUPING)
    assert len(copy.fixed) == len(plain.pieces)
    assert {element.prefix for element in etree.fromstring(copy.data).iter()} == {prefix}
    assert png(data) == png(copy.data)
