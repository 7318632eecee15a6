"""Bytes of an SVG file to a tree whose every element knows where it stands in those bytes.

Nothing outside the given bytes is ever opened: no network, no document type files, no external
entities. Entities that the file itself defines are read; ones that blow up are refused.
"""

from __future__ import annotations

import errno
import gzip
import re
import stat
import zlib
from bisect import bisect_right
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from xml.parsers import expat

from lxml import etree

from matready.lint.encodings import UnknownEncoding, detect_encoding, spell_in_utf8
from matready.lint.misnamed import nothing_at
from matready.lint.mistaken import mistaken_for

# Both limits keep a small hostile file from filling the memory; a real sheet stays far below.
MAX_BYTES = 200_000_000
PACKED = b"\x1f\x8b"  # what gzip begins with: RFC 1952, 2.3.1
MAX_PARTS = 8_000_000  # tags and attributes
MAX_DEPTH = 256  # the XML reader's own limit, kept where that one is lifted

_START_TAG = re.compile(rb"""<[^>"']*(?:"[^"]*"[^>"']*|'[^']*'[^>"']*)*>""")
_LINE_END = re.compile(rb"\r\n?|\n")
_XML_11 = re.compile(rb"^(\xef\xbb\xbf)?(<\?xml\s+version\s*=\s*[\"'])1\.1")


class Unreadable(Exception):
    """A file that cannot be read; its text is one plain sentence without the file's name."""


@dataclass(frozen=True, slots=True)
class Span:
    """Where an element stands in `Source.data`, as byte offsets.

    The start tag is [start, tag_end), the whole element [start, end). `line` and `column` count
    from 1 and say where the start tag begins; columns are characters. An element that an entity
    brought in has the span of the reference (`&name;`). Where the bytes cannot be told, start,
    tag_end and end are equal: the beginning of the line on which the start tag ends.
    """

    start: int
    tag_end: int
    end: int
    line: int
    column: int


@dataclass(frozen=True, eq=False)
class Source:
    """One SVG file: its bytes (after gunzip) and its tree.

    `name` is the file's name as shown to the user; `encoding` a codec name that text spliced into
    `data` has to be written in. Byte spans are worked out on the first question, once a file.
    """

    name: str
    data: bytes
    root: etree._Element
    encoding: str
    text: bytes  # data spelled in UTF-8; the same object where the file is UTF-8

    def span(self, element: etree._Element) -> Span:
        """Where the element stands in `data`."""
        start, tag_end, end = self.text_span(element)
        line, column = self.line_and_column(start)
        return Span(self.at(start), self.at(tag_end), self.at(end), line, column)

    def line_and_column(self, offset: int) -> tuple[int, int]:
        """The line and the column of an offset in `text`, counted as in a Span."""
        line = bisect_right(self._line_starts, offset)
        before = self.text[self._line_starts[line - 1] : offset].decode("utf-8")
        return line, len(before.removeprefix("\ufeff")) + 1

    def text_span(self, element: etree._Element) -> tuple[int, int, int]:
        """Start, end of the start tag, and end of the element in `text`; all equal if unknown."""
        order, starts, ends = self._spans
        index = order[element]
        if index >= len(starts):
            at = self._line_only(element)
            return at, at, at
        start = starts[index]
        if self.text[start : start + 1] == b"&":
            tag_end = end = self.text.index(b";", start) + 1
        else:
            tag_end = self._tag_end(start)
            empty = self.text[tag_end - 2 : tag_end] == b"/>"
            end = tag_end if empty else self.text.index(b">", ends[index]) + 1
        return start, tag_end, end

    def position(self, element: etree._Element) -> str:
        """The way to the element, "/svg/g[1]/path[3]": local names, counted from 1."""
        steps = []
        while (parent := element.getparent()) is not None:
            steps.append(f"{local_name(element)}[{self._numbers[element]}]")
            element = parent
        return "/".join(["", local_name(element), *reversed(steps)])

    def _tag_end(self, start: int) -> int:
        found = _START_TAG.match(self.text, start)
        return found.end() if found else start

    def _line_only(self, element: etree._Element) -> int:
        line = min(max(int(getattr(element, "sourceline", None) or 1), 1), len(self._line_starts))
        return self._line_starts[line - 1]

    @cached_property
    def _spans(self) -> tuple[dict[etree._Element, int], list[int], list[int]]:
        order = {element: index for index, element in enumerate(self.root.iter("*"))}
        starts, ends = _scan(self.text)
        if len(starts) != len(order):  # the two readers disagree: better no byte than a wrong one
            return order, [], []
        return order, starts, ends

    @cached_property
    def _line_starts(self) -> list[int]:
        return [0, *(found.end() for found in _LINE_END.finditer(self.text))]

    @cached_property
    def _numbers(self) -> dict[etree._Element, int]:
        numbers = {}
        for parent in self.root.iter("*"):
            counts: dict[str, int] = {}
            for child in parent.iterchildren("*"):
                name = local_name(child)
                numbers[child] = counts[name] = counts.get(name, 0) + 1
        return numbers

    @cached_property
    def _steps(self) -> tuple[list[int], list[int], int]:
        return spell_in_utf8(self.data, self.encoding).steps()

    def at(self, offset: int) -> int:
        """From an offset in `text` to the one in `data`; never inside a character."""
        if self.text is self.data:
            return offset
        in_text, in_data, width = self._steps
        index = bisect_right(in_text, offset) - 1
        return in_data[index] + (offset - in_text[index]) * width


def local_name(element: etree._Element) -> str:
    """An element's name without its namespace."""
    return str(element.tag).rpartition("}")[2]


def read_file(path: Path) -> Source:
    """Read one file from disk; raises Unreadable, also for folders and what cannot be opened."""
    return read_source(bytes_of(path), str(path))


def bytes_of(path: Path) -> bytes:
    """A file's bytes as they stand on the disk, packed or not; raises Unreadable."""
    try:
        about = path.stat()
        if stat.S_ISDIR(about.st_mode):
            raise Unreadable("this is a folder, not a file; give the files in it another place")
        if not stat.S_ISREG(about.st_mode):
            raise Unreadable("this is a device or pipe, not a file; save the drawing as a file")
        if about.st_size > MAX_BYTES:
            raise Unreadable(_too_large())
        return path.read_bytes()
    except FileNotFoundError:
        raise Unreadable(_not_there(path)) from None
    except PermissionError:
        raise Unreadable("you may not read this file; change its permissions") from None
    except (OSError, ValueError) as error:
        if getattr(error, "errno", None) == errno.ELOOP:
            raise Unreadable("this is a link that leads in a circle; remove it") from None
        reason = getattr(error, "strerror", None) or "bad name"
        raise Unreadable(f"the file cannot be opened ({reason}); copy it elsewhere") from None


def _not_there(path: Path) -> str:
    """Why a path leads to no file, though the file system had an entry for a link."""
    try:
        target = path.readlink()
    except OSError:  # no link at all, as almost always
        return nothing_at(path)
    return f"this is a link to {target}, which is not there; put that back, or remove the link"


def read_source(data: bytes, name: str) -> Source:
    """Read an SVG file's bytes, gzip or not; raises Unreadable."""
    if data.startswith(PACKED):
        data = _gunzip(data)
    if len(data) > MAX_BYTES:
        raise Unreadable(_too_large())
    if not data.strip(b" \t\r\n\0\xef\xbb\xbf\xff\xfe"):
        raise Unreadable("the file is empty; export the drawing again as SVG")
    if mistaken := mistaken_for(data, name):
        raise Unreadable(mistaken)
    try:
        encoding = detect_encoding(data)
        text = data if encoding == "utf-8" else spell_in_utf8(data, encoding).text.encode("utf-8")
    except UnknownEncoding as error:
        raise Unreadable(str(error)) from None
    if text.count(b"<") + text.count(b"=") > MAX_PARTS:
        raise Unreadable(_too_large())
    root = _parse(text)
    if local_name(root) != "svg":
        raise Unreadable(
            f"this is XML but not SVG (it begins with <{local_name(root)}>); "
            "export the drawing as SVG"
        )
    return Source(name, data, root, encoding, text)


def _too_large() -> str:
    return "the file is far too large for a cut file; take embedded pictures out and simplify it"


def _gunzip(data: bytes) -> bytes:
    import io

    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as unpacked:
            return unpacked.read(MAX_BYTES + 1)
    except (OSError, EOFError, zlib.error):
        raise Unreadable(
            "the compressed file is damaged or cut short; save or download it again"
        ) from None


def _parse(text: bytes) -> etree._Element:
    defines_entities = b"<!ENTITY" in text
    if defines_entities:
        _refuse_external_entities(text)
    try:
        return etree.fromstring(text, _parser(huge=False))
    except etree.XMLSyntaxError as error:
        # The reader's guard against bombs also stops a large embedded picture. Without entities
        # there is no bomb, and the depth it no longer watches is checked here.
        limited = "XML_PARSE_HUGE" in str(error.msg) and "depth" not in str(error.msg)
        if defines_entities or not limited:
            raise Unreadable(_explain(error, text)) from None
    try:
        root = etree.fromstring(text, _parser(huge=True))
    except etree.XMLSyntaxError as error:
        raise Unreadable(_explain(error, text)) from None
    if _deeper_than(root, MAX_DEPTH):
        raise Unreadable(_too_deep())
    return root


def _parser(*, huge: bool) -> etree.XMLParser:
    # The encoding is given because the text has been spelled in UTF-8, whatever it declares.
    # Entities: lxml 5 and later resolve those that the file defines, and no others, unasked.
    # (collect_ids=False is not set: as a side effect it loads the document type file.)
    return etree.XMLParser(
        encoding="utf-8",
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=huge,
    )


def _deeper_than(root: etree._Element, depth: int) -> bool:
    level = [root]
    for _ in range(depth):
        level = [child for element in level for child in element.iterchildren("*")]
    return bool(level)


class _End(Exception):
    """Stops expat: the document type declaration is over."""


def _refuse_external_entities(text: bytes) -> None:
    external: list[str] = []

    def declared(name: str, _parameter: bool, _value: object, _base: object, system: object,
                 _public: object, _notation: object) -> None:  # fmt: skip
        if system is not None:
            external.append(name)

    def over(*_: object) -> None:
        raise _End

    parser = expat.ParserCreate("utf-8")
    parser.EntityDeclHandler = declared
    parser.EndDoctypeDeclHandler = over
    parser.StartElementHandler = over
    # What is not well-formed the real reader says, with its reason.
    with suppress(_End, expat.ExpatError):
        parser.Parse(_as_xml_10(text), True)
    if external:
        raise Unreadable(
            f'the file asks for another file through its entity "{external[0]}", '
            "which is never opened; export the drawing as plain SVG"
        )


def _scan(text: bytes) -> tuple[list[int], list[int]]:
    """Offsets of all start tags in document order, and of what ends each element.

    Elements count in the same order as in lxml's tree. Both lists are empty where expat does not
    read what lxml reads.
    """
    parser = expat.ParserCreate("utf-8")
    starts: list[int] = []
    ends: list[int] = []
    unfinished: list[int] = []

    def start(_name: str, _attributes: object) -> None:
        unfinished.append(len(starts))
        starts.append(parser.CurrentByteIndex)
        ends.append(0)

    def end(_name: str) -> None:
        ends[unfinished.pop()] = parser.CurrentByteIndex

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    try:
        parser.Parse(_as_xml_10(text), True)
    except expat.ExpatError:
        return [], []
    return starts, ends


def _as_xml_10(text: bytes) -> bytes:
    """The same bytes with version 1.0: expat knows no 1.1, and drawings use nothing of it."""
    return _XML_11.sub(rb"\g<1>\g<2>1.0", text, count=1)


def _too_deep() -> str:
    return f"groups are nested more than {MAX_DEPTH} deep; ungroup the drawing and export it again"


def _explain(error: etree.XMLSyntaxError, text: bytes) -> str:
    """What is wrong with the file, for somebody who does not read XML."""
    body = text.removeprefix(b"\xef\xbb\xbf").strip()
    message = str(error.msg)
    where = f"line {error.lineno}"
    if not body.startswith(b"<"):
        return "this is not an SVG file (no < at its beginning); export the drawing as SVG"
    if "depth" in message:
        return _too_deep()
    if "amplification" in message or "entity reference loop" in message:
        return "its entities unfold without end, as in a hostile file; export it as plain SVG"
    return _explain_code(getattr(error, "code", 0), message, where, body)


def _explain_code(code: int, message: str, where: str, body: bytes) -> str:
    quoted = message.split("'")
    if code in (26, 27) and len(quoted) > 2:
        return f"{where} uses &{quoted[1]}; without saying what it is; export the drawing again"
    if code == 5:
        return f"{where}: there is something after the closing </svg>; delete what follows it"
    if code == 64:
        return f"{where}: there is something before the <?xml ... ?>; delete what precedes it"
    if code in (9, 81):
        return f"{where} holds bytes that are no text in the file's encoding; save it as UTF-8"
    if code == 201:
        prefix = message.removeprefix("Namespace prefix ").split(" ")[0]
        return f'{where} uses "{prefix}:" without saying xmlns:{prefix}=...; export it again as SVG'
    if code == 77 or not body.endswith(b">"):
        return f"the file breaks off at {where}; save or download it again"
    plain = re.sub(r", line \d+, column \d+$", "", message).strip()
    return f"{where} is not well-formed XML ({plain}); export the drawing again as SVG"
