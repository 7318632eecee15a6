"""The word of a fix that cannot be made."""

from __future__ import annotations


class Refused(Exception):
    """A fix that cannot be made honestly; its text is one plain clause."""
