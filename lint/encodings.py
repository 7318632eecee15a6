"""Which encoding a file is written in, and its text spelled in UTF-8 with a way back."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),  # before UTF-16, whose mark it begins with
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# XML 1.0, appendix F.1: how "<" and the character after it look without a byte order mark.
_UNMARKED = (
    (re.compile(rb"<\0\0\0"), "utf-32-le"),
    (re.compile(rb"\0\0\0<"), "utf-32-be"),
    (re.compile(rb"<\0[^\0]\0"), "utf-16-le"),
    (re.compile(rb"\0<\0[^\0]"), "utf-16-be"),
)
_DECLARED = re.compile(rb"""\s*<\?xml[^>]*?\sencoding\s*=\s*["']([A-Za-z][A-Za-z0-9._:-]*)["']""")
# Text encodings in which each character has one spelling, whatever stands before it.
_KNOWN = re.compile(r"iso8859|latin|cp\d|koi8|mac|tis|hp-roman|shift_jis|euc|gb|big5|johab|ptcp")


class UnknownEncoding(Exception):
    """The text cannot be decoded; the message is one plain sentence."""


@dataclass(frozen=True, slots=True)
class Spelled:
    """A file's text without its byte order mark, and what is needed to find its bytes again."""

    text: str
    encoding: str
    mark: int  # length of the byte order mark

    def steps(self) -> tuple[list[int], list[int], int]:
        """Offsets in the UTF-8 spelling, the same places in the file, bytes a plain character.

        A place follows every character outside ASCII; between two places both offsets grow
        evenly, by one and by that many bytes a character.
        """
        width = len("a".encode(self.encoding))
        in_text, in_data = [0], [self.mark]
        last = 0
        for found in re.finditer(r"[^\0-\x7f]+", self.text):
            plain = found.start() - last
            last = found.end()
            in_text.append(in_text[-1] + plain + len(found[0].encode("utf-8")))
            in_data.append(in_data[-1] + plain * width + len(found[0].encode(self.encoding)))
        return in_text, in_data, width


def detect_encoding(data: bytes) -> str:
    """Codec name of an XML file: by its byte order mark, its first bytes, or its declaration.

    Raises UnknownEncoding for a declaration nobody here can read.
    """
    for mark, name in _BOMS:
        if data.startswith(mark):
            return name
    for pattern, name in _UNMARKED:
        if pattern.match(data):
            return name
    found = _DECLARED.match(data[:400])
    if found is None:
        return "utf-8"
    declared = found[1].decode("ascii")
    try:
        name = codecs.lookup(declared).name
    except LookupError:
        name = ""
    if name in ("utf-8", "ascii") or name.startswith(("utf-16", "utf-32")):
        return "utf-8"  # the first bytes have just shown that it is not UTF-16
    if not _KNOWN.match(name):
        raise UnknownEncoding(
            f'the file says it is written in "{declared}", which is not known here; '
            "save it as UTF-8"
        )
    return name


def spell_in_utf8(data: bytes, encoding: str) -> Spelled:
    """Decode the file; raises UnknownEncoding where a byte means nothing in its encoding."""
    expected = {name: mark for mark, name in _BOMS}.get(encoding, b"")
    mark = len(expected) if data.startswith(expected) else 0
    try:
        return Spelled(data[mark:].decode(encoding), encoding, mark)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UnknownEncoding(
            f"line {line} holds bytes that are no text in the file's encoding; save it as UTF-8"
        ) from None
