"""A spindle tapped through on the phone, and everything a maker says on the way."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, inch_peg, peg, wait_until
from tests.browser.conftest import NewPhone
from tests.browser.hand import Phone


def figures(bench: Bench, kept: SpindleSet, off_mm: float = 0.1) -> dict[str, str]:
    """A believable figure for every reading of a set, by place/kind/phase."""
    return {
        f"{step.place_id}/{step.reads}/{step.phase}": f"{step.stop_mm + off_mm:.1f}"
        for step in bench.work(kept).steps
        if step.reads and step.stop_mm is not None
    }


def test_a_whole_spindle_is_tapped_through_and_every_reading_is_there(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started()
    wanted = figures(bench, kept)
    steps = bench.work(kept).steps
    phone.open(f"/sets/{kept.id}")
    phone.page.get_by_role("link", name="Turn piece 1").tap()
    phone.shows("mount")
    seen = []
    for anchor in phone.works(wanted, until="done"):
        seen.append(anchor.removesuffix("/read"))
        if anchor in ("size:crown:s3", "tenon:s1"):
            phone.step.get_by_role("link", name="Read", exact=True).tap()
            phone.shows(f"{anchor}/read")
            phone.takes(wanted[phone.aims_at])
            wait_until(lambda: len(bench.typed(kept)) == len(seen_readings))
        seen_readings = bench.typed(kept)
    assert list(dict.fromkeys(seen)) == [step.id for step in steps][:-1]
