"""What the README promises is what .ci/run does."""

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"```sh\n(.*?)\n```", README, re.S)


def test_two_commands_set_everything_up():
    assert [block for block in BLOCKS if "venv .venv" in block] == [BLOCKS[0], BLOCKS[-1]]


def test_ci_runs_the_test_command_to_the_letter():
    assert BLOCKS[-1] in (ROOT / ".ci" / "run").read_text("utf-8").splitlines()


def test_every_command_is_where_the_first_one_put_it():
    """Benchside is on no path: each command is told as it has to be typed."""
    commands = re.findall(r"`([^`\n]*benchside [a-z][^`\n]*)`", README)
    assert len(commands) > 3
    assert [one for one in commands if not one.startswith(".venv/bin/benchside ")] == []


def test_the_first_thing_read_is_the_job():
    first = README.split("\n\n")[1]
    assert first.startswith("A chairmaker turns a set")


def test_every_picture_is_there():
    for picture in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README):
        assert (ROOT / picture).is_file(), picture
