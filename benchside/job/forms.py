"""Forms of many fields: every trouble is told at once, and nothing is kept unless all is well."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime, time, timedelta
from typing import TypeVar

from benchside.errors import BenchsideError, NotFound, NotUnderstood, OutOfRange
from benchside.moments import as_text

LONGEST = 200
LONGEST_NAME = 80  # judgement: what still reads on a phone
LONGEST_NOTE = 2000
LONGEST_NUMBER = 18  # digits that the database still holds
LONGEST_AGO = timedelta(days=3653)  # judgement: further back is a slip of the year
Found = TypeVar("Found")
_NO_CHARACTER = re.compile("[\ud800-\udfff\0]")


class Wrong(BenchsideError):
    """Some fields of a form cannot be taken; nothing of it was. ``problems`` are by field."""

    def __init__(self, problems: Mapping[str, BenchsideError]) -> None:
        count = len(problems)
        super().__init__(
            f"{'One thing' if count == 1 else f'{count} things'} to look at; nothing is kept yet.",
            field=next(iter(problems)),
        )
        self.problems = problems


class Asked:
    """Reads the fields of one form one after another, keeping what is wrong with each."""

    def __init__(self) -> None:
        self.problems: dict[str, BenchsideError] = {}

    def read(
        self, field: str, otherwise: Found, how: Callable[..., Found], *given: object
    ) -> Found:
        """What ``how`` makes of what was given, or ``otherwise`` with the problem kept."""
        try:
            return how(*given)
        except BenchsideError as problem:
            problem.field = field
            self.problems.setdefault(field, problem)
            return otherwise

    def settle(self) -> None:
        """Raises `Wrong` if anything was."""
        if self.problems:
            raise Wrong(self.problems)


def numbered(text: str) -> int | None:
    """The number by which a form names a set, a board or a piece; None where it names none.

    Raises `NotFound` for what cannot be one.
    """
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) <= LONGEST_NUMBER):
        raise NotFound("There is none of that number.")
    return int(text)


def plain(name: str) -> str:
    """A name on one line, without what cannot be printed."""
    return " ".join("".join(c if c.isprintable() else " " for c in name).split())


def short(text: str, longest: int = LONGEST) -> str:
    """A line of words that can be kept, without the blanks around it."""
    if len(text) > longest:
        raise OutOfRange(f"There is room for {longest} characters.", hint="Shorten it.")
    if _NO_CHARACTER.search(text):
        raise NotUnderstood("A sign in this cannot be kept.", hint="Type it anew.")
    return text.strip()


def named(text: str, ask: str, hint: str) -> str:
    """The same of a line that must say something."""
    said = short(text)
    if not said:
        raise NotUnderstood(ask, hint=hint)
    return said


def moment(day: str, *, now: str) -> str:
    """The moment that a day stands for, as typed from paper: noon there, but now for today.

    Nothing is today. Raises `NotUnderstood` and `OutOfRange`, naming the field ``day``, for what is
    no day, one to come or one long gone.
    """
    if not day.strip():
        return now
    try:
        found = date.fromisoformat(day.strip())
    except ValueError:
        raise NotUnderstood(
            f"{day[:20]} is no day.", field="day", hint="Such as 2026-03-31."
        ) from None
    today = datetime.fromisoformat(now).astimezone().date()
    if found == today:
        return now
    if found > today:
        raise OutOfRange("That day is still to come.", field="day", hint="Today, or a day before.")
    if found < today - LONGEST_AGO:
        raise OutOfRange("That day is over ten years ago.", field="day", hint="Look at the year.")
    return as_text(datetime.combine(found, time(12)).astimezone())


def of_day(noon: str, at: str) -> bool:
    """Whether a moment is of the day that the first stands for, where that was typed from paper."""
    day = datetime.fromisoformat(noon).astimezone()
    return day.time() == time(12) and datetime.fromisoformat(at).astimezone().date() == day.date()


def by_field(problem: BenchsideError | None) -> Mapping[str, BenchsideError]:
    """The problems of a form by their fields, whether there is one or several."""
    if isinstance(problem, Wrong):
        return problem.problems
    return {problem.field: problem} if problem else {}
