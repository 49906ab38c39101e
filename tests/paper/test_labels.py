"""Labels, their codes read by a reader that did not write them."""

from __future__ import annotations

import numpy as np
import pytest
import zxingcpp

from benchside.errors import OutOfRange
from benchside.paper.labels import (
    CODE_DOWN_MM,
    CODE_MM,
    HEIGHT_MM,
    WIDTH_MM,
    Label,
    code,
    label_sheets,
)
from benchside.paper.marks import Words
from benchside.paper.page import page, room, sheets
from benchside.paper.pdf import pdf
from tests.paper import samples

SAY = samples.say()


def test_every_code_on_the_sheet_opens_its_piece() -> None:
    labels = [
        Label(n, f"http://workshop.local:8000/sets/12/pieces/{n}", "board 2, 7" if n == 3 else "")
        for n in range(1, 12)
    ]
    found = page(297, 210)
    (drawing,) = label_sheets(labels, room(found), "Hall bench", "revision 1", SAY)
    (sheet,) = sheets(drawing, found, samples.HEADING, SAY)
    dots = samples.seen(pdf([sheet], title="Labels", made_at=samples.DAY), 8).dots
    read = zxingcpp.read_barcodes((255 * (1 - dots)).astype(np.uint8))
    assert sorted(code.text for code in read) == sorted(label.address for label in labels)
    said = {m.text for m in drawing.marks if isinstance(m, Words)}
    assert {*(str(n) for n in range(1, 12)), "Blank board 2, 7", "Blank"} <= said


def test_labels_fill_sheets_in_turn_and_practice_is_said() -> None:
    labels = [Label(n, f"http://a/{n}", practice=n == 40) for n in range(1, 41)]
    below = "revision 3, 19 Mar 2026"
    made = label_sheets(labels, (WIDTH_MM * 4 + 1, HEIGHT_MM * 4 + 1), "A set", below, SAY)
    assert [sum(m.text == "A set" for m in d.marks if isinstance(m, Words)) for d in made] == [
        16,
        16,
        8,
    ]
    said = [m.text for m in made[-1].marks if isinstance(m, Words)]
    assert said.count("practice") == 1
    assert said.count(below) == 8  # whole on every label, the one for practice among them
    with pytest.raises(OutOfRange):
        label_sheets(labels, (WIDTH_MM - 1, 200), "A set", "", SAY)


def test_words_of_a_label_keep_clear_of_its_code() -> None:
    from benchside.paper import lettering

    label = Label(400, "http://workshop.local:8000/sets/12/pieces/400", "x" * 90, practice=True)
    (drawing,) = label_sheets([label], (100, 100), "A name of many words " * 10, "y" * 99, SAY)
    for mark in drawing.marks:
        if isinstance(mark, Words):
            wide = lettering.width_mm(mark.text, mark.size_mm, bold=mark.bold)
            beside = mark.y - mark.size_mm * lettering.CAP_EM < CODE_DOWN_MM + CODE_MM
            assert mark.x + wide < (WIDTH_MM - 23 if beside else WIDTH_MM - 3), mark.text


def test_a_blank_of_a_named_board_is_told_whole() -> None:
    label = Label(11, "http://workshop.local:8000/sets/12/pieces/11", "11, White ash board 2")
    (drawing,) = label_sheets([label], (100, 100), "Hall bench", "", SAY)
    assert "Blank 11, White ash board 2" in {m.text for m in drawing.marks if isinstance(m, Words)}


def test_an_address_too_long_to_be_read_is_refused() -> None:
    for address in ("", "http://" + "a" * 200):
        with pytest.raises(OutOfRange, match="address") as caught:
            code(address, 0, 0)
        assert caught.value.field == "address"
    with pytest.raises(OutOfRange, match="squares of"):
        code("http://" + "a" * 140, 0, 0, 15.0)
