"""``python -m benchside`` is the command line too."""

from benchside.cli import main

main(prog_name="benchside")
