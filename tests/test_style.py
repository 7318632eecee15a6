"""The cascade: CSS Cascade 4, section 6; Selectors 3; SVG 2, chapters 6 and 13."""

from __future__ import annotations

import colorsys
import html
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.drawing import Style
from matready.lint.reading.colours import parse_paint
from matready.lint.reading.declarations import media_applies, parse_style
from matready.lint.reading.walk import walk_tree
from matready.lint.source import read_source

SVG = 'xmlns="http://www.w3.org/2000/svg" width="100" height="100"'


def styles(inside: str) -> dict[str, Style]:
    """Style of every drawn element, by id."""
    walked = walk_tree(read_source(f"<svg {SVG}>{inside}</svg>".encode(), "stage.svg"))
    return {node.element.get("id", ""): node.style for node in walked.nodes}


def stroke(inside: str) -> str:
    return styles(inside)["x"].stroke


def notes(inside: str) -> list[str]:
    source = read_source(f"<svg {SVG}>{inside}</svg>".encode(), "stage.svg")
    return [text for _, text in walk_tree(source).notes]


def test_initial_values_are_those_of_svg() -> None:
    # SVG 2, chapter 13, property tables: fill black, stroke none, stroke-width 1px.
    style = styles('<path id="x" d="M0 0h9"/>')["x"]
    assert (style.fill, style.stroke, style.stroke_width) == ("#000000", "none", 1)
    assert style.dashes is None
    assert style.visible


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # CSS Color 4; SVG 2, chapter 13, "Specifying paint".
        ("red", "#ff0000"),
        ("ReBeccaPurple", "#663399"),
        ("#F0a", "#ff00aa"),
        ("#A1b2C3", "#a1b2c3"),
        ("#f0a8", "#ff00aa"),
        ("#f0a0", "none"),
        ("rgb(255, 0, 127)", "#ff007f"),
        ("rgb(100%, 0%, 50%)", "#ff0080"),
        ("rgb(300 -4 0 / 50%)", "#ff0000"),
        ("rgba(1,2,3,0)", "none"),
        ("hsl(120, 100%, 50%)", "#00ff00"),
        ("transparent", "none"),
        ("none", "none"),
        ("currentColor", "currentcolor"),
        ("url(#paper) red", "url"),
        ("#CD853F icc-color(acmecmyk, 0.11, 0.48)", "#cd853f"),
        ("oklch(70% .1 20)", "unknown-space"),
        ("#12", None),
        ("reddish", None),
        ("", None),
        ("rgb(", None),
        ("(" * 5000, None),
    ],
)
def test_paints_are_normalised(text: str, expected: str | None) -> None:
    assert parse_paint(text) == expected


@given(st.integers(0, 359), st.integers(0, 100), st.integers(0, 100))
def test_hsl_agrees_with_the_standard_library(hue: int, saturation: int, light: int) -> None:
    read = parse_paint(f"hsl({hue}, {saturation}%, {light}%)")
    parts = colorsys.hls_to_rgb(hue / 360, light / 100, saturation / 100)
    assert read is not None
    levels = [int(read[i : i + 2], 16) for i in (1, 3, 5)]
    assert levels == pytest.approx([part * 255 for part in parts], abs=0.51)


SHEET = """<style>
  path { stroke: #000001 } g path { stroke: #000002 } g > path { stroke: #000003 }
  .cut { stroke: #000004 } path.cut { stroke: #000005 } #x { stroke: #000006 }
</style>"""


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        # Weakest to strongest (SVG 2, chapter 6; CSS Cascade 4, 6.1; Selectors 3, 9).
        ('<path id="x" stroke="#00000a"/>', "#00000a"),
        ('<style>* { stroke: #000001 }</style><path id="x" stroke="#00000a"/>', "#000001"),
        ('<style>path{stroke:#000001}path{stroke:#000002}</style><path id="x"/>', "#000002"),
        (SHEET.replace("#x", "#y") + '<a><path id="x"/></a>', "#000001"),
        (SHEET.replace("#x", "#y") + '<g><a><path id="x"/></a></g>', "#000002"),
        (SHEET.replace("#x", "#y") + '<g><path id="x"/></g>', "#000003"),
        (SHEET.replace("#x", "#y") + '<g><rect id="x" class="a cut b"/></g>', "#000004"),
        (SHEET.replace("#x", "#y") + '<g><path id="x" class="a&#9;cut"/></g>', "#000005"),
        (SHEET + '<g><path id="x" class="cut"/></g>', "#000006"),
        (SHEET + '<path id="x" style="stroke:#00000b"/>', "#00000b"),
        ('<style>path{stroke:#000001!important}</style><path id="x" style="stroke:red"/>',
         "#000001"),
        (('<style>path{stroke:#000001!important}</style>'
         '<path id="x" style="stroke:#00000c ! IMPORTANT;stroke:red"/>'), "#00000c"),
        ("<style>.a,.b{stroke:#000001}</style><path id='x' class='b'/>", "#000001"),
        ("<style>[data-role='cut']{stroke:#000001}</style><path id='x' data-role='cut'/>",
         "#000001"),
        ("<style>[class~=a][id^=x]{stroke:#000001}</style><path id='x' class='b a'/>", "#000001"),
        ("<style>path:not(.a){stroke:#000001}</style><path id='x' class='b'/>", "#000001"),
        ("<style>path:nth-child(2){stroke:#000001}</style><path id='x'/>", "#000001"),
        ("<style>rect + path{stroke:#000001}</style><rect/><path id='x'/>", "#000001"),
        ("<style>rect ~ path{stroke:#000001}</style><rect/><a/><path id='x'/>", "#000001"),
        ("<style>path:hover{stroke:#000001}</style><path id='x'/>", "none"),
        ("<style>path::before{stroke:#000001}</style><path id='x'/>", "none"),
        ("<style>PATH{stroke:#000001}</style><path id='x'/>", "none"),
        ("<style>:root{stroke:#000001}</style><path id='x'/>", "#000001"),
        ("<style>/* path{ */path{/*;*/stroke:/**/#000001;;fill}</style><path id='x'/>", "#000001"),
        ("<style><![CDATA[a > path{stroke:#000001}]]></style><a><path id='x'/></a>", "#000001"),
        ("<style type='text/plain'>path{stroke:#000001}</style><path id='x'/>", "none"),
        # A declaration that cannot be read counts as absent (CSS 2.1, 4.2).
        ('<path id="x" stroke="#00000a" style="stroke:reddish"/>', "#00000a"),
        # CSS wide keywords (CSS Cascade 4, 7.3).
        ('<g stroke="#00000a"><path id="x" stroke="inherit"/></g>', "#00000a"),
        ('<g stroke="#00000a"><path id="x" style="stroke:initial"/></g>', "none"),
        ('<g stroke="#00000a"><path id="x" style="stroke:unset"/></g>', "#00000a"),
        # currentColor is inherited as such (CSS Color 4, "Resolving other colors").
        ('<g color="#00000a" stroke="currentColor"><path id="x"/></g>', "#00000a"),
        ('<g color="#00000a" stroke="currentColor"><path id="x" color="#00000b"/></g>', "#00000b"),
        ('<path id="x" stroke="url(#paper)"/>', "url"),
        ('<path id="x" stroke="red" stroke-opacity="0"/>', "none"),
        ('<path id="x" style="filter:url(a;b);stroke:#00000a"/>', "#00000a"),
        ("<path id=\"x\" style=\"content:';';stroke:#00000a\"/>", "#00000a"),
    ],
)  # fmt: skip
def test_the_strongest_declaration_wins(inside: str, expected: str) -> None:
    assert stroke(inside) == expected


@pytest.mark.parametrize(
    ("sheet", "applies"),
    [
        # Media Queries 4: a page is all and screen, not print; conditions are not evaluated.
        ("@media screen { path { stroke: #000001 } }", True),
        ("@media all, print { path { stroke: #000001 } }", True),
        ("@media only screen { path { stroke: #000001 } }", True),
        ("@media screen { @media all { path { stroke: #000001 } } }", True),
        ("@media print { path { stroke: #000001 } }", False),
        ("@media (prefers-color-scheme: dark) { path { stroke: #000001 } }", False),
    ],
)
def test_media_are_told_apart(sheet: str, applies: bool) -> None:
    inside = f"<style>{sheet}</style><path id='x'/>"
    assert (stroke(inside) == "#000001") is applies
    assert bool(notes(inside)) is ("dark" in sheet)


def test_media_attributes_count_too() -> None:
    assert stroke("<style media='print'>path{stroke:red}</style><path id='x'/>") == "none"
    assert media_applies("print, tv") is False
    assert media_applies("print, (min-width: 3px)") is None
    assert media_applies("(min-width: 3px), all") is True


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        ("@import url(a.css);", "@import"),
        ("@supports (display: grid) { path { stroke: red } }", "@supports"),
        ("path:twisted { stroke: red }", 'selector "path:twisted"'),
        ("[*|href] { stroke: red }", "selector"),
        ("a " * 2000 + "{ stroke: red }", "selector"),
        (":not(" * 2000, "nested"),
        ("path { stroke: var(--cut) }", "var()"),
        ("path { stroke: lab(50% 1 2) }", "black stands in its place"),
    ],
)
def test_what_is_not_applied_is_said(sheet: str, words: str) -> None:
    found = notes(f"<style>{sheet}</style><path id='x' d='M0 0h1'/>")
    assert len(found) == 1
    assert words in found[0]


def test_opacity_and_display_do_not_inherit_but_visibility_does() -> None:
    found = styles(
        '<g id="g" opacity="50%" visibility="hidden"><path id="x"/>'
        '<path id="y" visibility="visible"/></g>'
    )
    assert (found["g"].opacity, found["x"].opacity) == (0.5, 1)
    assert (found["x"].visible, found["y"].visible) == (False, True)


@pytest.mark.parametrize(
    ("attributes", "expected"),
    [
        # SVG 2, stroke-dasharray: lengths, percentages of the diagonal, odd lists repeated.
        ('stroke-dasharray="3 1"', (3, 1)),
        ('stroke-dasharray="3,1 , 2"', (3, 1, 2, 3, 1, 2)),
        ('stroke-dasharray="1mm 1em" font-size="10"', (3.7795276, 10)),
        ('stroke-dasharray="10%"', (10, 10)),
        ('style="stroke-dasharray: 3px, 1px"', (3, 1)),
        ('stroke-dasharray="none"', None),
        ('stroke-dasharray="0 0"', None),
        ('stroke-dasharray=""', None),
        ('stroke-dasharray="3 -1"', None),
        ('stroke-dasharray="dashed"', None),
    ],
)
def test_dashes(attributes: str, expected: tuple[float, ...] | None) -> None:
    found = styles(f'<path id="x" {attributes}/>')["x"].dashes
    assert found == (None if expected is None else pytest.approx(expected))


def test_dashes_and_widths_are_inherited_as_lengths() -> None:
    found = styles(
        '<g font-size="10" stroke-width="2em" stroke-dasharray="1em 5">'
        '<path id="x" font-size="50"/><path id="y" stroke-dasharray="none"/></g>'
    )
    assert found["x"].stroke_width == 20
    assert found["x"].dashes == (10, 5)
    assert found["y"].dashes is None


@pytest.mark.parametrize(
    ("size", "expected"),
    [("20", 20), ("150%", 15), ("2em", 20), ("1in", 96), ("larger", 12), ("medium", 16)],
)
def test_font_sizes_are_measured_by_the_parents(size: str, expected: float) -> None:
    inside = f'<g font-size="10"><path id="x" font-size="{size}" stroke-width="1em"/></g>'
    assert styles(inside)["x"].stroke_width == pytest.approx(expected)


def test_percentages_follow_the_viewport_in_which_they_are_used() -> None:
    # SVG 2, stroke-width with 8.9: a percentage is inherited as such.
    inside = (
        '<g stroke-width="10%"><path id="x"/>'
        '<svg width="10" height="10" viewBox="0 0 40 20"><path id="y"/></svg></g>'
    )
    found = styles(inside)
    assert found["x"].stroke_width == pytest.approx(10)
    assert found["y"].stroke_width == pytest.approx(3.1622777)


def test_equal_styles_are_one_object() -> None:
    found = styles('<path id="x" stroke="red"/><path id="y" style="stroke:#f00"/>')
    assert found["x"] is found["y"]


def test_rules_match_a_used_element_where_it_stands_and_inherit_from_the_use() -> None:
    # SVG 2, "The use-element shadow tree": rules match as for the referenced element, and what
    # inherits comes from the use.
    inside = (
        "<style>defs path{stroke-width:3} g path{stroke-width:9}</style>"
        '<defs stroke="blue"><path id="p" d="M0 0h9"/></defs>'
        '<g><use stroke="#00000a" href="#p"/></g>'
    )
    found = styles(inside)["p"]
    assert (found.stroke, found.stroke_width) == ("#00000a", 3)


DECLARATIONS = st.builds(
    "{}{}:{}{}{}".format,
    st.sampled_from(["", " ", "\n"]),
    st.sampled_from(["stroke", "FILL", "transform", "stroke-dasharray"]),
    st.sampled_from(["", " "]),
    st.sampled_from(["red", "#0a0", "url(#a;b)", "rotate(3deg)", "1px, 2px", "rgb(1 2 3 )"]),
    st.sampled_from(["", " ", " !important", "! IMPORTANT "]),
)


@given(st.lists(DECLARATIONS, max_size=5).map(";".join))
def test_style_attributes_read_the_same_with_and_without_the_parser(text: str) -> None:
    assert parse_style(text) == parse_style("/**/" + text)


def test_style_attributes_pass_over_what_is_no_declaration() -> None:
    expected = (("stroke", "red", False), ("fill", "none", False))
    assert parse_style("stroke:red;x;:y;;fill:none;") == expected


@given(st.text(alphabet="ab:;{}()[]'\"\\/*!@#.,> \n-+~1%<", max_size=60))
def test_any_css_is_read_without_complaint(text: str) -> None:
    escaped = html.escape(text)
    styles(f'<style>{escaped}</style><path id="x" style="{escaped}"/>')


def test_thousands_of_classed_elements_are_matched_at_once() -> None:
    # A guard against matching element by element, which would take several times as long.
    sheet = "".join(f".st{i} {{ fill: none; stroke: #0000{i:02x} }}" for i in range(40))
    paths = "".join(f'<path id="p{i}" class="st{i % 40} cut"/>' for i in range(10_000))
    source = read_source(
        f"<svg {SVG}><style>{sheet} g .cut {{ stroke: red }}</style>{paths}</svg>".encode(), "s"
    )
    start = time.process_time()
    nodes = walk_tree(source).nodes
    assert time.process_time() - start < 2.0
    assert nodes[-1].style.stroke == "#000027"
