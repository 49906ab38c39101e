"""A file that does not come in whole: every row that cannot be taken, each with its reason.

Rows of readings, marks and the like can be left out; what they stand on (patterns, stations,
spindles) cannot.
"""

from __future__ import annotations

import copy
import re
from dataclasses import dataclass
from typing import Any

from benchside.errors import NotUnderstood
from benchside.job.exchange.csv_tables import from_tables, is_zip, place_in_tables
from benchside.job.exchange.document import parse
from benchside.job.exchange.form import Document, read_export, to_json

MOST_FAULTS = 200  # judgement: a file with more of them is not this file
_MEMBER = re.compile(r"^((?:sets|originals)\[[0-9]+\][^\[]*\.([a-z_]+))\[([0-9]+)\]")
_ROW = re.compile(r"\.csv, row ([0-9]+)")
_STOOD_ON = {"stations", "sections", "spindles"}


@dataclass(frozen=True, slots=True)
class Fault:
    """A row that cannot be taken: where it stands in the file, and why."""

    where: str
    message: str
    hint: str


@dataclass(frozen=True, slots=True)
class Looked:
    """A file looked through. ``document`` is what is left without the faulty rows; None where it
    cannot do without them. ``text`` is the whole file as an export's JSON, to be given back; ""
    where JSON cannot hold all that is in it."""

    document: Document | None
    faults: tuple[Fault, ...]
    text: str


def look_through(given: str | bytes) -> Looked:
    """Everything wrong with a file, row by row. JSON, or a zip of tables.

    Raises `NotUnderstood` for what is no export at all.
    """
    packed = from_tables(given) if isinstance(given, bytes) and is_zip(given) else None
    value: Any = packed.document if packed else parse(given).value
    text = "" if packed and packed.astray else to_json(value)
    left, origins = copy.deepcopy(value), dict[str, list[int]]()
    astray = packed.astray if packed else ()
    faults = [Fault(each.where, each.message, "") for each in astray[:MOST_FAULTS]]
    whole = all(_can_be_missed(each.table) for each in astray)
    while len(faults) < MOST_FAULTS:
        try:
            document = read_export(left)
            return Looked(document if whole else None, _in_order(faults), text)
        except NotUnderstood as trouble:
            where = _as_in_the_file(trouble.field, origins)
            message = trouble.message.removeprefix(f"{trouble.field}: ")
            if packed:
                where = place_in_tables(where, packed.rows)
            faults.append(Fault(where, message, trouble.hint))
            if not _left_out(left, trouble.field, origins):
                break
    return Looked(None, _in_order(faults), text)


def _in_order(faults: list[Fault]) -> tuple[Fault, ...]:
    """File by file as they were found, and in each as its rows stand: row 9 before row 10."""
    files = list(dict.fromkeys(_ROW.split(f.where)[0] for f in faults))

    def at(fault: Fault) -> tuple[int, int]:
        file, *row = _ROW.split(fault.where)
        return files.index(file), int(row[0]) if row else 0

    return tuple(sorted(faults, key=at))


def _can_be_missed(table: str) -> bool:
    above, _, last = table.rpartition("-")
    return above in ("sets", "originals") and last.rpartition(".")[2] not in _STOOD_ON


def _left_out(left: Any, where: str, origins: dict[str, list[int]]) -> bool:
    """Take the row that holds this place out, if the rest can do without it."""
    found = _MEMBER.match(where)
    if not found or found[2] in _STOOD_ON:
        return False
    rows = left
    for part in re.findall(r"[a-z_]+|[0-9]+", found[1]):
        rows = rows[int(part) if part.isdecimal() else part]
    at = int(found[3])
    origins.setdefault(found[1], list(range(len(rows)))).pop(at)
    del rows[at]
    return True


def _as_in_the_file(where: str, origins: dict[str, list[int]]) -> str:
    """The place counted as the file stands, rows left out before included."""
    found = _MEMBER.match(where)
    if not found or found[1] not in origins:
        return where
    return f"{found[1]}[{origins[found[1]][int(found[3])]}]{where[found.end() :]}"
