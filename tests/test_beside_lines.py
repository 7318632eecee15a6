"""What stands in a file beside lines: what is seen of it, and what taking it away changes.

A general SVG renderer (resvg) is the judge of what is seen: what is called hidden must show in no
pixel, a clip is told just where it changes the picture, and a copy without active content must
look as before. The XML reader (libxml2, through lxml) is the judge of entities.
"""

from __future__ import annotations

import io
import re

import numpy as np
import numpy.typing as npt
import pytest
import resvg_py
from lxml import etree
from PIL import Image, ImageFont

from matready.lint.reading import read_drawing
from matready.lint.reading.active import find_active
from matready.lint.repair import repair
from matready.lint.results import FindingRecord, Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.lint.source import read_source
from matready.rules import RULES

from tests.drawn import page
from tests.planting.cases import RECIPES, make_case

PANEL = '<path id="panel" d="M20 20h60v60h-60z" fill="none" stroke="#33475b"/>'


def found(data: bytes, rule: str) -> list[FindingRecord]:
    """What one rule finds."""
    report = lint_bytes(data, "stage.svg", RULES, Settings(only=frozenset([rule])))
    return [one for one in report.findings if one.rule == rule]


def fixed(data: bytes, rule: str) -> Repaired:
    """What one rule mends."""
    return repair(data, "stage.svg", RULES, Settings(only=frozenset([rule])))


def pixels(data: bytes) -> npt.NDArray[np.int16]:
    """The picture on white, 96 dots to the inch."""
    drawn = resvg_py.svg_to_bytes(
        svg_string=data.decode("utf-8"), dpi=96, background="white", skip_system_fonts=True
    )
    return np.asarray(Image.open(io.BytesIO(bytes(drawn))).convert("RGB")).astype(np.int16)


def looks_alike(one: bytes, other: bytes, levels: int = 0) -> bool:
    """Whether no pixel differs by more than some levels of 255."""
    a, b = pixels(one), pixels(other)
    return a.shape == b.shape and bool((np.abs(a - b) <= levels).all())


# -- lines that no one sees

WINDOW = 'd="M35 35h30v30h-30z"'
HIDDEN = {
    "display": f'<path {WINDOW} stroke="#000" display="none"/>',
    "style": f'<path {WINDOW} stroke="#000" style="display:none"/>',
    "group": f'<g display="none"><path {WINDOW} stroke="#000"/></g>',
    "visibility": f'<path {WINDOW} stroke="#000" visibility="hidden"/>',
    "collapse": f'<g visibility="collapse"><path {WINDOW} stroke="#000"/></g>',
    "opacity": f'<g opacity="0"><path {WINDOW} stroke="#000"/></g>',
    "paints": f'<path {WINDOW} fill="none"/>',
    "paint opacity": f'<path {WINDOW} fill-opacity="0" stroke="#000" stroke-opacity="0%"/>',
    "no width": f'<path {WINDOW} fill="none" stroke="#000" stroke-width="0"/>',
    "white": f'<path {WINDOW} fill="none" stroke="white"/>',
    "white fill": f'<path {WINDOW} fill="#ffffff"/>',
    "use": f'<defs><path id="w" {WINDOW}/></defs><use href="#w" display="none"/>',
    "in a definition": f'<defs><path id="w" {WINDOW} display="none"/></defs><use href="#w"/>',
}
SEEN = {
    "plain": f'<path {WINDOW} fill="none" stroke="#000"/>',
    "opacity": f'<path {WINDOW} opacity=".2"/>',
    "grey": f'<path {WINDOW} fill="#eee"/>',
    "shown again": f'<g visibility="hidden"><path {WINDOW} visibility="visible"/></g>',
    "white on the panel's edge": '<path d="M50 10v30" stroke="#fff" stroke-width="2"/>',
    "white on a floor": f'<path d="M30 30h40v40h-40z" fill="#c60"/><path {WINDOW} fill="#fff"/>',
}


@pytest.mark.parametrize("inside", HIDDEN.values(), ids=HIDDEN)
def test_what_shows_in_no_pixel_is_called_hidden(inside: str) -> None:
    data = page(PANEL, inside)
    assert looks_alike(data, page(PANEL))
    assert [one.severity for one in found(data, "hidden-line")] == ["caution"]


@pytest.mark.parametrize("inside", SEEN.values(), ids=SEEN)
def test_what_shows_in_a_pixel_is_not(inside: str) -> None:
    data = page(PANEL, inside)
    assert not looks_alike(data, page(PANEL))
    assert found(data, "hidden-line") == []


def test_hidden_lines_go_only_when_asked_for_by_name() -> None:
    data = page(PANEL, HIDDEN["group"], HIDDEN["visibility"])
    assert repair(data, "stage.svg", RULES, Settings()).data == data
    done = fixed(data, "hidden-line")
    assert done.data == page(PANEL)
    assert len(done.fixed) == 2


@pytest.mark.parametrize(
    ("inside", "reason"),
    [
        (f'<g display="none"><path id="w" {WINDOW}/></g><use href="#w"/>', "in another place"),
        (f'<g display="none"><path {WINDOW}/><clipPath id="w"/></g><g clip-path="url(#w)"/>',
         "as it is"),
        (f'<path {WINDOW} display="none"><set attributeName="display" to="inline"/></path>',
         "animated"),
        (f'<switch><path {WINDOW} display="none"/><g/></switch>', "one choice of several"),
        (f'<g display="none"><path {WINDOW}/><mask id="w"/></g><style>.a{{mask:url(#w)}}</style>',
         "named by a style sheet"),
        (f'<defs><path id="w" {WINDOW} display="none"/></defs><use href="#w"/>', "by a <use>"),
    ],
)  # fmt: skip
def test_what_something_else_needs_is_left(inside: str, reason: str) -> None:
    data = page(PANEL, inside)
    done = fixed(data, "hidden-line")
    assert done.data == data
    assert [reason in one.reason for one in done.not_fixed] == [True]


# -- clips


def _clips() -> list[tuple[str, bool]]:
    """Clips and masks of many makes, and whether they hide a part of the panel."""
    shapes = [
        ('<rect width="200" height="200"/>', False),
        ('<rect x="15" y="15" width="70" height="70"/>', False),
        ('<rect x="15" y="15" width="70" height="60"/>', True),
        ('<circle cx="50" cy="50" r="45"/>', False),
        ('<circle cx="50" cy="50" r="40"/>', True),
        ('<rect width="60" height="200"/><rect x="50" width="150" height="200"/>', False),
        ('<rect width="45" height="200"/><rect x="55" width="150" height="200"/>', True),
        ('<path d="M0 0h200v200h-200zM40 40v20h20v-20z"/>', False),
        ('<path d="M0 0h200v200h-200zM10 40v20h20v-20z"/>', True),
        ('<path d="M0 0h200v200h-200zM10 40h20v20h-20z"/>', False),
        ('<path clip-rule="evenodd" fill-rule="evenodd" d="M0 0h200v200h-200zM10 40h20v20h-20z"/>',
         True),
        ('<g transform="scale(2)"><rect width="100" height="100"/></g>', False),
    ]  # fmt: skip
    made = []
    for shape, hides in shapes:
        for where in ("{}", '<g transform="rotate(30 50 50)">{}</g>'):
            clip = f'<clipPath id="c">{shape}</clipPath><g clip-path="url(#c)">{PANEL}</g>'
            mask = (
                '<mask id="c" maskUnits="userSpaceOnUse" x="-200" y="-200" width="600" '
                f'height="600"><g fill="#fff">{shape}</g></mask><g mask="url(#c)">{PANEL}</g>'
            )
            # CSS Masking 1, 8: a group may not stand in a clipPath, so it lets nothing be seen.
            made.append((where.format(clip), hides or shape.startswith("<g")))
            made.append((where.format(mask), hides))
    box = '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect {}/></clipPath>'
    for size, hides in (('x="-1" width="3" y="-1" height="3"', False),
                        ('width=".5" height="1"', True)):  # fmt: skip
        made.append((f'{box.format(size)}<g clip-path="url(#c)">{PANEL}</g>', hides))
    return made


@pytest.mark.parametrize(("inside", "hides"), _clips())
def test_a_clip_is_told_where_it_changes_the_picture(inside: str, hides: bool) -> None:
    without = re.sub(r'(clip-path|mask)="url\(#c\)"', "", inside)
    # What is clipped is painted on a layer of its own, and its edges are rounded once more.
    assert looks_alike(page(inside), page(without), levels=8) is not hides
    assert bool(found(page(inside), "clipped-art")) is hides


def test_only_the_length_that_is_hidden_is_measured() -> None:
    # Computed: of a square of 60 mm all below 50 mm is hidden: twice 30 mm, and 60 mm.
    inside = '<clipPath id="c"><rect width="200" height="50"/></clipPath>'
    (one,) = found(page(inside, f'<g clip-path="url(#c)">{PANEL}</g>'), "clipped-art")
    assert one.measured is not None
    assert one.measured.value == pytest.approx(120, abs=0.2)
    assert one.box_mm == pytest.approx((20, 50, 80, 80), abs=0.1)


# -- texts and data


def test_a_text_lies_about_where_a_typeface_sets_it() -> None:
    # Pillow's own typeface, as an example of a common one.
    words = "The Moon Thief, a play in two acts"
    data = page(f'<text x="20" y="90" font-size="10">{words}</text>')
    (text,) = read_drawing(read_source(data, "stage.svg")).sights
    left, _, right, _ = ImageFont.load_default(100).getbbox(words)
    assert text.box[0] == pytest.approx(20)
    assert text.box[2] - text.box[0] == pytest.approx((right - left) / 10, rel=0.35)
    assert text.box[1] < 83
    assert 90 < text.box[3] < 95


@pytest.mark.parametrize(
    ("data", "kept"),
    [
        ("M20 20H80V80L50 60L20", "M20 20H80V80L50 60"),
        ("M20 20H80V80X20 80Z", "M20 20H80V80"),
        ("M20 80V40a30 30 0 0 2 60 0V80z", "M20 80V40"),
        ("M20 20L80 20L50 80L", "M20 20L80 20L50 80"),
    ],
)
def test_the_part_before_a_break_is_what_is_drawn(data: str, kept: str) -> None:
    # SVG 2, 9.5.4: drawn up to the segment that breaks the grammar.
    broken, whole = (page(PANEL.replace("M20 20h60v60h-60z", d)) for d in (data, kept))
    assert looks_alike(broken, whole)
    (one,) = found(broken, "broken-path")
    assert one.severity == "fault"
    assert found(whole, "broken-path") == []


# -- active content

DRESS = (
    ("<svg ", '<svg onload="draw()" '),
    ("</svg>", "<script>draw()</script></svg>"),
    ("</svg>", "<style>@import url(http://stage.example/a.css);</style></svg>"),
    ("<path ", "<path onclick='fold(\"a\")' "),
    ("<rect ", '<rect onmouseover = "lift()" '),
    (' stroke-width="', ' stroke-width="&none;'),
    ("</svg>", '<a href="http://stage.example/"><title>&one; way</title></a></svg>'),
)
DOCTYPE = '<!DOCTYPE svg [<!ENTITY none ""> <!ENTITY one \'the "only"\'>]>\n'


def dressed(text: str) -> str:
    """A drawing with active content of every kind put in."""
    head = text.index("<svg")
    body = text[head:]
    for plain, active in DRESS:
        body = body.replace(plain, active)
    return f"{text[:head]}{DOCTYPE}{body}"


@pytest.mark.parametrize("number", range(0, 120, 10))
def test_active_content_goes_and_the_picture_stays(number: int) -> None:
    plain = make_case(RECIPES[number % len(RECIPES)], 7_000 + number).text
    data = dressed(plain).encode()
    assert len(found(data, "active-content")) == 4
    done = fixed(data, "active-content")
    assert done.not_fixed == ()
    assert find_active(read_source(done.data, "stage.svg")) == []
    assert not re.search(rb"<script|\son\w+\s*=|http://stage|<!ENTITY|&none;", done.data)
    assert looks_alike(done.data, plain.encode())
    assert fixed(done.data, "active-content").data == done.data


def _told(element: etree._Element) -> list[tuple[object, ...]]:
    return [(one.tag, sorted(one.items()), (one.text or "").strip()) for one in element.iter("*")]


def test_entities_written_out_say_what_the_xml_reader_reads() -> None:
    data = (
        b"<!DOCTYPE svg [\n<!ENTITY a 'A&#65;'><!ENTITY b \"&a;'&a;'\">\n<!ENTITY a 'late'>"
        b'<!ENTITY s "http://www.w3.org/2000/svg"><!-- <!ENTITY c "no"> --><!ENTITY d "\n">]>'
        b"<svg xmlns='&s;'><title id=\"&b;\" class='&b;&d;&a;'>&b; &amp; &lt;</title>"
        b"<desc><![CDATA[&a;]]><!-- &a; --></desc></svg>"
    )
    done = fixed(data, "active-content")
    assert b"<!ENTITY a" not in done.data
    assert b"<![CDATA[&a;]]><!-- &a; -->" in done.data
    assert _told(etree.fromstring(done.data)) == _told(etree.fromstring(data))


@pytest.mark.parametrize(
    "declared",
    ['"&#60;"', '"&#38;amp;"', '"<path/>"', '"%a;"', 'SYSTEM ""'],
)
def test_entities_that_are_more_than_words_are_left(declared: str) -> None:
    data = f"<!DOCTYPE svg [<!ENTITY a {declared}>]>\n{page(PANEL).decode()}".encode()
    try:
        etree.fromstring(data)
    except etree.XMLSyntaxError:
        return  # the reader itself refuses it
    if "SYSTEM" in declared:
        return  # another file is never asked for: see the tests of the source
    (one,) = found(data, "active-content")
    assert one.fix is None


CALM = [
    '<a href="#panel"><path d="M0 0h9"/></a>',
    '<metadata><r xmlns="urn:r" href="http://stage.example/">x</r></metadata>',
    '<image width="9" height="9" href="http://stage.example/a.png"/>',
    '<image width="9" height="9" href="data:image/svg+xml,%3Csvg/%3E"/>',
    '<g xmlns:x="urn:x" x:onload="1"><x:script/></g>',
    '<g id="on" class="only" data-onload="1" fill="url(#a)"/>',
    "<style>@font-face{font-family:a;src:url(data:font/woff;base64,AA)} g{fill:url(#a)}</style>",
    '<desc>onload="draw()" javascript: http://stage.example/</desc>',
    '<use href="https://stage.example/wings.svg#left"/>',
]
ACTIVE = [
    ('<a xmlns:q="http://www.w3.org/1999/xlink" q:href="//stage.example"/>', "link"),
    ('<linearGradient href="file:///a.svg#b"/>', "link"),
    ("<g style=\"fill:url( 'http://stage.example/a.svg#b' )\"/>", "link"),
    ("<style>g{fill:url(b.svg#a)}</style>", "link"),
    ('<a href=" JavaScript:open()"/>', "script"),
    ('<a><set attributeName="href" to="javascript:open()"/></a>', "script"),
    ('<foreignObject><script xmlns="http://www.w3.org/1999/xhtml"/></foreignObject>', "script"),
    ('<image href="data:image/svg+xml;base64,PHNjcmlwdC8+"/>', "script"),
    ('<g ONLOAD="open()"/>', "handler"),
    ('<set onbegin="open()"/>', "handler"),
]


@pytest.mark.parametrize("inside", CALM)
def test_what_does_nothing_is_not_active(inside: str) -> None:
    assert find_active(read_source(page(PANEL, inside), "stage.svg")) == []


@pytest.mark.parametrize(("inside", "kind"), ACTIVE)
def test_what_acts_is_told_by_its_kind(inside: str, kind: str) -> None:
    active = find_active(read_source(page(PANEL, inside), "stage.svg"))
    assert [(one.kind, one.count) for one in active] == [(kind, 1)]
