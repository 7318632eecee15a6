"""Patterns of paths, by which settings name drawings: * in one folder, ** through any number."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fnmatch import fnmatchcase
from pathlib import Path

_DRIVE = re.compile(r"[A-Za-z]:")


def fault_of(pattern: str) -> str:
    """What is wrong with a pattern, as what it must be; empty where nothing is."""
    steps = pattern.split("/")
    if not pattern.strip():
        return 'must not be empty: write "**" for all files'
    if "\\" in pattern:
        return "must have / between folders, as on every system"
    if pattern.startswith("/") or _DRIVE.match(pattern):
        return "must be a path from this file's folder on"
    if ".." in steps or "." in steps:
        return "must lead down from this file's folder, without . and .."
    if "" in steps:
        return 'must name a folder or file between slashes: "wings/**" is all below wings'
    if any("**" in step and step != "**" for step in steps):
        return 'must have ** alone between slashes, as in "wings/**/*.svg"'
    return ""


def steps_to(path: Path, folder: Path) -> tuple[str, ...]:
    """The names that lead from a folder to a path, both absolute.

    A path that lies elsewhere is given whole, so that patterns which begin with ** alone meet it.
    """
    return (path.relative_to(folder) if path.is_relative_to(folder) else path).parts


def fits(pattern: str, names: Sequence[str]) -> bool:
    """Whether a pattern matches all of a path, step by step; ** is any number of folders."""
    reached = {0}
    for step in pattern.split("/"):
        if step == "**":
            reached = set(range(min(reached), len(names) + 1))
        else:
            reached = {k + 1 for k in reached if k < len(names) and fnmatchcase(names[k], step)}
        if not reached:
            return False
    return len(names) in reached
