"""Comma-separated text, by RFC 4180, and what a spreadsheet would run made harmless."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import NotUnderstood
from benchside.job.exchange.csv_rows import harmless, original, read_rows, write_rows

cells = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


@pytest.mark.parametrize("text", ["=1+1", "+49 171", "-0.2 mm", "@home", "\tx", "'=x", "''@"])
def test_what_a_spreadsheet_would_run_gets_an_apostrophe_and_loses_it_again(text):
    assert harmless(text) == f"'{text}"
    assert original(harmless(text)) == text


@given(cells)
def test_any_text_comes_back_as_it_was(text):
    assert original(harmless(text)) == text


@given(cells)
def test_no_text_starts_as_a_formula_does(text):
    assert not harmless(text).startswith(("=", "+", "-", "@", "\t", "\r"))


def test_lines_end_and_quotation_marks_double_as_the_standard_says():
    """RFC 4180, section 2, rules 1, 6 and 7."""
    assert write_rows(["a", "b"], [['say "so"', "1,5"], ["two\r\nlines", ""]]) == (
        'a,b\r\n"say ""so""","1,5"\r\n"two\r\nlines",\r\n'
    )


@given(st.lists(st.lists(cells, min_size=2, max_size=2), max_size=5))
def test_pythons_own_reader_finds_the_same_cells(rows):
    text = write_rows(["a", "b"], rows)
    assert list(csv.reader(io.StringIO(text, newline=""))) == [["a", "b"], *rows]
    assert [row for _, row in read_rows(text)[1]] == rows


@pytest.mark.parametrize("between", [",", ";", "\t"])
def test_a_table_from_a_spreadsheet_is_read_however_it_parts_its_cells(between):
    text = f"\ufeffspindle{between}value\n1{between}15\n\n2{between}16\n"
    assert read_rows(text) == (["spindle", "value"], [(2, ["1", "15"]), (4, ["2", "16"])])


@pytest.mark.parametrize("text", ["", "\n\n", 'a,b\n"never ends,1\n'])
def test_what_is_no_table_is_refused(text):
    with pytest.raises(NotUnderstood):
        read_rows(text)
