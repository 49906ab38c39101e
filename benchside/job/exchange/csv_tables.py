"""An export as a folder of tables, one to a list of it, zipped; and back again, exact.

A list inside each row of another becomes a table of its own, which begins with the number of the
row it belongs to (1 is the first row beneath the header): ``sets-readings.csv`` begins with
``sets``. An object inside a row becomes columns with a dot (``tolerances.tenon_mm``). What is no
list is in ``about.csv``, a name and its value a line. ``tables.json`` says what each column holds.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from benchside.errors import NotUnderstood
from benchside.job.exchange.csv_rows import harmless, original, read_rows, write_rows
from benchside.job.exchange.document import MOST_BYTES

Row = dict[str, Any]
KINDS = ("text", "text or nothing", "figure", "value")
FORM_FILE = "tables.json"
_ABOUT = "about"
# What is in percent without saying so in its name: moisture, and humidity.
_PERCENT = frozenset(
    [*("moisture", "tenon_moisture", "driest_mc", "dampest_mc", "dry_mc"), "winter_rh", "summer_rh"]
)
_LONG_AGO = (1980, 1, 1, 0, 0, 0)  # a zip's own time is of no use: the same data, the same bytes


@dataclass(slots=True)
class _Table:
    """A list of an export: where its rows belong, its rows without the lists in them."""

    parent: str
    lists: set[str] = field(default_factory=set)
    rows: list[tuple[int, Row]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Astray:
    """A row without a place in the export: where it is in the tables, why, and of which list."""

    where: str
    message: str
    table: str


@dataclass(frozen=True, slots=True)
class Unpacked:
    """An export out of its tables. ``rows`` says of each place in it, such as
    ``sets[0].readings[3]``, which table and row it is from.

    A cell that does not hold what it should is in the export as it stands, to be refused there.
    """

    document: Row
    rows: Mapping[str, tuple[str, int]]
    astray: tuple[Astray, ...]


def to_tables(document: Row) -> bytes:
    """The export as a zip of CSV files and ``tables.json``."""
    about = [[name, _value(value)] for name, value in _leaves(document) if not _rows_in(value)]
    tables: dict[str, _Table] = {}
    for name, value in document.items():
        if isinstance(value, list):
            _gather(tables, name, "", 0, value)
    files = {f"{_ABOUT}.csv": write_rows(["name", "value"], about)}
    form: dict[str, Any] = {}
    for name, table in tables.items():
        kinds = _kinds([row for _, row in table.rows], table.lists)
        form[name] = {"in": table.parent, "lists": sorted(table.lists), "columns": kinds}
        files[f"{name}.csv"] = _written(table, kinds)
    files[FORM_FILE] = json.dumps({"benchside_tables": 1, "tables": form}, indent=1) + "\n"
    return _zipped(files)


def table(document: Row, name: str) -> str:
    """One list of an export as CSV, such as ``sets-readings``; only a header if it is empty."""
    *above, last = name.split("-")
    found = _Table("")
    rows: list[Row] = [document]
    for part in [*above, last]:
        rows = [row for each in rows for row in each[part]]
    found.rows = [(0, dict(_leaves(row))) for row in rows]
    return _written(found, _kinds([row for _, row in found.rows], set()))


def from_tables(zipped: bytes) -> Unpacked:
    """The export a zip of tables was made from. Raises `NotUnderstood` where a whole table, or
    ``tables.json``, is not as it was."""
    files = _unzipped(zipped)
    form = _form(files)
    document: Row = {}
    for name, value in _about(files):
        _put(document, name, value)
    made: Made = {}
    from_: dict[str, tuple[str, int]] = {}
    astray: list[Astray] = []
    for name, told in form.items():
        _begin(document, made, name, told["in"])
        for number, columns, cells in _read(files, name, told):
            by_name = dict(zip(columns, cells, strict=False))
            held = _held_by(document, made, name, told["in"], by_name)
            if len(cells) != len(columns):
                held = f"{len(cells)} cells, where the header has {len(columns)}."
            if isinstance(held, str):
                astray.append(Astray(f"{name}.csv, row {number}", held, name))
                made[name].append(None)
                continue
            before, rows = held
            place = f"{before}[{len(rows)}]"
            rows.append(_row(by_name, told))
            made[name].append((place, rows[-1]))
            from_[place] = (name, number)
    return Unpacked(document, from_, tuple(astray))


def is_zip(given: bytes) -> bool:
    """Whether these are the bytes of a zip."""
    return given[:4] == b"PK\x03\x04"


def place_in_tables(where: str, rows: Mapping[str, tuple[str, int]]) -> str:
    """A place such as ``sets[0].readings[3].value_mm``, as file, row and column.

    >>> place_in_tables("sets[0].readings[3].unit", {"sets[0].readings[3]": ("sets-readings", 5)})
    'sets-readings.csv, row 5, column unit'
    """
    for end in range(len(where), 0, -1):
        if where[:end] in rows and where[end : end + 1] in ("", "."):
            table, number = rows[where[:end]]
            column = f", column {_header(where[end + 1 :])}" if where[end:] else ""
            return f"{table}.csv, row {number}{column}"
    return f"{_ABOUT}.csv, {where}"


def _gather(tables: dict[str, _Table], name: str, parent: str, at: int, members: list[Row]) -> None:
    table = tables.setdefault(name, _Table(parent))
    for member in members:
        row: Row = {}
        inner: list[tuple[str, list[Row]]] = []
        for key, value in _leaves(member):
            if _rows_in(value):
                inner.append((key, value))
                row[key] = []  # what is in it has a table of its own
            else:
                row[key] = value
        table.rows.append((at, row))
        for key, value in inner:
            table.lists.add(key)
            _gather(tables, f"{name}-{key}", name, len(table.rows), value)


def _leaves(found: Row, before: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in found.items():
        if isinstance(value, dict) and value and all("." not in k for k in value):
            yield from _leaves(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value


def _rows_in(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(member, dict) for member in value)


def _kinds(rows: list[Row], lists: set[str]) -> dict[str, str]:
    """What each column holds, as all its rows tell. A row may lack a column.

    A list with a table of its own has a column only where some rows have no such list.
    """
    columns: dict[str, list[Any]] = {}
    for row in rows:
        for key, value in row.items():
            columns.setdefault(key, []).append(value)
    whole = len(rows)
    return {
        key: _kind(values, len(values) < whole)
        for key, values in columns.items()
        if key not in lists or len(values) < whole
    }


def _kind(values: list[Any], some_lack_it: bool) -> str:
    kinds = {type(value) for value in values}
    if some_lack_it or not kinds <= {str, int, float, type(None)}:
        return "value"
    if kinds == {str}:
        return "text"
    if kinds <= {int, float, type(None)}:
        return "figure"
    return "text or nothing" if kinds == {str, type(None)} and "" not in values else "value"


_CELL: dict[str, Callable[[Any], str]] = {
    "text": harmless,
    "text or nothing": lambda value: "" if value is None else harmless(value),
    "figure": lambda value: "" if value is None else json.dumps(value),
    "value": lambda value: _value(value),
}


def _written(table: _Table, kinds: dict[str, str]) -> str:
    columns = ([table.parent] if table.parent else []) + list(kinds)
    rows = []
    for at, row in table.rows:
        cells = [_CELL[kind](row[key]) if key in row else "" for key, kind in kinds.items()]
        rows.append([str(at), *cells] if table.parent else cells)
    return write_rows([_header(column) for column in columns], rows)


def _header(key: str) -> str:
    """What a column is called: as in the export, and its unit where the name has none."""
    return f"{key}_percent" if key.rpartition(".")[2] in _PERCENT else key


def _value(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _row(cells: dict[str, str], told: Row) -> Row:
    row: Row = {}
    for key, kind in told["columns"].items():
        cell = cells[key]
        if kind == "value" and not cell:
            continue
        _put(row, key, _back(cell, kind))
    for key in told["lists"]:
        if key not in told["columns"]:
            _put(row, key, [])
    return row


def _back(cell: str, kind: str) -> Any:
    if kind == "text":
        return original(cell)
    if not cell:
        return None
    if kind == "text or nothing":
        return original(cell)
    try:
        return json.loads(cell)
    except (ValueError, RecursionError):
        return cell


def _put(found: Row, name: str, value: Any) -> None:
    *above, last = name.split(".")
    for part in above:
        found = found.setdefault(part, {})
    found[last] = value


Made = dict[str, list[tuple[str, Row] | None]]  # the rows of each table with their places


def _begin(document: Row, made: Made, name: str, above: str) -> None:
    if above and above not in made:
        raise NotUnderstood(f"{FORM_FILE} names no table {above} before {name}.", field="file")
    if not above:
        document[name] = []
    made[name] = []


def _held_by(
    document: Row, made: Made, name: str, above: str, cells: dict[str, str]
) -> tuple[str, list[Row]] | str:
    """The list that a row belongs to, and its place; or why there is none."""
    if not above:
        return name, document[name]
    number, own = cells.get(above, ""), name.removeprefix(f"{above}-")
    if not (number.isdecimal() and 1 <= int(number) <= len(made[above])):
        return f"{above}.csv has no row {number[:20]!r}."
    holder = made[above][int(number) - 1]
    if holder is None:
        return f"row {number} of {above}, which it belongs to, cannot be taken."
    place, found = f"{holder[0]}.{own}", holder[1]
    inner: Any = found
    for part in own.split("."):
        inner = inner.get(part) if isinstance(inner, dict) else None
    return (place, inner) if isinstance(inner, list) else f"row {number} of {above} has no {own}."


def _zipped(files: dict[str, str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in files.items():
            packed.writestr(zipfile.ZipInfo(name, _LONG_AGO), text.encode(), zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _unzipped(zipped: bytes) -> dict[str, str]:
    try:
        with zipfile.ZipFile(io.BytesIO(zipped)) as packed:
            if sum(info.file_size for info in packed.infolist()) > MOST_BYTES:
                raise NotUnderstood("There is too much in the zip.", field="file")
            return {
                info.filename.rpartition("/")[2]: packed.read(info).decode("utf-8-sig")
                for info in packed.infolist()
                if not info.is_dir()
            }
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, OSError):
        raise NotUnderstood(
            "The zip is not whole.", field="file", hint="Take it as benchside made it."
        ) from None
    except UnicodeDecodeError:
        raise NotUnderstood("A file in the zip is no UTF-8 text.", field="file") from None


def _form(files: dict[str, str]) -> dict[str, Row]:
    """What ``tables.json`` says of each table. Raises `NotUnderstood`."""
    try:
        tables = json.loads(files[FORM_FILE])["tables"]
        for told in tables.values():
            sound = (
                isinstance(told["in"], str)
                and all(isinstance(name, str) for name in told["lists"])
                and all(kind in KINDS for kind in told["columns"].values())
            )
            if not sound:
                raise ValueError
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        raise NotUnderstood(
            f"The zip has no {FORM_FILE} of benchside's.",
            field="file",
            hint="Keep it beside the tables when you pack them again.",
        ) from None
    found: dict[str, Row] = tables
    return found


def _about(files: dict[str, str]) -> Iterator[tuple[str, Any]]:
    _, rows = read_rows(files.get(f"{_ABOUT}.csv", ""))
    for line, row in rows:
        if len(row) != 2:
            raise NotUnderstood(f"{_ABOUT}.csv, row {line}: here are two columns.", field="file")
        yield row[0], _back(row[1], "value")


def _read(
    files: dict[str, str], name: str, told: Row
) -> Iterator[tuple[int, list[str], list[str]]]:
    """The number, the columns and the cells of each row."""
    if f"{name}.csv" not in files:
        raise NotUnderstood(f"{name}.csv is missing from the zip.", field="file")
    if not told["columns"] and not files[f"{name}.csv"].strip():
        return  # a list of the shop's with nothing in it has no columns to name
    columns, rows = read_rows(files[f"{name}.csv"])
    ours = {_header(key): key for key in told["columns"]}
    columns = [ours.get(column, column) for column in columns]
    wanted = ([told["in"]] if told["in"] else []) + list(told["columns"])
    if sorted(columns) != sorted(wanted):
        raise NotUnderstood(
            f"{name}.csv has other columns than {FORM_FILE} says.",
            field="file",
            hint=f"They are: {', '.join(map(_header, wanted))}.",
        )
    for number, row in rows:
        yield number, columns, row
