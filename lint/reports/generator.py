"""What a page of ours says of its maker, so that no page of anyone else's is ever written over."""

from __future__ import annotations

import re

HEAD_BYTES = 1024
"""The maker stands so near the beginning of a page."""

# The standard name for it: HTML, "Standard metadata names".
_OURS = re.compile(rb'<meta name="generator" content="matready [^"<>]*">')


def generator() -> str:
    """The program and its version; no date, so that one run writes what the other wrote."""
    from importlib.metadata import version  # slow to load, and only a page asks for it

    return f"matready {version('matready')}"


def is_ours(start: bytes) -> bool:
    """Whether a page that begins so was written by this program, in whatever version."""
    return _OURS.search(start[:HEAD_BYTES]) is not None
