"""Pieces without a name are given titles, as SVG 2, 5.7 has them, and not a pixel changes.

References: lxml reads the titles back by XPath; resvg, through resvg_py 0.5, draws both files.
"""

from __future__ import annotations

import pytest
from lxml import etree

from matready.lint.repair import repair
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

from tests.corpus import mixed
from tests.drawn import CUT, FOLD, page
from tests.spoiling.reading import png

NAMING = Settings(only=frozenset({"nameless-piece"}))
TITLES = "//*[local-name() = 'title']"


def _named(data: bytes) -> bytes:
    return repair(data, "drawing.svg", RULES, NAMING).data


def _titles(data: bytes) -> list[str]:
    found = etree.fromstring(data).xpath(f"{TITLES}/text()")
    assert isinstance(found, list)
    return [str(text) for text in found]


SPELLINGS = {
    "empty": f'<rect x="10" y="10" width="40" height="30" {CUT}/>',
    "empty with a space": f'<rect x="10" y="10" width="40" height="30" {CUT} />',
    "not empty": f'<rect x="10" y="10" width="40" height="30" {CUT}></rect>',
    "on lines of its own": f'<g\n>\n  <path d="M10 10h40v30h-40z"\n {CUT}\n/>\n</g>',
    "in a group": f'<g><path d="M10 10h40v30h-40z" {CUT}/><path d="M20 10v30" {FOLD}/></g>',
    "with a title that says nothing": f'<path d="M10 10h40v30h-40z" {CUT}><title>path7</title>'
    "</path>",
    "in a file with a prefix": '<s:rect xmlns:s="http://www.w3.org/2000/svg" x="10" y="10" '
    f'width="40" height="30" {CUT}/>',
}


@pytest.mark.parametrize("piece", SPELLINGS.values(), ids=SPELLINGS.keys())
def test_a_title_is_written_into_the_piece_or_its_group(piece: str) -> None:
    data = page(piece, f'<circle id="moon" cx="100" cy="100" r="20" {CUT}/>')
    copy = _named(data)
    assert _titles(copy) == ["piece 1, 40 × 30 mm"]
    first = etree.fromstring(copy).xpath("/*/*[1]/*[1]/self::*[local-name() = 'title']")
    assert isinstance(first, list)
    assert len(first) == 1, "the title is the first child: SVG 1.1, 5.4"
    assert png(copy) == png(data)
    assert _named(copy) == copy
    report = lint_bytes(copy, "x.svg", RULES, NAMING)
    assert [piece.name for piece in report.pieces] == ["piece 1, 40 × 30 mm", "moon"]
    assert report.findings == ()


def test_style_rules_that_count_children_go_on_as_they_did() -> None:
    style = "<style>g > :first-child { fill: red }</style>"
    piece = f'<path d="M{{}} 10h40v30h-40z" {CUT}/><path d="M{{}} 20h10v10h-10z" {CUT}/>'
    groups = [f"<g>{piece.format(x, x + 10)}</g>" for x in (10, 80)]
    data = page(style, *groups)
    copy = _named(data)
    assert len(_titles(copy)) == 2
    assert png(copy) == png(data)


@pytest.mark.parametrize("file", mixed(60), ids=lambda file: file.name)
def test_real_files_look_the_same_with_titles(file) -> None:  # type: ignore[no-untyped-def]
    copy = _named(file.data)
    assert copy == file.data or len(_titles(copy)) > len(_titles(file.data))
    assert png(copy) == png(file.data)
    assert _named(copy) == copy
