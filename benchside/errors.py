"""The one family of errors that a person can cause, each a sentence for the screen."""

from __future__ import annotations

from dataclasses import dataclass


class BenchsideError(Exception):
    """What is wrong, where, and what would be right.

    ``message`` says what is wrong, ``hint`` what would be right, ``field`` names the form
    field or column to look at.  ``status`` is the HTTP status that carries it.
    """

    status = 422

    def __init__(self, message: str, *, field: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class NotUnderstood(BenchsideError):
    """What was typed does not say one plain thing."""


class OutOfRange(BenchsideError):
    """A figure that is no number, or lies outside what can be."""


class NotFound(BenchsideError):
    """No such pattern, set, piece, station or device."""

    status = 404


class KeyReused(BenchsideError):
    """The same key came back with something else in it."""


class WrongDatabase(BenchsideError):
    """Taken for another database than the one that is open."""

    status = 409


class Refused(BenchsideError):
    """Not allowed from here."""

    status = 403


class DatabaseTrouble(BenchsideError):
    """The file cannot be read or written: a full disk, a newer or a damaged file."""

    status = 507


@dataclass(frozen=True, slots=True)
class Problem:
    """One broken rule: the row it is in (counted from 1; 0 is the whole), the column, the words."""

    row: int
    field: str
    message: str
    hint: str = ""


class PatternBroken(BenchsideError):
    """One or more rules of a pattern are broken; every one is listed with its row."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        first = problems[0]
        where = f"Row {first.row}: " if first.row else ""
        more = f" ({len(problems) - 1} more)" if len(problems) > 1 else ""
        super().__init__(f"{where}{first.message}{more}", field=first.field, hint=first.hint)
        self.problems = problems
