"""Settings as plain data, what each rule gets of them, and which settings file counts."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, NamedTuple

from matready.lint.finding import Severity
from matready.lint.rule import Limit, Rule
from matready.lint.sheets.papers import OnMat, Paper
from matready.lint.stocks import CARD_200, Stock

if TYPE_CHECKING:
    from matready.lint.settings_file import SettingsFile

FILE_NAME = "matready.toml"
FAIL_ON = ("fault", "caution", "tidy", "never")
ROLES = ("cut", "score", "draw")
SCORES = ("perforated", "scored")


class BadSettings(Exception):
    """Settings that cannot be used; str() is one sentence: the file, the key, and what is wrong."""


@dataclass(frozen=True, slots=True)
class Distances:
    """The distances that several rules share, all in mm: `[distances]`."""

    join_mm: Annotated[
        float,
        Limit("mm", "ends this near are one point", "one step of a plotter: HP-GL, 0.025 mm"),
    ] = 0.025
    hairline_mm: Annotated[
        float,
        Limit(
            "mm",
            "a gap this small was not meant",
            "twice the usual offset of a drag blade, 0.25 mm: common practice, no source",
        ),
    ] = 0.5
    same_place_mm: Annotated[
        float,
        Limit("mm", "lines this near are one line to the blade", "two plotter steps: HP-GL"),
    ] = 0.05
    flatten_mm: Annotated[
        float,
        Limit("mm", "curves are followed within this distance", "under half a plotter step: HP-GL"),
    ] = 0.01


@dataclass(frozen=True, slots=True)
class Reading:
    """How cut, score and draw are told apart beside what is built in: `[read]`.

    Words are looked for in ids, labels, layer names and classes. Colours are "#rrggbb". `dashes` is
    what a dash-styled line means; None leaves it to the built-in meaning. `scores` tells how the
    machine makes them: cut through, dash by dash, or pressed in or cut part of the way.
    """

    cut_words: tuple[str, ...] = ()
    score_words: tuple[str, ...] = ()
    draw_words: tuple[str, ...] = ()
    cut_colours: tuple[str, ...] = ()
    score_colours: tuple[str, ...] = ()
    draw_colours: tuple[str, ...] = ()
    dashes: Literal["cut", "score", "draw"] | None = None
    scores: Literal["perforated", "scored"] = "perforated"


@dataclass(frozen=True)
class Settings:
    """All settings of a file. Plain data, so that it can be sent to another process.

    `mat` is width and height in mm. `stocks` are the user's own stocks by name. `only` holds the
    rules to run, empty for all of them; `skip` those to leave out. `rules` maps a rule's name to
    its limits by name, and "severity". `papers` and `on_mat` are for `sheets`.
    """

    distances: Distances = Distances()
    read: Reading = Reading()
    mat: tuple[float, float] | None = None
    stock: Stock = CARD_200
    stocks: Mapping[str, Stock] = field(default_factory=dict)
    skip: frozenset[str] = frozenset()
    only: frozenset[str] = frozenset()
    fail_on: str = "caution"
    rules: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    papers: tuple[Paper, ...] = ()
    on_mat: OnMat = field(default_factory=OnMat)

    def wants(self, rule: Rule) -> bool:
        """Whether the rule is to run."""
        return rule.name not in self.skip and (not self.only or rule.name in self.only)

    def limits(self, rule: Rule) -> Any:
        """The limits to hand to the rule.

        Its own `[rules.NAME]` comes first, then what follows from the stock, then its defaults.
        """
        own = dict(self.rules.get(rule.name, {}))
        own.pop("severity", None)
        stock = {name: getattr(self.stock, of) for name, of in _from_stock(rule)}
        return rule.limits(**{**stock, **own})

    def severity(self, rule: Rule) -> Severity | None:
        """The severity set for the rule, None where its own holds."""
        own = self.rules.get(rule.name, {}).get("severity")
        return None if own is None else Severity(own)


class InForce(NamedTuple):
    """What holds in a folder for files that no [[files]] of its settings file matches.

    `written_in` is the settings file, None where there is none; `for_some` tells that it has
    [[files]].
    """

    settings: Settings
    written_in: str | None = None
    for_some: bool = False


@cache
def _from_stock(rule: Rule) -> tuple[tuple[str, str], ...]:
    """Names of the limits that follow from the stock, each with the field of Stock."""
    numbers = rule.described_limits().items()
    return tuple((name, limit.stock) for name, (_, limit) in numbers if limit.stock)


class SettingsFinder:
    """Finds and reads the settings of each file: the nearest `matready.toml` at or above it.

    `explicit` is a settings file to use for all files instead; it is read at once. `amend` is given
    each Settings once and returns what is used in its place, to lay options of a command over it.
    """

    def __init__(
        self,
        explicit: Path | None,
        rules: Sequence[Rule],
        amend: Callable[[Settings], Settings] | None = None,
    ) -> None:
        self._rules = tuple(rules)
        self._amend = amend or (lambda settings: settings)
        self._for_all = None if explicit is None else self._load(explicit, str(explicit))
        self._by_folder: dict[Path, SettingsFile | None] = {}
        self._default: Settings | None = None

    def for_file(self, path: Path) -> Settings:
        """The settings that hold for the file at `path`; raises BadSettings."""
        # abspath takes ".." out and leaves links alone: the folder as the user named it counts.
        whole = Path(os.path.abspath(path))  # noqa: PTH100
        found = self._found(whole.parent)
        return self._plain() if found is None else found.for_file(whole)

    def for_folder(self, folder: Path) -> InForce:
        """What holds in a folder, and where that is written; raises BadSettings."""
        found = self._found(Path(os.path.abspath(folder)))  # noqa: PTH100
        if found is None:
            return InForce(self._plain())
        return InForce(found.for_all, found.shown, found.for_some)

    def _plain(self) -> Settings:
        """The settings where there is no file."""
        if self._default is None:
            self._default = self._amend(Settings())
        return self._default

    def _found(self, folder: Path) -> SettingsFile | None:
        if self._for_all is not None:
            return self._for_all
        if folder not in self._by_folder:
            self._search(folder)
        return self._by_folder[folder]

    def _search(self, start: Path) -> None:
        """Look in `start` and above it, and keep the answer for each folder passed on the way."""
        passed = []
        found = None
        for folder in (start, *start.parents):
            if folder in self._by_folder:
                found = self._by_folder[folder]
                break
            passed.append(folder)
            path = folder / FILE_NAME
            if _is_there(path):
                found = self._load(path, shown_path(path))
                break
        self._by_folder.update(dict.fromkeys(passed, found))

    def _load(self, path: Path, shown: str) -> SettingsFile:
        from matready.lint.settings_file import SettingsFile  # most runs have no settings file

        return SettingsFile(path, shown, self._rules, self._amend)


def _is_there(path: Path) -> bool:
    try:
        path.stat()
    except OSError:
        return False
    return True


def shown_path(path: Path) -> str:
    """The path from the folder we are in where it lies below, else in full."""
    here = Path.cwd()
    return str(path.relative_to(here)) if path.is_relative_to(here) else str(path)
