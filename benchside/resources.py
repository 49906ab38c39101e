"""Where the files stand that travel with the code: in the wheel, or beside the package."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def static_dir() -> Path:
    """The folder of style sheets, scripts and icons."""
    return _folder("static")


def seed_dir() -> Path:
    """The folder of the demo's data."""
    return _folder("seed_demo")


def _folder(name: str) -> Path:
    installed = _PACKAGE / name
    return installed if installed.is_dir() else _PACKAGE.parent / name
