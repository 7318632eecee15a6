"""Files of other kinds that are taken for drawings: told by how they begin, with what to do."""

from __future__ import annotations

from matready.lint.folders import SUFFIXES

_TRACE = "it has no lines to cut: trace it in a drawing program and export that as SVG"
_EXPORT = "open it in a drawing program and export it as SVG"
# How a file begins (what its format says), what it is, and what to do with it.
_KINDS = (
    (b"%PDF", "a PDF document", _EXPORT),
    (b"%!PS", "a PostScript file", _EXPORT),
    (b"PK\x03\x04", "a zip archive", "unpack it, and name the drawings that were in it"),
    (b"\x89PNG", "a PNG picture", _TRACE),
    (b"\xff\xd8\xff", "a JPEG picture", _TRACE),
    (b"GIF8", "a GIF picture", _TRACE),
    (b"II*\0", "a TIFF picture", _TRACE),
    (b"MM\0*", "a TIFF picture", _TRACE),
)
_WEBP = (b"RIFF", b"WEBP")  # with the length of the file between them


def mistaken_for(data: bytes, name: str) -> str | None:
    """What a file is that is known to be no SVG, in one sentence; None for any other.

    `name` is its own: where that is an SVG's, the sentence says that this is not true.
    """
    body = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:12]
    kinds = [(kind, advice) for magic, kind, advice in _KINDS if body.startswith(magic)]
    if (body[:4], body[8:]) == _WEBP:
        kinds.append(("a WebP picture", _TRACE))
    if not kinds:
        return None
    kind, advice = kinds[0]
    disguise = " under an SVG file's name" if name.lower().endswith(SUFFIXES) else ""
    return f"this is {kind}{disguise}; {advice}"
