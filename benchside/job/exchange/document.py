"""JSON from anywhere, looked into piece by piece: whatever is wrong is told with its place."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from typing import Any, TypeVar

from benchside.errors import NotUnderstood

MOST_BYTES = 64 * 1024 * 1024  # judgement: a shop's readings of a lifetime are less
LONGEST_TEXT = 20_000  # judgement
LONGEST_FIGURE = 40  # judgement: more digits than any figure of ours has

_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?Z")
Choice = TypeVar("Choice")


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of a document and where it stands, as ``sets[0].readings[3].value_mm``.

    Every method gives the value as what it should be, or raises `NotUnderstood` naming the place.
    """

    where: str
    value: object

    def wrong(self, what: str, hint: str = "") -> NotUnderstood:
        """The error that names this place."""
        return NotUnderstood(
            f"{self.where or 'The file'}: {what}", field=self.where or "file", hint=hint
        )

    def named(self, *names: str, maybe: Iterable[str] = ()) -> dict[str, Part]:
        """The values of an object that has exactly these names (and perhaps those of ``maybe``)."""
        if not isinstance(self.value, dict):
            raise self.wrong("here should be an object, with names and values in braces.")
        allowed = {*names, *maybe}
        for name in names:
            if name not in self.value:
                raise self._beneath(name).wrong("this is missing.")
        for name in self.value:
            if name not in allowed:
                raise self.wrong(f"nothing here is called {_short(name)}.")
        return {name: self._beneath(name) for name in self.value}

    def each(self) -> list[Part]:
        """The members of a list."""
        if not isinstance(self.value, list):
            raise self.wrong("here should be a list, in brackets.")
        return [Part(f"{self.where}[{i}]", value) for i, value in enumerate(self.value)]

    def pairs(self) -> dict[str, str]:
        """An object whose names are free and whose values are all texts."""
        if not isinstance(self.value, dict):
            raise self.wrong("here should be an object, with names and values in braces.")
        return {
            Part(self.where, name).text(): self._beneath(name).text(empty=True)
            for name in self.value
        }

    def text(self, *, empty: bool = False) -> str:
        """A text that can be kept."""
        if not isinstance(self.value, str):
            raise self.wrong(f"here should be a text, not {_short(self.value)}.")
        if not (self.value or empty):
            raise self.wrong("this is empty.")
        if len(self.value) > LONGEST_TEXT:
            raise self.wrong(f"a text has at most {LONGEST_TEXT} characters.")
        if any("\ud800" <= sign <= "\udfff" for sign in self.value):
            raise self.wrong("there is a sign in this text that is no character.")
        return self.value

    def key(self) -> str:
        """The key of a reading or a mark."""
        if not re.fullmatch("[0-9a-f]{32}", self.text()):
            raise self.wrong(f"a key is 32 of the digits 0-9 a-f, not {_short(self.value)}.")
        return self.text()

    def moment(self) -> str:
        """A moment, UTC."""
        text = self.text()
        try:
            datetime.fromisoformat(text if _MOMENT.fullmatch(text) else "")
        except ValueError:
            raise self.wrong(
                f"here should be a moment, not {_short(text)}.", "Such as 2026-01-31T10:15:00.000Z."
            ) from None
        return text

    def number(self, low: float, high: float) -> float:
        """A number from ``low`` to ``high``."""
        if isinstance(self.value, bool) or not isinstance(self.value, (int, float)):
            hint = "With a point, no comma: 15.9." if isinstance(self.value, str) else ""
            raise self.wrong(f"here should be a number, not {_short(self.value)}.", hint)
        if not (isfinite(self.value) and low <= self.value <= high):
            raise self.wrong(f"{_short(self.value)} does not lie between {low:g} and {high:g}.")
        return float(self.value)

    def whole(self, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``."""
        if isinstance(self.value, bool) or not isinstance(self.value, int):
            raise self.wrong(f"here should be a whole number, not {_short(self.value)}.")
        if not low <= self.value <= high:
            raise self.wrong(f"{_short(self.value)} does not lie between {low} and {high}.")
        return self.value

    def flag(self) -> bool:
        """True or false."""
        if not isinstance(self.value, bool):
            raise self.wrong(f"here should be true or false, not {_short(self.value)}.")
        return self.value

    def one_of(self, choices: tuple[Choice, ...]) -> Choice:
        """One of a few texts."""
        for choice in choices:
            if self.value == choice:
                return choice
        said = ", ".join(str(choice) for choice in choices)
        raise self.wrong(f"here should be one of {said}, not {_short(self.value)}.")

    @property
    def is_none(self) -> bool:
        """Whether there is nothing here."""
        return self.value is None

    def _beneath(self, name: str) -> Part:
        assert isinstance(self.value, dict)
        shown = name if name.isidentifier() and len(name) < LONGEST_FIGURE else _short(name)
        return Part(f"{self.where}.{shown}" if self.where else shown, self.value.get(name))


def parse(text: str | bytes) -> Part:
    """The JSON in a file, the whole of it. Raises `NotUnderstood`."""
    if len(text) > MOST_BYTES:
        raise NotUnderstood(f"The file is larger than {MOST_BYTES // 1024**2} MB.", field="file")
    try:
        decoded = text.decode("utf-8-sig") if isinstance(text, bytes) else text
        value = json.loads(
            decoded.removeprefix("\ufeff"),
            object_pairs_hook=_no_name_twice,
            parse_constant=_no_number,
            parse_int=_whole,
            parse_float=_fraction,
        )
    except UnicodeDecodeError as trouble:
        raise NotUnderstood(
            f"The file is no text: byte {trouble.start} is no UTF-8.", field="file"
        ) from None
    except json.JSONDecodeError as trouble:
        raise NotUnderstood(
            f"The file is no whole JSON: {trouble.msg} in line {trouble.lineno},"
            f" column {trouble.colno}.",
            field="file",
            hint="Take the file as benchside exported it, to its very end.",
        ) from None
    except RecursionError:
        raise NotUnderstood("The file is nested too deeply.", field="file") from None
    return Part("", value)


def _no_name_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise NotUnderstood(f"The name {_short(twice)} stands twice in one object.", field="file")
    return found


def _no_number(text: str) -> float:
    raise NotUnderstood(f"{text} is no number.", field="file")


def _whole(text: str) -> int:
    return int(_figure(text))


def _fraction(text: str) -> float:
    number = float(_figure(text))
    if not isfinite(number):
        raise NotUnderstood(f"{text} is too large a number.", field="file")
    return number


def _figure(text: str) -> str:
    if len(text) > LONGEST_FIGURE:
        raise NotUnderstood(f"{_short(text)} has too many digits.", field="file")
    return text


def _short(value: object) -> str:
    """A value as it can be shown in a sentence, whatever it is."""
    if isinstance(value, (dict, list)):
        return "an object" if isinstance(value, dict) else "a list"
    said = json.dumps(value)
    return said if len(said) <= LONGEST_FIGURE else f"{said[: LONGEST_FIGURE - 1]}…"
