"""An export as tables, and the same export again."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from benchside.errors import NotUnderstood
from benchside.job.demo import load_demo
from benchside.job.exchange import export_all, import_into, to_json
from benchside.job.exchange.csv_tables import from_tables, place_in_tables, to_tables
from benchside.job.exchange.taking_in import look_through
from benchside.resources import seed_dir
from tests.full_bench import fill
from tests.shopfloor import open_shop

NOW = "2026-03-02T16:00:00.000Z"
Document = dict[str, Any]
# Columns that count or number, and what was typed, which has its unit in a column of its own.
COUNTED = re.compile(
    "revision|wanted|spares|calipers|number|spindle|pieces?|pattern|next_station|nth|place|turn"
    "|test_hole|label|need|grain_slope|uses|typed"
)


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> Document:
    """Something of everything, as an export holds it."""
    with closing(open_shop(tmp_path_factory.mktemp("tables"))) as shop:
        fill(shop)
        found: Document = json.loads(to_json(export_all(shop, now=NOW)))
    return found


@pytest.fixture(scope="module")
def whole_shop(tmp_path_factory: pytest.TempPathFactory) -> Document:
    """The demo: three sets, of which one has its wood and its fit."""
    with closing(open_shop(tmp_path_factory.mktemp("demo"))) as shop:
        load_demo(shop, seed_dir(), NOW)
        found: Document = json.loads(to_json(export_all(shop, now=NOW)))
    return found


def files_in(zipped: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(zipped)) as packed:
        return {name: packed.read(name).decode() for name in packed.namelist()}


def packed_again(files: dict[str, str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, text in files.items():
            packed.writestr(name, text)
    return out.getvalue()


def test_everything_comes_back_exactly(document: Document) -> None:
    assert from_tables(to_tables(document)).document == document


@pytest.mark.parametrize("which", range(3))
def test_what_only_some_sets_have_is_made_up_for_none_of_the_others(
    whole_shop: Document, which: int
) -> None:
    """Of three sets each has something else: neither fit nor wood, a fit, both."""
    both = next(s for s in whole_shop["sets"] if "fit" in s and "wood" in s)
    fit, wood = both["fit"], both["wood"]
    plain = {k: v for k, v in both.items() if k not in ("fit", "wood")}
    sets = [plain, {**plain, "fit": fit}, {**plain, "fit": {**fit, "parts": []}, "wood": wood}]
    changed = {**whole_shop, "sets": sets[which:] + sets[:which]}
    assert from_tables(to_tables(changed)).document == changed


@pytest.mark.parametrize("kind", ["json", "tables"])
def test_the_archive_of_a_whole_shop_restores_exactly_on_a_fresh_database(
    whole_shop: Document, tmp_path: Path, kind: str
) -> None:
    given = to_json(whole_shop) if kind == "json" else to_tables(whole_shop)
    looked = look_through(given)
    assert looked.faults == ()
    assert looked.document is not None
    with closing(open_shop(tmp_path)) as fresh:
        import_into(fresh, looked.document, now=NOW)
        again = json.loads(to_json(export_all(fresh, now=NOW)))
    assert {**again, "database_id": whole_shop["database_id"]} == whole_shop


@pytest.mark.parametrize(
    "text",
    [
        "a, b",
        'say "so"',
        "two\nlines",
        "=1+1",
        "-5",
        "'=x",
        "שלום",
        "x" * 200,
        "Größe ½ 🌲",
        "a\tb",
    ],
)
def test_a_name_of_any_kind_comes_back_exactly(document: Document, text: str) -> None:
    changed = json.loads(json.dumps(document))
    changed["sets"][0]["name"] = changed["sets"][0]["readings"][0]["note"] = text
    assert from_tables(to_tables(changed)).document == changed


def test_the_same_data_make_the_same_bytes(document: Document) -> None:
    assert to_tables(document) == to_tables(document)


def test_the_header_tells_the_unit_of_every_figure(whole_shop: Document) -> None:
    files = files_in(to_tables(whole_shop))
    for name, text in files.items():
        if not name.endswith(".csv") or name == "about.csv":
            continue
        table = pd.read_csv(io.StringIO(text))
        for column in table.columns:
            figures = pd.api.types.is_numeric_dtype(table[column]) and table[column].notna().any()
            plain = pd.api.types.is_bool_dtype(table[column]) or COUNTED.fullmatch(column)
            if figures and not plain and f"{column}.csv" not in files:
                assert re.search("_(mm|g|c|percent|deg|rpm|m2_s)$", column), f"{name}: {column}"
    said = files["sets-wood.said.csv"]
    assert "dampest_mc_percent" in said.splitlines()[0]
    files["sets-wood.said.csv"] = said.replace("dampest_mc_percent", "dampest_mc")  # as it was
    assert from_tables(packed_again(files)).document == whole_shop


def test_pandas_reads_the_readings_with_their_figures_as_figures(document: Document) -> None:
    text = files_in(to_tables(document))["sets-readings.csv"]
    table = pd.read_csv(io.StringIO(text), dtype={"key": str})
    rows = [reading for kept in document["sets"] for reading in kept["readings"]]
    assert list(table["value_mm"]) == pytest.approx([row["value_mm"] for row in rows])
    assert list(table["key"]) == [row["key"] for row in rows]
    at = pd.to_datetime(table["taken_at"], utc=True, format="ISO8601")
    assert [f"{moment:%Y-%m-%dT%H:%M}" for moment in at] == [r["taken_at"][:16] for r in rows]


def without(name: str) -> Callable[[dict[str, str]], None]:
    return lambda files: files.pop(name) and None


def swapped(name: str, old: str, new: str) -> Callable[[dict[str, str]], None]:
    def swap(files: dict[str, str]) -> None:
        assert old in files[name]
        files[name] = files[name].replace(old, new, 1)

    return swap


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (without("tables.json"), "no tables.json"),
        (without("sets-readings.csv"), "sets-readings.csv is missing"),
        (swapped("sets-readings.csv", "value_mm", "size"), "other columns"),
        (swapped("tables.json", '"text"', '"gold"'), "no tables.json of benchside's"),
    ],
)
def test_tables_that_were_spoilt_are_refused_by_file(
    document: Document, spoil: Callable[[dict[str, str]], None], said: str
) -> None:
    files = files_in(to_tables(document))
    spoil(files)
    with pytest.raises(NotUnderstood, match=said):
        from_tables(packed_again(files))


def test_a_truncated_zip_is_refused(document: Document) -> None:
    zipped = to_tables(document)
    for length in (4, 30, len(zipped) // 2, len(zipped) - 1):
        with pytest.raises(NotUnderstood):
            from_tables(zipped[:length])


def test_a_place_is_told_by_file_row_and_column(document: Document) -> None:
    rows = from_tables(to_tables(document)).rows
    revisions = [r for p in document["patterns"] for r in p["revisions"]]
    second = len(document["patterns"][0]["revisions"]) > 1
    assert second
    at = 2 + len(revisions[0]["stations"]) + 2  # under the header and all of the first revision
    told = place_in_tables("patterns[0].revisions[1].stations[2].at_mm", rows)
    assert told == f"patterns-revisions-stations.csv, row {at}, column at_mm"
    assert place_in_tables("settings.lathe_swing_mm", rows) == "about.csv, settings.lathe_swing_mm"


def test_every_row_of_a_table_that_cannot_be_taken_is_told_and_the_rest_comes_in_when_told_to(
    whole_shop: Document,
) -> None:
    files = files_in(to_tables(whole_shop))
    lines = files["sets-readings.csv"].split("\r\n")
    columns = lines[0].split(",")
    count = len(lines) - 2

    def spoil(row: int, column: str, cell: str) -> None:
        cells = lines[row - 1].split(",")
        assert len(cells) == len(columns)
        cells[columns.index(column)] = cell
        lines[row - 1] = ",".join(cells)

    corrected = {r["supersedes"] for s in whole_shop["sets"] for r in s["readings"]}
    free = [
        i
        for i, row in enumerate(lines[1:-1], 2)
        if row.split(",")[columns.index("key")] not in corrected and '"' not in row
    ]
    number, text, empty, other, power, short, long = free[:7]
    spoil(number, "value_mm", "24mm")
    spoil(text, "taken_at", "yesterday")
    spoil(empty, "value_mm", "")
    spoil(other, "sets", "99")
    spoil(power, "sets", "²")
    lines[short - 1] = ",".join(lines[short - 1].split(",")[:5])
    lines[long - 1] += ",more"
    files["sets-readings.csv"] = "\r\n".join(lines)
    looked = look_through(packed_again(files))
    said = {fault.where: f"{fault.message} {fault.hint}" for fault in looked.faults}
    assert len(said) == 7
    assert 'not "24mm"' in said[f"sets-readings.csv, row {number}, column value_mm"]
    assert "no comma" in said[f"sets-readings.csv, row {number}, column value_mm"]
    assert "a moment" in said[f"sets-readings.csv, row {text}, column taken_at"]
    assert "a number" in said[f"sets-readings.csv, row {empty}, column value_mm"]
    assert "sets.csv has no row '99'" in said[f"sets-readings.csv, row {other}"]
    assert "sets.csv has no row '²'" in said[f"sets-readings.csv, row {power}"]
    assert "5 cells, where the header has" in said[f"sets-readings.csv, row {short}"]
    assert "cells, where the header has" in said[f"sets-readings.csv, row {long}"]
    assert looked.text == ""  # given back as JSON, it would come in without the rows astray
    assert looked.document is not None
    assert sum(len(kept.readings) for kept in looked.document.sets) == count - 7


def test_a_row_that_others_belong_to_cannot_be_missed(document: Document) -> None:
    files = files_in(to_tables(document))
    lines = files["sets.csv"].split("\r\n")
    files["sets.csv"] = "\r\n".join([lines[0], lines[1] + ",more", *lines[2:]])
    looked = look_through(packed_again(files))
    assert looked.document is None
    assert looked.faults[0].where == "sets.csv, row 2"
    assert any("row 1 of sets, which it belongs to" in fault.message for fault in looked.faults)
