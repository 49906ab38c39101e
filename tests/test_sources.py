"""Every published source that code or a test leans on is listed, and every one listed is used."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchside.sources import sources

ROOT = Path(__file__).parent.parent
CITED = re.compile(r"\[@([a-z0-9-]+)")
SUFFIXES = {".py", ".js", ".css", ".html", ".csv", ".json", ".md"}


def cited() -> dict[str, set[str]]:
    """The files that name each key."""
    found: dict[str, set[str]] = {}
    for folder in ("benchside", "tests", "static"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix not in SUFFIXES or path.name == "sources.csv":
                continue
            for key in CITED.findall(path.read_text("utf-8")):
                found.setdefault(key, set()).add(str(path.relative_to(ROOT)))
    return found


def test_every_source_that_is_named_is_listed():
    listed = {source.key for source in sources()}
    assert {key: files for key, files in cited().items() if key not in listed} == {}


def test_every_source_that_is_listed_is_named_somewhere():
    assert {source.key for source in sources()} - cited().keys() == set()


@pytest.mark.parametrize("source", sources(), ids=lambda source: source.key)
def test_a_source_says_what_it_is_where_to_look_and_what_for(source):
    assert re.search(r"\b1[89]\d\d\b|\b20\d\d\b|Handbook|Datasets", source.citation)
    assert source.where
    assert source.used_for.endswith(".")
    assert source.seen in ("read", "memory")


def test_no_key_is_listed_twice():
    keys = [source.key for source in sources()]
    assert sorted(set(keys)) == keys
