"""Blanks from a board and from a log: what stock gives, and where to cut it."""
