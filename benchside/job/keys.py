"""The keys that taps and forms come under: what is sent twice is kept once."""

from __future__ import annotations

import hashlib
import re

from benchside.errors import NotUnderstood

_KEY = re.compile(r"[0-9a-f]{32}")


def keyed(key: str) -> str:
    """The key itself. Raises `NotUnderstood` for what is none."""
    if not _KEY.fullmatch(key):
        raise NotUnderstood(
            "This came without a proper key.", field="key", hint="Open the page again."
        )
    return key


def key_for(key: str, part: str) -> str:
    """The key of one of several things that come under one key. Raises `NotUnderstood`."""
    return _hashed(keyed(key) + part)


def cell_key(*where: object) -> str:
    """The key of one cell of a form, from the form's own key and where in it the cell is."""
    return _hashed(" ".join(map(str, where)))


def _hashed(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:32]
