"""Settings: what `matready.toml` says, checked key by key, and which file of that name counts.

Anything unknown, of the wrong type or impossible is refused with one sentence: a setting that is
quietly left out would be taken for one that works.
"""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal, cast

from matready.lint.finding import Severity
from matready.lint.rule import Limit, Rule
from matready.lint.sizes import nearest, parse_size

FILE_NAME = "matready.toml"
FAIL_ON = ("fault", "caution", "tidy", "never")
ROLES = ("cut", "score", "draw")
SCORES = ("perforated", "scored")

# SVG 2 asks a reader for single precision only, whose step on a page of 12 in is 0.00003 mm; a
# distance below this one would tell nothing but rounding.
_LEAST_MM = 0.0001


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

    `mat` is width and height in mm. `only` holds the rules to run, empty for all of them; `skip`
    those to leave out. `rules` maps a rule's name to its limits by name, and "severity".
    """

    distances: Distances = Distances()
    read: Reading = Reading()
    mat: tuple[float, float] | None = None
    skip: frozenset[str] = frozenset()
    only: frozenset[str] = frozenset()
    fail_on: str = "caution"
    rules: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def limits(self, rule: Rule) -> Any:
        """The limits to hand to the rule: its defaults, with what is set here put over them."""
        own = self.rules.get(rule.name, {})
        return rule.limits(**{name: value for name, value in own.items() if name != "severity"})

    def severity(self, rule: Rule) -> Severity | None:
        """The severity set for the rule, None where its own holds."""
        own = self.rules.get(rule.name, {}).get("severity")
        return None if own is None else Severity(own)


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
        self._default = self._amend(Settings())
        self._by_folder: dict[Path, Settings] = {}

    def for_file(self, path: Path) -> Settings:
        """The settings that hold for the file at `path`; raises BadSettings."""
        if self._for_all is not None:
            return self._for_all
        # abspath takes ".." out and leaves links alone: the folder as the user named it counts.
        folder = Path(os.path.abspath(path)).parent  # noqa: PTH100
        if folder not in self._by_folder:
            self._search(folder)
        return self._by_folder[folder]

    def _search(self, start: Path) -> None:
        """Look in `start` and above it, and keep the answer for each folder passed on the way."""
        passed = []
        found = self._default
        for folder in (start, *start.parents):
            if folder in self._by_folder:
                found = self._by_folder[folder]
                break
            passed.append(folder)
            path = folder / FILE_NAME
            if _is_there(path):
                found = self._load(path, _shown(path))
                break
        self._by_folder.update(dict.fromkeys(passed, found))

    def _load(self, path: Path, shown: str) -> Settings:
        return self._amend(_settings_of(_read_toml(path, shown), shown, self._rules))


def _bad(shown: str, problem: str) -> BadSettings:
    """The error, on one line whatever the file's keys and values hold."""
    text = f"{shown}: {problem}"
    return BadSettings("".join(c if c.isprintable() else " " for c in text))


def _is_there(path: Path) -> bool:
    try:
        path.stat()
    except OSError:
        return False
    return True


def _shown(path: Path) -> str:
    """The path from the folder we are in where it lies below, else in full."""
    here = Path.cwd()
    return str(path.relative_to(here)) if path.is_relative_to(here) else str(path)


def _read_toml(path: Path, shown: str) -> dict[str, Any]:
    import tomllib  # most runs have no settings file

    try:
        # A byte order mark, which some editors write, is no part of the text.
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except FileNotFoundError:
        raise _bad(shown, "there is no such settings file; check its name") from None
    except IsADirectoryError:
        raise _bad(shown, "this is a folder, not a settings file") from None
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise _bad(shown, f"this settings file could not be opened ({reason})") from None
    except UnicodeDecodeError:
        raise _bad(shown, "this is not text in UTF-8; save it as UTF-8") from None
    except RecursionError:
        raise _bad(shown, "this is not TOML: lists or tables nest too deep") from None
    except tomllib.TOMLDecodeError as error:
        what = str(error)
        raise _bad(shown, f"this is not TOML: {what[:1].lower()}{what[1:]}") from None
    except ValueError:  # int() gives up after some thousand digits
        raise _bad(shown, "this cannot be read: a number has too many digits") from None


class _Table:
    """One table of the settings file; whatever is wrong in it becomes a BadSettings."""

    def __init__(self, shown: str, name: str, values: object, known: Iterable[str]) -> None:
        self.shown = shown
        self.where = f" under [{name}]" if name else ""
        if not isinstance(values, dict):
            raise _bad(shown, f'"{name}" must be a table: write [{name}] above its keys')
        self.values: dict[str, Any] = values
        self.known = tuple(known)
        for key in self.values:
            if key not in self.known:
                raise _bad(shown, f'unknown key "{key}"{self.where}; {self._advice(key)}')

    def _advice(self, key: str) -> str:
        home = _HOMES.get(key)
        if home is not None and key not in self.known:
            return f"it belongs {home}"
        near = nearest(key[:60], self.known)
        return f'the nearest known key is "{near}"' if near else "no key is known here"

    def fail(self, key: str, problem: str) -> BadSettings:
        """The error to raise about a key of this table."""
        return _bad(self.shown, f"{key}{self.where} {problem}")

    def length(self, key: str, default: float) -> float:
        """A distance in mm."""
        value: float = self.number(key, default)
        if value < _LEAST_MM:
            raise self.fail(key, f"must be at least {_LEAST_MM} mm, not {_told(value)}")
        return value

    def number(self, key: str, default: float) -> Any:
        """A finite number, not negative, of the default's type; an integer does for a float."""
        value = self.values.get(key, default)
        kinds = (int,) if isinstance(default, int) else (int, float)
        if isinstance(value, bool) or not isinstance(value, kinds):
            what = "a whole number" if isinstance(default, int) else "a number"
            raise self.fail(key, f"must be {what}, not {_told(value)}")
        # The bound keeps float() from overflowing on endless digits; infinity and NaN fail it too.
        if not 0 <= value < 1e9:
            raise self.fail(key, f"must be between 0 and 1,000,000,000, not {_told(value)}")
        return type(default)(value)

    def choice(self, key: str, allowed: Sequence[str]) -> str | None:
        """One of the allowed words, None where the key is not set."""
        if key not in self.values:
            return None
        value = self.values[key]
        if not isinstance(value, str) or value not in allowed:
            listed = ", ".join(allowed[:-1]) + " or " + allowed[-1]
            raise self.fail(key, f"must be {listed}, not {_told(value)}")
        return value

    def words(self, key: str) -> tuple[str, ...]:
        """A list of texts, each with a letter or digit in it: no other could ever be found."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(map(_is_word, value)):
            raise self.fail(key, f'must be a list of words, such as ["a", "b"], not {_told(value)}')
        return tuple(word.strip() for word in value)


def _is_word(value: object) -> bool:
    return isinstance(value, str) and any(character.isalnum() for character in value)


def _told(value: object) -> str:
    """A value as the user wrote it, more or less, cut short where it is long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value)
    except ValueError:  # a whole number written in hex may have more digits than str() will write
        text = "a number of so many digits"
    return text if len(text) <= 60 else text[:57] + "..."


_DISTANCES = tuple(entry.name for entry in dataclasses.fields(Distances))
_READ = (
    *(f"{role}-words" for role in ROLES),
    *(f"{role}-colours" for role in ROLES),
    "dashes",
    "scores",
)
_TOP = ("distances", "read", "rules", "mat", "skip", "fail-on")
# TOML puts a key that follows a [table] into that table; say where it should have stood.
_HOMES = {
    **dict.fromkeys(_DISTANCES, "under [distances]"),
    **dict.fromkeys(_READ, "under [read]"),
    **dict.fromkeys(("mat", "skip", "fail-on"), "at the top of the file, above the first [table]"),
}


def _settings_of(data: dict[str, Any], shown: str, rules: Sequence[Rule]) -> Settings:
    top = _Table(shown, "", data, _TOP)
    by_name = {rule.name: rule for rule in rules}
    skip = top.words("skip")
    for name in skip:
        if name not in by_name:
            raise top.fail("skip", f'names no rule "{name}"; {_nearest_rule(name, by_name)}')
    return Settings(
        distances=_distances(_Table(shown, "distances", data.get("distances", {}), _DISTANCES)),
        read=_reading(_Table(shown, "read", data.get("read", {}), _READ)),
        mat=_mat(top),
        skip=frozenset(skip),
        fail_on=top.choice("fail-on", FAIL_ON) or Settings.fail_on,
        rules=_rules(data.get("rules", {}), shown, by_name),
    )


def _distances(table: _Table) -> Distances:
    default = Distances()
    d = Distances(**{name: table.length(name, getattr(default, name)) for name in _DISTANCES})
    if d.join_mm >= d.hairline_mm:
        raise table.fail("join_mm", f"({d.join_mm}) must be less than hairline_mm, {d.hairline_mm}")
    if d.same_place_mm > d.hairline_mm:
        raise table.fail(
            "same_place_mm",
            f"({d.same_place_mm}) must be at most hairline_mm, which is {d.hairline_mm}",
        )
    if d.flatten_mm > d.same_place_mm / 2:
        # Two flattened copies of one curve may each be off by flatten_mm, on opposite sides.
        raise table.fail(
            "flatten_mm",
            f"({d.flatten_mm}) must be at most half of same_place_mm, which is {d.same_place_mm}",
        )
    return d


def _reading(table: _Table) -> Reading:
    words: dict[str, Any] = {f"{role}_words": table.words(f"{role}-words") for role in ROLES}
    colours: dict[str, Any] = {
        f"{role}_colours": tuple(
            _colour(table, f"{role}-colours", text) for text in table.words(f"{role}-colours")
        )
        for role in ROLES
    }
    for lists in (words, colours):
        _refuse_shared(table, lists)
    dashes = table.choice("dashes", ROLES)
    scores = table.choice("scores", SCORES) or "perforated"
    return Reading(
        **words,
        **colours,
        dashes=cast(Literal["cut", "score", "draw"] | None, dashes),
        scores=cast(Literal["perforated", "scored"], scores),
    )


def _refuse_shared(table: _Table, lists: Mapping[str, tuple[str, ...]]) -> None:
    """A word or colour that stands for two roles tells neither."""
    first: dict[str, str] = {}
    for name, entries in lists.items():
        key = name.replace("_", "-")
        for entry in entries:
            other = first.setdefault(entry.casefold(), key)
            if other != key:
                raise table.fail(key, f'holds "{entry}", and so does {other}; keep it in one')


def _colour(table: _Table, key: str, text: str) -> str:
    """An opaque CSS colour as "#rrggbb"."""
    from tinycss2.color3 import RGBA, parse_color

    colour = parse_color(text)
    if not isinstance(colour, RGBA) or colour.alpha != 1:
        raise table.fail(key, f'holds "{text}", which is no colour; write it as "#ff0000" or "red"')
    return "#" + "".join(f"{min(max(int(part * 255 + 0.5), 0), 255):02x}" for part in colour[:3])


def _mat(top: _Table) -> tuple[float, float] | None:
    if "mat" not in top.values:
        return None
    value = top.values["mat"]
    if not isinstance(value, str):
        raise top.fail("mat", f'must be a text such as "12x12in" or "A4", not {_told(value)}')
    try:
        return parse_size(value)
    except ValueError as error:
        raise top.fail("mat", f"cannot be read: {error}") from None


def _rules(data: object, shown: str, by_name: Mapping[str, Rule]) -> dict[str, dict[str, Any]]:
    if not isinstance(data, dict):
        raise _bad(shown, '"rules" must hold a table for each rule: write [rules.NAME]')
    for name in data:
        if name not in by_name:
            advice = _nearest_rule(name, by_name)
            raise _bad(shown, f"[rules.{name}] names no rule; {advice}")
    return {name: _one_rule(values, shown, by_name[name]) for name, values in data.items()}


def _one_rule(values: object, shown: str, rule: Rule) -> dict[str, Any]:
    limits = {
        entry.name: entry.default
        for entry in dataclasses.fields(rule.limits)
        if isinstance(entry.default, int | float) and not isinstance(entry.default, bool)
    }
    table = _Table(shown, f"rules.{rule.name}", values, ("severity", *limits))
    table.choice("severity", tuple(Severity))
    return {
        key: value if key == "severity" else table.number(key, limits[key])
        for key, value in table.values.items()
    }


def _nearest_rule(name: str, by_name: Iterable[str]) -> str:
    near = nearest(name[:60], by_name)
    return f'the nearest name is "{near}"' if near else "there are no rules"
