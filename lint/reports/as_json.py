"""The report as JSON, for scripts: the shape that `--format json` promises."""

from __future__ import annotations

import json

import msgspec


def as_json(report: msgspec.Struct) -> bytes:
    """Encode a report as UTF-8, indented by two spaces, closed by a line end."""
    try:
        text = msgspec.json.format(msgspec.json.encode(report), indent=2)
    except UnicodeEncodeError:
        # A file name that is not text (its bytes are not UTF-8) is kept by escapes, as Python
        # itself keeps it (PEP 383), so that a script can still find the file.
        text = json.dumps(msgspec.to_builtins(report), indent=2).encode()
    return text + b"\n"
