"""What DEVELOPERS.md points at is there, and its list of floors is whole."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.test_floors import FLOORS

ROOT = Path(__file__).parent.parent
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
LISTED = set(re.findall(r"^\d  (benchside/\S+)", DEVELOPERS, re.M))
# A name in a module stands behind a point: `job/turning.take`.
NAMED = {*LISTED, *re.findall(r"`(\w+(?:/[\w.*]+)+)/?`", DEVELOPERS)}


def stands(path: str) -> bool:
    module, _, name = path.rpartition(".")
    for folder in (ROOT, ROOT / "benchside"):
        if any(folder.glob(path)):
            return True
        file = folder / f"{module}.py"
        if file.is_file() and re.search(rf"^(def|class) {name}\b", file.read_text("utf-8"), re.M):
            return True
    return False


@pytest.mark.parametrize("path", sorted(NAMED))
def test_every_path_is_there(path: str) -> None:
    assert stands(path)


def test_a_wrong_path_is_told() -> None:
    assert not stands("job/nowhere.py")
    assert not stands("job/turning.nowhere")


def test_every_room_stands_in_the_list_of_floors() -> None:
    rooms = {room.replace(".", "/") for room in FLOORS if room.count(".") == 1}
    listed = {path.rstrip("/").removesuffix(".py") for path in LISTED}
    assert listed == rooms - {"benchside/__main__"}
