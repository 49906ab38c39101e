"""The command line: serve, demo, backup, restore, export, import."""

from benchside.cli import files, serving, sheets
from benchside.cli.group import main

__all__ = ["files", "main", "serving", "sheets"]
