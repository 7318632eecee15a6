"""A settings file: read, checked, and put together for each drawing.

The top of the file holds for all drawings; each of its [[files]] holds for those whose path it
matches, and a later one wins over an earlier.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple, cast

from matready.lint.patterns import fault_of, fits, steps_to
from matready.lint.rule import Rule
from matready.lint.settings import Distances, Reading, Settings
from matready.lint.settings_papers import on_mat_of, papers_of
from matready.lint.settings_parts import part_of, stocks_of
from matready.lint.settings_table import bad, told
from matready.lint.stocks import CARD_200, Stock, named_stock


class _Part(NamedTuple):
    """What the top of the file or one of its [[files]] sets, checked by itself.

    `values` hold what is there: "distances", "read" and "rules" key by key, the rest whole.
    """

    part: str
    match: tuple[str, ...]
    values: Mapping[str, Any]


class SettingsFile:
    """A settings file, read at once; raises BadSettings.

    `shown` is its name in errors. `for_all` holds for each drawing that no [[files]] matches;
    `for_some` tells whether there are [[files]].
    """

    def __init__(
        self,
        path: Path,
        shown: str,
        rules: Sequence[Rule],
        amend: Callable[[Settings], Settings],
    ) -> None:
        data = _read_toml(path, shown)
        self.shown = shown
        self._folder = Path(os.path.abspath(path)).parent  # noqa: PTH100  links are left alone
        self._amend = amend
        entries = _entries(data, shown)
        stocks = stocks_of(data.get("stocks", {}), shown)
        self._plain = Settings(
            stocks=stocks,
            papers=papers_of(data.get("papers", {}), shown, self._folder, stocks),
            on_mat=on_mat_of(data.get("sheets", {}), shown),
        )
        self._top = _Part("", (), part_of(data, shown, "", rules))
        self._parts = [_entry(entry, k + 1, shown, rules) for k, entry in enumerate(entries)]
        self.for_some = bool(self._parts)
        self._known: dict[tuple[int, ...], Settings] = {}
        self.for_all = self._settings(())
        for number in range(len(self._parts)):  # what is impossible is told, matched or not
            self._settings((number,))

    def for_file(self, path: Path) -> Settings:
        """The settings for the drawing at `path`, an absolute one; raises BadSettings."""
        if not self._parts:
            return self.for_all
        names = steps_to(path, self._folder)
        matched = (
            number
            for number, part in enumerate(self._parts)
            if any(fits(pattern, names) for pattern in part.match)
        )
        return self._settings(tuple(matched))

    def _settings(self, numbers: tuple[int, ...]) -> Settings:
        """The top of the file with some of its [[files]] laid over it."""
        if numbers not in self._known:
            parts = [self._top, *(self._parts[number] for number in numbers)]
            self._known[numbers] = self._amend(_together(parts, self._plain, self.shown))
        return self._known[numbers]


# How the parser's own words begin, and what has mostly been typed then.
_HINTS = (
    (("Invalid value", "Expected newline"), 'words and sizes stand in straight quotes: mat = "A4"'),
    (("Cannot overwrite",), "it has a value already, and a card of your own is [stocks.NAME]"),
)


def _hint(what: str) -> str:
    """What to look for where the parser gave up, with the sign that leads on to it; else empty."""
    return next((f"; {hint}" for begins, hint in _HINTS if what.startswith(begins)), "")


def _read_toml(path: Path, shown: str) -> dict[str, Any]:
    import tomllib

    try:
        # A byte order mark, which some editors write, is no part of the text.
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except FileNotFoundError:
        raise bad(shown, "there is no such settings file; check its name") from None
    except IsADirectoryError:
        raise bad(shown, "this is a folder, not a settings file") from None
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise bad(shown, f"this settings file could not be opened ({reason})") from None
    except UnicodeDecodeError:
        raise bad(shown, "this is not text in UTF-8; save it as UTF-8") from None
    except RecursionError:
        raise bad(shown, "this is not TOML: lists or tables nest too deep") from None
    except tomllib.TOMLDecodeError as error:
        what = str(error)
        said = f"{what[:1].lower()}{what[1:]}{_hint(what)}"
        raise bad(shown, f"this is not TOML: {said}") from None
    except ValueError:  # int() gives up after some thousand digits
        raise bad(shown, "this cannot be read: a number has too many digits") from None


def _entries(data: Mapping[str, Any], shown: str) -> list[dict[str, Any]]:
    entries = data.get("files", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise bad(shown, '"files" must be a list of tables: write [[files]] above the keys of each')
    return entries


def _entry(entry: dict[str, Any], number: int, shown: str, rules: Sequence[Rule]) -> _Part:
    part = f"[[files]] number {number}"
    values = part_of(entry, shown, part, rules)
    if "match" not in entry:
        raise bad(shown, f'{part} does not say for which files; write match = "*.svg" or the like')
    value = entry["match"]
    texts = value if isinstance(value, list) else [value]
    if not texts or not all(isinstance(text, str) for text in texts):
        problem = f'must be a pattern such as "wings/*.svg", or a list of them, not {told(value)}'
        raise bad(shown, f"match under {part} {problem}")
    for text in texts:
        if problem := fault_of(text):
            raise bad(shown, f"match under {part} {problem}, not {told(text)}")
    return _Part(part, tuple(texts), values)


def _together(parts: Sequence[_Part], plain: Settings, shown: str) -> Settings:
    """One Settings of several parts laid over a plain one, the last one winning.

    Raises BadSettings.
    """
    named = " and ".join(part.part for part in parts if part.part)
    where = f" (with {named})" if named else ""
    laid: dict[str, Any] = {"distances": {}, "read": {}, "rules": {}}
    for part in parts:
        for key, value in part.values.items():
            if key == "rules":
                for name, limits in value.items():
                    laid[key][name] = {**laid[key].get(name, {}), **limits}
            elif key in laid and isinstance(value, dict):
                laid[key] = {**laid[key], **value}
            else:
                laid[key] = value
    if problem := _at_odds(laid["distances"]) or _shared(laid["read"]):
        raise bad(shown, f"{problem[0]}{where} {problem[1]}")
    return replace(
        plain,
        distances=Distances(**laid["distances"]),
        read=Reading(**laid["read"]),
        mat=laid.get("mat"),
        stock=_stock(laid["stock"], plain.stocks, shown, where) if "stock" in laid else CARD_200,
        skip=frozenset(laid.get("skip", ())),
        fail_on=laid.get("fail_on", Settings.fail_on),
        rules=laid["rules"],
    )


def _at_odds(values: Mapping[str, float]) -> tuple[str, str] | None:
    """A distance that is impossible beside another one, and why."""
    d = Distances(**values)
    here = " under [distances]"
    if d.join_mm >= d.hairline_mm:
        return f"join_mm{here}", f"({d.join_mm}) must be less than hairline_mm, {d.hairline_mm}"
    if d.same_place_mm > d.hairline_mm:
        why = f"({d.same_place_mm}) must be at most hairline_mm, which is {d.hairline_mm}"
        return f"same_place_mm{here}", why
    if d.flatten_mm > d.same_place_mm / 2:
        # Two flattened copies of one curve may each be off by flatten_mm, on opposite sides.
        why = f"({d.flatten_mm}) must be at most half of same_place_mm, which is {d.same_place_mm}"
        return f"flatten_mm{here}", why
    return None


def _shared(read: Mapping[str, Any]) -> tuple[str, str] | None:
    """A word or colour that stands for two roles, and so tells neither."""
    for kind in ("words", "colours"):
        first: dict[str, str] = {}
        for name, entries in read.items():
            key = name.replace("_", "-")
            for entry in entries if key.endswith(kind) else ():
                other = first.setdefault(cast(str, entry).casefold(), key)
                if other != key:
                    why = f'holds "{entry}", and so does {other}; keep it in one'
                    return f"{key} under [read]", why
    return None


def _stock(name: str, own: Mapping[str, Stock], shown: str, where: str) -> Stock:
    try:
        return named_stock(name, own)
    except ValueError as error:
        raise bad(shown, f"stock{where}: {error}") from None
