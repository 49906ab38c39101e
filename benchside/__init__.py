"""Benchside: a lathe-side companion for turning sets of matching spindles."""

__version__ = "0.1.0"
