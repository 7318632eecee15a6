"""Reading bytes: encodings, spans, and what is refused.

Well-formedness, encodings and entities: W3C XML 1.0 (fifth edition), sections 2.8, 4.2, 4.3.3 and
appendix F. Spans are checked against the XML reader itself: the bytes they name must parse alone.
"""

from __future__ import annotations

import gzip
import os
import re
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from matready.lint import source as source_module
from matready.lint.repair.refusal import Refused
from matready.lint.repair.tags import read_tag
from matready.lint.source import Source, Unreadable, read_file, read_source

HOSTILE = Path(__file__).parent.parent / "fixtures" / "hostile"
SVG = "http://www.w3.org/2000/svg"

# What each refused file must be told about, in words.
REFUSED = {
    "blank.svg": "empty",
    "breaks-off-between-elements.svg": "breaks off at line 5",
    "breaks-off-in-a-tag.svg": "breaks off at line 3",
    "crossed-tags.svg": "line 4 is not well-formed XML",
    "cut-short.svgz": "damaged or cut short",
    "empty.svg": "empty",
    "entity-bomb.svg": "unfold without end",
    "entity-of-itself.svg": "unfold without end",
    "external-entity-unused.svg": 'entity "prompt", which is never opened',
    "external-entity.svg": 'entity "prompt", which is never opened',
    "external-parameter-entity.svg": 'entity "prompt", which is never opened',
    "picture.svg": "this is a PNG picture under an SVG file's name; it has no lines to cut",
    "plain-words.svg": "not an SVG file",
    "two-roots.svg": "something after the closing </svg>",
    "undefined-entity.svg": "line 2 uses &nbsp;",
    "undefined-prefix.svg": 'line 4 uses "xlink:"',
    "unknown-encoding.svg": '"x-stage-9"',
    "web-page.svg": "begins with <html>",
    "words-before-the-declaration.svg": "something before the <?xml",
    "wrong-bytes.svg": "line 2 holds bytes",
}
# Read here, refused by the drawing's reader (tests/test_reading.py).
REFUSED_LATER = {"use-multiplies.svg"}
READ = sorted({path.name for path in HOSTILE.iterdir()} - REFUSED.keys() - REFUSED_LATER)


def is_one_plain_sentence(text: str) -> bool:
    return (
        20 < len(text) < 250
        and "\n" not in text
        and "Traceback" not in text
        and not text.endswith(".")
    )


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_hostile_files_are_refused_with_one_plain_sentence(name: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read_file(HOSTILE / name)
    assert REFUSED[name] in str(refused.value)
    assert is_one_plain_sentence(str(refused.value))


@pytest.mark.parametrize("name", READ)
def test_strange_but_sound_files_are_read_and_their_spans_hold(name: str) -> None:
    source = read_file(HOSTILE / name)
    for element in source.root.iter("*"):
        assert_span_is_the_element(source, element)
    door = next(e for e in source.root.iter("*") if e.get("id") == "door")
    span = source.span(door)
    text = source.data[: span.start].decode(source.encoding).removeprefix("\ufeff")
    assert span.line == len(text.splitlines() if text.endswith("\n") else text.split("\n"))
    assert source.data[span.start : span.end].decode(source.encoding).count("<") == 1
    width = _value_span(source, door, "width")
    assert width is not None
    assert source.data[width[0] : width[1]].decode(source.encoding) == "30"


def _value_span(source: Source, element: etree._Element, name: str) -> tuple[int, int] | None:
    """Where an attribute's value stands in the bytes, between its quotes."""
    found = read_tag(source, element).attributes.get(name)
    return None if found is None else (source.at(found.value_start), source.at(found.value_end))


def assert_span_is_the_element(source: Source, element: etree._Element) -> None:
    """The bytes of the span, put into a root with the same prefixes, parse as that element."""
    span = source.span(element)
    assert 0 <= span.start < span.tag_end <= span.end <= len(source.data)
    assert source.data[: span.tag_end].decode(source.encoding).endswith(">")
    text = source.data[span.start : span.end].decode(source.encoding)
    entities = "".join(re.findall("<!ENTITY[^>]*>", source.text.decode("utf-8")))
    prefixes = "".join(
        f' xmlns{":" + prefix if prefix else ""}="{uri}"' for prefix, uri in element.nsmap.items()
    )
    wrapped = f"<!DOCTYPE r [{entities}]><r{prefixes}>{text}</r>"
    copy = etree.fromstring(wrapped.encode("utf-8"))[0]
    assert shape_of(copy) == shape_of(element)


def shape_of(element: etree._Element) -> tuple[object, ...]:
    """Everything an element says, comments and processing instructions in it too."""
    inside = tuple((shape_of(child), child.tail or "") for child in element)
    attributes = sorted(map(str, element.items()))
    return str(element.tag), attributes, element.text or "", inside


def test_nothing_outside_the_file_is_asked_for(tmp_path: Path) -> None:
    asked = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()

        def log_request(self, *_: object) -> None:
            """Stay silent."""

    secret = tmp_path / "secret.dtd"
    secret.write_text('<!ENTITY out "SECRET"><!ATTLIST svg secret CDATA "SECRET">')
    server = HTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        for place in (str(secret), secret.as_uri(), f"http://127.0.0.1:{server.server_port}/a"):
            for subset in ("", '[<!ENTITY a "b">]', f'[<!ENTITY a SYSTEM "{place}">]'):
                for use in ("", "&a;", "&out;"):
                    text = f'<!DOCTYPE svg SYSTEM "{place}" {subset}><svg d="{use}">{use}</svg>'
                    try:
                        root = read_source(text.encode(), "stage.svg").root
                    except Unreadable:
                        continue
                    assert b"SECRET" not in etree.tostring(root)
    finally:
        server.shutdown()
        server.server_close()
    assert asked == []


def test_the_plain_document_type_of_svg_1_1_is_no_reason_to_refuse() -> None:
    # SVG 1.1 (second edition), appendix A.1 and 5.1.1: the document type drawings carry.
    text = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
        f'<svg xmlns="{SVG}"/>'
    )
    assert read_source(text.encode(), "stage.svg").root.tag == f"{{{SVG}}}svg"


def test_entities_that_the_file_defines_reach_attributes_text_and_elements() -> None:
    # XML 1.0, 4.4: internal entities are included.
    text = (
        '<!DOCTYPE svg [<!ENTITY red "stroke:red"><!ENTITY arch "<g/><path d=\'M0 0\'/>">]>'
        '<svg style="&red;">&arch;<a/>&arch;</svg>'
    )
    source = read_source(text.encode(), "stage.svg")
    root = source.root
    assert root.get("style") == "stroke:red"
    assert [child.tag for child in root] == ["g", "path", "a", "g", "path"]
    spans = [source.span(child) for child in root]
    read = [text[span.start : span.end] for span in spans]
    assert read == ["&arch;", "&arch;", "<a/>", "&arch;", "&arch;"]
    with pytest.raises(Refused):
        read_tag(source, root[1])
    style = _value_span(source, root, "style")
    assert style is not None
    assert text[slice(*style)] == "&red;"


@pytest.mark.parametrize(("depth", "fits"), [(256, True), (257, False), (5000, False)])
def test_nesting_deeper_than_256_is_refused(depth: int, fits: bool) -> None:
    data = b"<svg>" + b"<g>" * (depth - 1) + b"</g>" * (depth - 1) + b"</svg>"
    if fits:
        assert read_source(data, "stage.svg").root.tag == "svg"
        return
    with pytest.raises(Unreadable, match="more than 256 deep"):
        read_source(data, "stage.svg")


def test_a_large_picture_in_an_attribute_is_read_but_lifts_no_other_guard() -> None:
    picture = b'<image href="' + b"A" * 11_000_000 + b'"/>'
    source = read_source(b"<svg>" + picture + b"</svg>", "stage.svg")
    assert source.span(source.root[0]).end == 5 + len(picture)
    deep = b"<svg>" + picture + b"<g>" * 300 + b"</g>" * 300 + b"</svg>"
    with pytest.raises(Unreadable, match="more than 256 deep"):
        read_source(deep, "stage.svg")


def test_size_is_limited_before_and_after_unpacking(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source_module, "MAX_BYTES", 1000)
    with pytest.raises(Unreadable, match="far too large"):
        read_source(b"<svg>" + b" " * 1000 + b"</svg>", "stage.svg")
    with pytest.raises(Unreadable, match="far too large"):
        read_source(gzip.compress(b"<svg>" + b" " * 100_000 + b"</svg>"), "stage.svgz")
    monkeypatch.setattr(source_module, "MAX_PARTS", 10)
    with pytest.raises(Unreadable, match="far too large"):
        read_source(b"<svg>" + b"<g/>" * 11 + b"</svg>", "stage.svg")


def test_what_is_no_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "stage.svg"
    folder.mkdir()
    pipe = tmp_path / "pipe.svg"
    os.mkfifo(pipe)
    locked = tmp_path / "locked.svg"
    locked.write_text("<svg/>")
    dangling, circle = tmp_path / "door.svg", tmp_path / "circle.svg"
    dangling.symlink_to("gone.svg")
    circle.symlink_to(circle)
    cases = [
        (dangling, "a link to gone.svg, which is not there"),
        (circle, "a link that leads in a circle"),
        (folder, "a folder"),
        (pipe, "pipe"),
        (tmp_path / "no.svg", "no such file"),
        (tmp_path / "\0.svg", "cannot be opened"),
        (locked / "x.svg", "cannot be opened"),
    ]
    for path, words in cases:
        with pytest.raises(Unreadable, match=words) as refused:
            read_file(path)
        assert is_one_plain_sentence(str(refused.value))

    # The tests may run as an administrator, whom no permission stops.
    def may_not(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", may_not)
    with pytest.raises(Unreadable, match="permissions"):
        read_file(locked)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("my theatre/footlight.svg", '; the nearest name there is "foot lights.svg"'),
        ("my theatre/foot lights", '; the nearest name there is "foot lights.svg"'),
        ("mytheatre/foot lights.svg", '; the nearest name there is "my theatre"'),
        ("my theatre/*.svg", "; in quotes * and ? are no more than signs, so name the folder"),
        # A drawing is meant, never a text beside it or a hidden file; no name is much like these.
        ("my theatre/notes", "; check the name and the folder"),
        ("my theatre/moon.svg", "; check the name and the folder"),
    ],
)
def test_where_there_is_no_file_the_name_that_was_meant_is_told(
    tmp_path: Path, typed: str, told: str
) -> None:
    folder = tmp_path / "my theatre"
    folder.mkdir()
    for name in ("foot lights.svg", "notes.txt", ".moon.svg"):
        (folder / name).write_text("<svg/>")
    with pytest.raises(Unreadable) as refused:
        read_file(tmp_path / typed)
    assert str(refused.value).startswith(f"there is no such file{told}")
    assert is_one_plain_sentence(str(refused.value))


@pytest.mark.parametrize(
    ("begins", "told"),
    # How each begins: ISO 32000-1 (7.5.2), PostScript DSC 3.0 (3.1), PNG (5.2), JPEG (B.1.1.3),
    # GIF89a (17), TIFF 6.0 (2), RFC 9649 (2.4) of WebP, and PKWARE's note on zip (4.3.7).
    [
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", "a PDF document{}; open it in a drawing program"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "a PostScript file{}; open it in a drawing program"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\r", "a PNG picture{}; it has no lines to cut"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "a JPEG picture{}; it has no lines to cut"),
        (b"GIF89a\x01\0\x01\0", "a GIF picture{}; it has no lines to cut"),
        (b"II*\0\x08\0\0\0", "a TIFF picture{}; it has no lines to cut"),
        (b"RIFF\x24\0\0\0WEBPVP8 ", "a WebP picture{}; it has no lines to cut"),
        (b"PK\x03\x04\x14\0", "a zip archive{}; unpack it"),
    ],
)
def test_a_file_of_another_kind_is_called_what_it_is(begins: bytes, told: str) -> None:
    for name, disguise in (("door.SVG", " under an SVG file's name"), ("door.pdf", ""), ("-", "")):
        with pytest.raises(Unreadable) as refused:
            read_source(begins, name)
        assert str(refused.value).startswith(f"this is {told.format(disguise)}")
        assert is_one_plain_sentence(str(refused.value))


def test_positions_count_among_siblings_of_the_same_name() -> None:
    source = read_source(
        b'<svg xmlns:s="urn:s"><g/><s:g/><!-- g --><path/><g><path/><path/></g></svg>', "stage.svg"
    )
    assert [source.position(e) for e in source.root.iter("*")] == [
        "/svg",
        "/svg/g[1]",
        "/svg/g[2]",
        "/svg/path[1]",
        "/svg/g[3]",
        "/svg/g[3]/path[1]",
        "/svg/g[3]/path[2]",
    ]


def test_lines_are_where_a_tag_begins_and_columns_are_characters() -> None:
    # XML 1.0, 2.11: CR LF, LF and CR alone each end one line.
    text = "\ufeff<svg>\r\n<!-- ä\r\n<g> -->\r<g\n\n a='1'/>🎭é<path/></svg>"
    for encoding in ("utf-8", "utf-16-le", "utf-16-be"):
        source = read_source(text.encode(encoding), "stage.svg")
        places = [(s.line, s.column) for s in map(source.span, source.root.iter("*"))]
        assert places == [(1, 1), (4, 1), (6, 11)]


def test_attribute_spans_tell_prefixes_quotes_and_lookalikes_apart() -> None:
    text = (
        '<svg xmlns:x="http://www.w3.org/1999/xlink"><use id = "d=\'1\'" x:href=\'#a"b\'\n'
        '  data-d="2" d="3>" href="" xml:space="preserve"/></svg>'
    )
    source = read_source(text.encode(), "stage.svg")
    use = source.root[0]

    def value(name: str) -> str | None:
        span = _value_span(source, use, name)
        return None if span is None else text[slice(*span)]

    assert value("id") == "d='1'"
    assert value("x:href") == '#a"b'
    assert value("href") == ""
    assert value("d") == "3>"
    assert value("data-d") == "2"
    assert value("xml:space") == "preserve"
    assert value("x") is None


# -- properties

NAMES = st.sampled_from(["g", "path", "a", "stage:prop", "circle"])
VALUES = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=8)
TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=6)
ENCODINGS = st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])


def quoted(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&#34;")


@st.composite
def elements(draw: st.DrawFn, depth: int = 3) -> str:
    """One element written as oddly as XML allows."""
    name = draw(NAMES)
    space = st.sampled_from([" ", "\n", "\r\n ", "\t"])
    attributes = "".join(
        f'{draw(space)}{key}{draw(st.sampled_from(["=", " = "]))}"{quoted(draw(VALUES))}"'
        for key in draw(st.lists(st.sampled_from(["d", "id", "x", "stage:d"]), unique=True))
    )
    gap = draw(st.sampled_from(["", " ", "\n"]))
    if depth == 0 or draw(st.booleans()):
        return f"<{name}{attributes}{gap}/>"
    inside = "".join(
        draw(
            st.one_of(
                elements(depth - 1),
                TEXTS.map(lambda t: quoted(t).replace(">", "&gt;")),
                st.just("<!-- <g> -->"),
                st.just("<![CDATA[</g><path>]]>"),
                st.just("<?prompt <g>?>"),
            )
        )
        for _ in range(draw(st.integers(0, 3)))
    )
    return f"<{name}{attributes}{gap}>{inside}</{name}{gap}>"


@given(st.lists(elements(), max_size=4), ENCODINGS)
def test_the_bytes_of_every_span_parse_as_that_element(parts: list[str], encoding: str) -> None:
    text = (
        "<!-- <svg> --><!DOCTYPE svg>\r\n"
        f'<svg xmlns="{SVG}" xmlns:stage="urn:stage">{"".join(parts)}</svg>\n'
    )
    source = read_source(text.encode(encoding), "stage.svg")
    for element in source.root.iter("*"):
        assert_span_is_the_element(source, element)
        span = source.span(element)
        prefixes = {uri: prefix for prefix, uri in element.nsmap.items()}
        for name, value in element.items():
            uri, brace, local = str(name).removeprefix("{").rpartition("}")
            spelled = f"{prefixes[uri]}:{local}" if brace else local
            place = _value_span(source, element, spelled)
            assert place is not None
            assert span.start < place[0] <= place[1] < span.tag_end
            written = source.data[place[0] : place[1]].decode(source.encoding)
            assert etree.fromstring(f'<a b="{written}"/>').get("b") == value


@pytest.mark.parametrize("encoding", ["iso-8859-1", "windows-1252", "koi8-r", "shift_jis", "gbk"])
def test_spans_hold_in_every_declared_encoding(encoding: str) -> None:
    letters = {"koi8-r": "Сцена", "shift_jis": "舞台", "gbk": "舞台"}.get(encoding, "Bühne")
    text = (
        f'<?xml version="1.0" encoding="{encoding}"?>\r\n'
        f'<svg><title>{letters}</title><g id="{letters}" d="1"/>{letters}<path d="2"/></svg>'
    )
    source = read_source(text.encode(encoding), "stage.svg")
    assert source.root[1].get("id") == letters
    for element in source.root.iter("*"):
        assert_span_is_the_element(source, element)
    place = _value_span(source, source.root[2], "d")
    assert place is not None
    assert source.data[slice(*place)] == b"2"


@given(
    st.one_of(
        st.binary(max_size=200),
        st.text(alphabet="<svg/>&;!\"'= ab-?[]\0\ufeff", max_size=60).map(str.encode),
        st.binary(max_size=60).map(lambda noise: b"<svg>" + noise + b"</svg>"),
        st.binary(max_size=60).map(lambda noise: b"\x1f\x8b\x08" + noise),
    )
)
def test_any_bytes_are_a_source_or_one_plain_sentence(data: bytes) -> None:
    try:
        source = read_source(data, "stage.svg")
    except Unreadable as refused:
        assert is_one_plain_sentence(str(refused))
        return
    for element in source.root.iter("*"):
        assert source.span(element).line >= 1
