"""What a file looks like around its elements: encodings, line ends, quotes, blanks, entities."""

from __future__ import annotations

import codecs
import gzip
import re
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

ENCODINGS = ("utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-be", "latin-1", "windows-1252")

_TRAPS = (
    "<!-- <path d='M0 0'/> </g> -->",
    '<!-- old: id="door-1" stroke="red" > -->',
    "<?keep <g> ?>",
    "<!-- Vorhang -->",
)


@dataclass(frozen=True)
class Dress:
    """How one file is dressed. `doctype` is the document type with the file's entities, or ""."""

    encoding: str
    lines: str
    indent: str
    quotes: str
    blanks: str
    prefixed: bool
    packed: bool
    remarks: bool
    references: bool
    umlauts: bool
    cdata: bool

    def over(self, text: str) -> str:
        """Dress one stretch of the file's text."""
        if self.prefixed:
            text = re.sub(r"<(/?)(?=[a-z])", r"<\1svg:", text)
            text = text.replace("xmlns=", "xmlns:svg=", 1) if "<svg:svg" in text else text
        if self.indent != "  ":
            text = re.sub(r"(?m)^(?:  )+", lambda m: self.indent * (len(m[0]) // 2), text)
        if self.blanks == "around":
            text = re.sub(r'(\s[\w:-]+)="', r'\1 = "', text)
            text = re.sub(r"(?<![?\s-])/>", "\n/>", text)
        elif self.blanks == "within":
            text = re.sub(r"(</[\w:]+)>", r"\1 >", text)
        if self.quotes == "'" and "'" not in text:
            text = text.replace('"', "'")
        if self.lines == "":
            return re.sub(r">\s+<", "><", text)
        return text.replace("\n", self.lines)

    def remark(self, elements: str, rng: Random) -> str:
        """Put comments that look like elements between the strip's elements."""
        if not self.remarks:
            return elements
        rows = elements.split("\n")
        starts = [i for i, row in enumerate(rows) if re.match(r"\s*<(?!/)", row)]
        for at in sorted(rng.sample(starts, min(3, len(starts))), reverse=True):
            rows.insert(at, rng.choice(_TRAPS))
        return "\n".join(rows)

    def refer(self, elements: str, rng: Random) -> str:
        """Write single characters of attributes as references."""
        if not self.references:
            return elements
        spell: list[Callable[[str], str]] = [
            lambda c: f"&#{ord(c)};",
            lambda c: f"&#x{ord(c):x};",
        ]

        def one(found: re.Match[str]) -> str:
            value = found[2]
            at = rng.randrange(len(value))
            if value[at] in "&;<\n" or "&" in value:
                return found[0]
            return f"{found[1]}{value[:at]}{rng.choice(spell)(value[at])}{value[at + 1 :]}"

        return re.sub(r'(\s(?:d|points|id|class|stroke)=")([^"]+)', one, elements)

    def file(self, head: str, *stretches: str, entities: dict[str, str]) -> bytes:
        """The bytes of the whole file."""
        name = {"utf-8-sig": "utf-8", "utf-16-be": "utf-16", "latin-1": "iso-8859-1"}
        parts = []
        if self.encoding not in ("utf-8", "utf-8-sig"):
            parts.append(
                f'<?xml version="1.0" encoding="{name.get(self.encoding, self.encoding)}"?>'
            )
        if entities:
            told = "".join(f'\n  <!ENTITY {key} "{value}">' for key, value in entities.items())
            root = "svg:svg" if self.prefixed else "svg"
            parts.append(f"<!DOCTYPE {root} [{told}\n]>")
        parts.append(head)
        end = self.lines or "\n"
        text = end.join(parts) + end + end.join(filter(None, stretches))
        mark = codecs.BOM_UTF16_BE if self.encoding == "utf-16-be" else b""
        data = mark + text.encode(self.encoding)
        return gzip.compress(data, mtime=0) if self.packed else data


def any_dress(rng: Random, styled: bool) -> Dress:
    """A random dress; `styled`: the file has a style sheet, which stays as it is."""
    return Dress(
        encoding=rng.choice(ENCODINGS),
        lines=rng.choice(["\n", "\n", "\n", "\r\n", "\r", ""]),
        indent=rng.choice(["  ", "  ", "\t", "    ", ""]),
        quotes=rng.choice(['"', '"', "'"]),
        blanks=rng.choice(["plain", "plain", "around", "within"]),
        prefixed=not styled and rng.random() < 0.1,
        packed=rng.random() < 0.12,
        remarks=rng.random() < 0.3,
        references=rng.random() < 0.15,
        umlauts=rng.random() < 0.3,
        cdata=rng.random() < 0.4,
    )
