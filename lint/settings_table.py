"""One table of a settings file, checked key by key; whatever is wrong is told in one sentence.

Anything unknown, of the wrong type or impossible is refused: a setting that is quietly left out
would be taken for one that works.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NoReturn

from matready.lint.settings import BadSettings
from matready.lint.settings_ranges import Range
from matready.lint.sizes import nearest


def bad(shown: str, problem: str) -> BadSettings:
    """The error, on one line whatever the file's keys and values hold."""
    text = f"{shown}: {problem}"
    return BadSettings("".join(c if c.isprintable() else " " for c in text))


class Table:
    """A table of the settings file `shown`.

    `name` is what stands in its brackets, empty for the top of the file. `part` says which of the
    [[files]] it belongs to, empty where none. `homes` tells of keys where they belong.
    """

    def __init__(
        self,
        shown: str,
        name: str,
        values: object,
        known: Iterable[str],
        part: str = "",
        homes: Mapping[str, str] | None = None,
    ) -> None:
        self.shown = shown
        self.where = " under " + " of ".join(filter(None, [name and f"[{name}]", part]))
        self.where = self.where if name or part else ""
        if not isinstance(values, dict):
            raise bad(shown, f'"{name}" must be a table: write [{name}] above its keys')
        self.values: dict[str, Any] = values
        self.known = tuple(known)
        for key in self.values:
            if key not in self.known:
                advice = self._advice(key, homes or {})
                raise bad(shown, f'unknown key "{key[:60]}"{self.where}; {advice}')

    def _advice(self, key: str, homes: Mapping[str, str]) -> str:
        if key in homes:
            return f"it belongs {homes[key]}"
        if near := nearest(key, self.known):
            return f'the nearest known key is "{near}"'
        listed = ", ".join(f'"{name}"' for name in self.known)
        return f"known here are {listed}"

    def fail(self, key: str, problem: str) -> NoReturn:
        """Raise the error about a key of this table."""
        raise bad(self.shown, f"{key}{self.where} {problem}")

    def number(self, key: str, within: Range, whole: bool = False) -> Any:
        """A number within its bounds; the key is there. An integer does for a float."""
        value = self.values[key]
        if isinstance(value, bool) or not isinstance(value, int if whole else int | float):
            what = "a whole number" if whole else "a number"
            self.fail(key, f"must be {what}, not {told(value)}")
        # The bound keeps float() from overflowing on endless digits; infinity and NaN fail it too.
        if not within.least <= value <= within.most:
            self.fail(key, f"must be {within.told()}, not {told(value)}")
        return value if whole else float(value)

    def choice(self, key: str, allowed: Sequence[str], more: str = "") -> str:
        """One of the allowed words; the key is there. `more` is said of any other."""
        value = self.values[key]
        if not isinstance(value, str) or value not in allowed:
            listed = ", ".join(allowed[:-1]) + " or " + allowed[-1]
            self.fail(key, f"must be {listed}, not {told(value)}{more}")
        return value

    def text(self, key: str, such_as: str) -> str:
        """A text; the key is there."""
        value = self.values[key]
        if not isinstance(value, str):
            self.fail(key, f"must be a text such as {such_as}, not {told(value)}")
        return value

    def words(self, key: str) -> tuple[str, ...]:
        """A list of texts, each with a letter or digit in it: no other could ever be found."""
        value = self.values[key]
        if not isinstance(value, list) or not all(map(_is_word, value)):
            self.fail(key, f'must be a list of words, such as ["a", "b"], not {told(value)}')
        return tuple(word.strip() for word in value)


def _is_word(value: object) -> bool:
    return isinstance(value, str) and any(character.isalnum() for character in value)


def told(value: object) -> str:
    """A value as the user wrote it, more or less, cut short where it is long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value)
    except ValueError:  # a whole number written in hex may have more digits than str() will write
        text = "a number of so many digits"
    return text if len(text) <= 60 else text[:57] + "..."
