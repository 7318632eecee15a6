"""Splices and start tags: what is not spliced stays byte for byte, in every encoding.

References: Python's own codecs for the bytes, and lxml (libxml2) for what an attribute's value is:
XML 1.0 (fifth edition), 2.4 and 3.3.3 for the escapes, 4.1 for character references.
"""

from __future__ import annotations

import codecs
import html
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from matready.lint.repair.refusal import Refused
from matready.lint.repair.splice import Copied, Made, Part, Splice, Spliced, removal, splice
from matready.lint.repair.tags import Tag, escaped, read_tag
from matready.lint.source import Source, read_source

ENCODINGS = ("utf-8", "utf-8 marked", "utf-16-le", "utf-16-be", "iso8859-1", "cp1252")
MARKS = {
    "utf-8 marked": codecs.BOM_UTF8,
    "utf-16-le": codecs.BOM_UTF16_LE,
    "utf-16-be": codecs.BOM_UTF16_BE,
}
# Letters of one, two, three and four bytes; the last two are in no encoding of one byte.
LETTERS = "ab <é&ß\n\"'>€幕🎭"
XMLNS = 'xmlns="http://www.w3.org/2000/svg"'


def _codec(encoding: str) -> str:
    return encoding.removesuffix(" marked")


def _encode(text: str, encoding: str) -> bytes:
    return text.encode(_codec(encoding), "xmlcharrefreplace")


def _head(encoding: str) -> str:
    """The beginning of a drawing that names its encoding."""
    name = {"cp1252": "windows-1252", "iso8859-1": "ISO-8859-1"}.get(encoding, encoding[:6].strip())
    return f'<?xml version="1.0" encoding="{name}"?>\r\n<svg {XMLNS}>'


def _file(text: str, encoding: str) -> bytes:
    """A drawing that holds this text, with a byte order mark where the encoding asks for one."""
    return MARKS.get(encoding, b"") + _encode(f"{_head(encoding)}{text}</svg>\r\n", encoding)


def _source(text: str, encoding: str = "utf-8") -> Source:
    return read_source(_file(text, encoding), "stage.svg")


@st.composite
def spliced_texts(draw: st.DrawFn) -> tuple[str, str, list[tuple[int, int, str]]]:
    """An encoding, a text, and stretches of it (in characters) with what replaces them."""
    encoding = draw(st.sampled_from(ENCODINGS))
    letters = [c for c in LETTERS if c not in "<&" and not _encode(c, encoding).startswith(b"&#")]
    text = "".join(draw(st.lists(st.sampled_from([*letters, "\r\n"]), min_size=1, max_size=40)))
    # All that is spliced begins and ends at a character of markup, which is ASCII.
    around = f"<{text}<"
    bounds = [n for n in range(len(text) + 1) if min(around[n : n + 2]) < "\x80"]
    places = sorted(draw(st.lists(st.sampled_from(bounds), max_size=8)))
    new = st.text(st.sampled_from(LETTERS), max_size=5)
    stretches = [(a, b, draw(new)) for a, b in zip(places[::2], places[1::2], strict=False)]
    return encoding, text, stretches


@settings(max_examples=400)
@given(spliced_texts())
def test_bytes_outside_of_splices_are_untouched(
    drawn: tuple[str, str, list[tuple[int, int, str]]],
) -> None:
    encoding, text, stretches = drawn
    source = _source(text, encoding)
    base = source.text.index(XMLNS.encode()) + len(XMLNS) + 1
    made = [
        Splice(base + len(text[:a].encode()), base + len(text[:b].encode()), (new,))
        for a, b, new in stretches
    ]
    expected, here = MARKS.get(encoding, b"") + _encode(_head(encoding), encoding), 0
    for a, b, new in stretches:
        expected += _encode(text[here:a], encoding) + _encode(new, encoding)
        here = b
    expected += _encode(f"{text[here:]}</svg>\r\n", encoding)
    found = splice(source, made)
    assert found.data == expected
    _check_origins(source, found)


def _check_origins(source: Source, found: Spliced) -> None:
    """Each character that came from the source is the one that stands there."""
    text = found.data[source.at(0) :].decode(source.encoding).encode()
    copied = 0
    for offset in range(len(text)):
        origin = found.origin(offset)
        if isinstance(origin, int):
            copied += 1
            assert source.text[origin] == text[offset]
    assert copied > len(XMLNS)


def test_what_an_encoding_lacks_is_written_as_a_reference() -> None:
    """XML 1.0, 4.1: a character reference stands for the character in any encoding."""
    source = _source("<title>é</title>", "iso8859-1")
    at = source.text.index(b"</title>")
    found = splice(source, [Splice(at, at, ("幕🎭ü",))])
    assert b"\xe9&#24149;&#127917;\xfc</title>" in found.data
    assert etree.fromstring(found.data)[0].text == "é幕🎭ü"


def test_a_stretch_that_is_moved_takes_its_own_splices_along() -> None:
    source = _source('<g id="a"/><g id="b"/>')
    text = source.text
    a, b = text.index(b'<g id="a"'), text.index(b'<g id="b"')
    value = text.index(b'"a"') + 1
    found = splice(
        source,
        [
            Splice(a, a + 11, ()),
            Splice(b + 11, b + 11, ("<!-- ", Copied(a, a + 11), " -->")),
            Splice(value, value + 1, ("wing",)),
        ],
    )
    assert b'><g id="b"/><!-- <g id="wing"/> --></svg>' in found.data
    at = found.data.index(b'<g id="wing')
    assert found.origin(at) == a
    assert found.origin(at + 8) is None, "new text comes from nowhere"


@pytest.mark.parametrize("at", [0, 11])
def test_a_stretch_may_be_put_where_it_begins_or_ends(at: int) -> None:
    source = _source('<g id="a"/><g id="b"/>')
    a = source.text.index(b'<g id="a"')
    moved = Splice(a + at, a + at, ("<x>", Copied(a, a + 11), "</x>"))
    found = splice(source, [moved, Splice(a, a + 11, ())])
    assert b'><x><g id="a"/></x><g id="b"/></svg>' in found.data


def test_a_made_tag_is_known_again() -> None:
    source = _source('<g id="a"/>')
    at = source.text.index(b"<g ")
    made = Made("<g>")
    found = splice(source, [Splice(at, at, (made,)), Splice(at + 11, at + 11, ("</g>",))])
    assert b'><g><g id="a"/></g></svg>' in found.data
    assert found.origin(at) is made
    assert found.origin(at + 2) is made
    assert found.origin(at + 3) == at


def test_of_several_insertions_at_one_place_the_first_given_comes_first() -> None:
    source = _source("<g/>")
    at = source.text.index(b"<g/>")
    parts: Sequence[tuple[Part, ...]] = (("1",), ("2",), ("3",))
    found = splice(source, [*(Splice(at, at, one) for one in parts), Splice(at, at + 4, ("4",))])
    assert b">1234</svg>" in found.data


# Removal


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("<g>\n  <path/>\n</g>", "<g>\n</g>"),
        ("<g>\r\n\t<path/>\r\n</g>", "<g>\r\n</g>"),
        ("<g>\n  <path/> \n</g>", "<g>\n   \n</g>"),
        ("<g>\n  <path/><!-- it -->\n</g>", "<g>\n  <!-- it -->\n</g>"),
        ("<g>\n  <a/> <path/>\n</g>", "<g>\n  <a/> \n</g>"),
        ("<g><path/></g>", "<g></g>"),
        ("<g>\n\n<path/>\n\n</g>", "<g>\n\n\n</g>"),
        ("<g>\n  <path>\n  </path>\n</g>", "<g>\n</g>"),
    ],
)
def test_a_removed_element_takes_its_own_line_and_no_other(before: str, after: str) -> None:
    source = _source(before)
    element = next(source.root.iter("{*}path"))
    start, _, end = source.text_span(element)
    found = splice(source, [removal(source.text, start, end)])
    assert found.data == _file(after, "utf-8")


# Tags

TAGS = [
    '<path d="M0 0" id="a"/>',
    "<path\n\td = 'M0 0'\n  id\t=\"a\"\n/>",
    '<path d=\'a>b\' id="a" title="it\'s"></path>',
    '<path d="&amp;&lt;&gt;" id="a" s:label="&#x5e55;&quot;"  ></path  >',
    '<s:path d="1" s:id="other" id="a"><s:path/></s:path>',
    '<path id="a"/>',
    "<path/>",
    '<path xmlns:q="urn:q" q:d="not this" d=""/>',
]
VALUES = ["", "M 1 1", "a&b", "a<b>c", "it's", 'say "wing"', "&amp;", "幕"]


def _tag(text: str) -> tuple[Source, Tag]:
    source = read_source(
        f'<svg {XMLNS} xmlns:s="http://www.w3.org/2000/svg">{text}</svg>'.encode(), "stage.svg"
    )
    return source, read_tag(source, source.root[0])


def _attributes(data: bytes, child: int = 0) -> dict[str, str]:
    return {str(k): str(v) for k, v in etree.fromstring(data)[child].attrib.items()}


@pytest.mark.parametrize("text", TAGS)
def test_a_tag_is_read_as_the_xml_reader_reads_it(text: str) -> None:
    source, tag = _tag(text)
    element = source.root[0]
    assert tag.name == text[1:].split()[0].split("/")[0].split(">")[0]
    assert tag.empty == ("</" not in text)
    names = {name.rpartition(":")[2] for name in tag.attributes if not name.startswith("xmlns")}
    assert names == {str(key).rpartition("}")[2] for key in element.attrib}
    for name in tag.attributes:
        if ":" not in name:
            assert html.unescape(tag.raw(name) or "") == element.get(name)


@pytest.mark.parametrize("value", VALUES)
@pytest.mark.parametrize("text", TAGS)
def test_an_attribute_that_is_set_reads_as_it_was_given(text: str, value: str) -> None:
    source, tag = _tag(text)
    expected = {**_attributes(source.data), "d": value}
    found = splice(source, [tag.set("d", value)])
    assert _attributes(found.data) == expected
    if "d" in tag.attributes:
        at = tag.attributes["d"]
        assert found.data[: at.value_start] == source.data[: at.value_start]
        assert found.data.endswith(source.data[at.value_end :])


@pytest.mark.parametrize("text", TAGS)
def test_attributes_that_are_dropped_are_gone_and_the_others_stay(text: str) -> None:
    source, tag = _tag(text)
    for name in tag.attributes:
        if name.startswith("xmlns"):
            continue
        before = _attributes(source.data)
        after = _attributes(splice(source, [tag.drop(name)]).data)
        gone = before.keys() - after.keys()
        assert {str(key).rpartition("}")[2] for key in gone} == {name.rpartition(":")[2]}
        assert all(before[key] == value for key, value in after.items())


@pytest.mark.parametrize("text", TAGS)
def test_a_tag_that_is_renamed_keeps_prefix_and_content(text: str) -> None:
    source, tag = _tag(text)
    copy = splice(source, tag.rename("polygon")).data
    before, after = source.root[0], etree.fromstring(copy)[0]
    assert str(after.tag) == str(before.tag).replace("path", "polygon")
    assert after.prefix == before.prefix
    assert _attributes(copy) == _attributes(source.data)
    assert [str(child.tag) for child in after] == [str(child.tag) for child in before]


@pytest.mark.parametrize("value", VALUES)
@pytest.mark.parametrize("text", TAGS)
def test_a_tag_written_once_more_has_the_same_attributes(text: str, value: str) -> None:
    source, tag = _tag(text)
    again = tag.again({"id"}, {"d": value, "data-name": value}, close=True)
    at = len(source.data) - len("</svg>")
    copy = splice(source, [Splice(at, at, (again,))]).data
    expected = {k: v for k, v in _attributes(source.data).items() if k != "id"}
    assert _attributes(copy, 1) == {**expected, "d": value, "data-name": value}
    root = etree.fromstring(copy)
    assert root[1].tag == root[0].tag
    assert len(root[1]) == 0


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cn"]), max_size=20))
def test_what_is_escaped_reads_as_it_was(value: str) -> None:
    for quote in "\"'":
        text = f"<g a={quote}{escaped(value, quote)}{quote}/>"
        assert etree.fromstring(text.encode()).get("a") == value


def test_an_element_out_of_an_entity_has_no_tag() -> None:
    text = f"<!DOCTYPE svg [<!ENTITY p '<path {XMLNS}/>'>]><svg {XMLNS}>&p;</svg>"
    source = read_source(text.encode(), "stage.svg")
    with pytest.raises(Refused, match="cannot be told"):
        read_tag(source, source.root[0])
