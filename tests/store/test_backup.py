from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchside.errors import DatabaseTrouble
from benchside.store import readings
from benchside.store.backup import LAST_BACKUP, backup, held, restore, stamp
from benchside.store.database import Shop, check
from tests.full_bench import begin, fill, key, reading

NOW = "2026-03-02T18:30:05.250Z"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    folder = tmp_path / "data"
    folder.mkdir()
    opened = Shop(folder / "shop.db")
    yield opened
    opened.close()


@pytest.fixture
def elsewhere(tmp_path: Path) -> Path:
    folder = tmp_path / "stick"
    folder.mkdir()
    return folder


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as conn:
        return [line for line in conn.iterdump() if LAST_BACKUP not in line]


def files_in(folder: Path) -> list[str]:
    return sorted(file.name for file in folder.iterdir())


def test_a_backup_holds_everything_and_is_one_file(shop: Shop, elsewhere: Path) -> None:
    fill(shop)
    made = backup(shop, elsewhere, now=NOW)
    assert made == elsewhere / "benchside-20260302-183005.db"
    assert files_in(elsewhere) == [made.name]
    check(made)
    assert dump(made) == dump(shop.path)
    assert shop.setting(LAST_BACKUP) == NOW


def test_a_backup_never_overwrites_unless_it_is_asked_to(shop: Shop, elsewhere: Path) -> None:
    made = backup(shop, elsewhere / "mine.db", now=NOW)
    before = made.read_bytes()
    begin(shop)
    with pytest.raises(DatabaseTrouble, match=r"There is a file .* already") as trouble:
        backup(shop, made, now=NOW)
    assert "--force" in trouble.value.hint
    assert made.read_bytes() == before
    backup(shop, made, now=NOW, replace=True)
    assert dump(made) == dump(shop.path)


def test_a_backup_never_overwrites_the_data_file_even_when_asked(shop: Shop) -> None:
    with pytest.raises(DatabaseTrouble, match="is the data file itself"):
        backup(shop, shop.path, now=NOW, replace=True)
    check(shop.path)


def test_a_backup_into_a_folder_that_is_not_there_leaves_nothing(
    shop: Shop, tmp_path: Path
) -> None:
    with pytest.raises(DatabaseTrouble, match="cannot be opened and written"):
        backup(shop, tmp_path / "no" / "mine.db", now=NOW)
    assert shop.setting(LAST_BACKUP) is None
    assert not (tmp_path / "no").exists()


def test_a_backup_for_which_there_is_no_room_leaves_nothing(shop: Shop, elsewhere: Path) -> None:
    fill(shop)
    code = (
        "import resource, sys\n"
        "from pathlib import Path\n"
        "from benchside.errors import DatabaseTrouble\n"
        "from benchside.store.backup import backup\n"
        "from benchside.store.database import Shop\n"
        "shop = Shop(Path(sys.argv[1]))\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))\n"
        "try:\n"
        f"    backup(shop, Path(sys.argv[2]), now={NOW!r})\n"
        "except DatabaseTrouble as trouble:\n"
        "    print(trouble.message)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, str(shop.path), str(elsewhere)],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    assert "nothing was saved" in ran.stdout
    assert files_in(elsewhere) == []


@pytest.mark.slow
def test_a_backup_made_while_readings_come_in_is_whole(shop: Shop, elsewhere: Path) -> None:
    set_id = begin(shop)
    stop = threading.Event()

    def turn() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            with shop.transaction() as db:
                readings.add(db, reading(2 * number, set_id))
                readings.add(db, reading(2 * number + 1, set_id))
            stop.wait(0.001)  # a hand that never rests leaves nobody else the file

    turner = threading.Thread(target=turn)
    turner.start()
    try:
        made = [backup(shop, elsewhere / f"{n}.db", now=NOW) for n in range(5)]
    finally:
        stop.set()
        turner.join()
    for path in made:
        check(path)
        with closing(Shop(path)) as copy:
            kept = readings.every(copy, set_id)
        assert len(kept) % 2 == 0


def test_a_backup_put_back_brings_everything_back_and_keeps_what_was_there(
    shop: Shop, elsewhere: Path
) -> None:
    fill(shop)
    made = backup(shop, elsewhere, now=NOW)
    then = dump(shop.path)
    with shop.transaction() as db:
        readings.add(db, reading(777))
    later = dump(shop.path)
    shop.close()
    kept = restore(shop.path, made, now=NOW)
    assert dump(shop.path) == then
    assert kept == shop.path.with_name("shop.replaced-20260302-183005.db")
    assert kept is not None
    check(kept)
    assert dump(kept) == later
    assert dump(made) == then
    with closing(Shop(shop.path)) as again:
        assert again.database_id == shop.database_id


def test_the_replaced_file_keeps_what_a_server_that_died_left_in_its_wal(
    shop: Shop, elsewhere: Path
) -> None:
    set_id = begin(shop)
    made = backup(shop, elsewhere, now=NOW)
    with shop.transaction() as db:
        readings.add(db, reading(1, set_id))
    # As after a SIGKILL: the file and its -wal stay behind, nobody has either open.
    dead = elsewhere / "shop.db"
    shutil.copyfile(shop.path, dead)
    shutil.copyfile(shop.path.with_name("shop.db-wal"), dead.with_name("shop.db-wal"))
    kept = restore(dead, made, now=NOW)
    assert kept is not None
    with closing(Shop(kept)) as old, closing(Shop(dead)) as new:
        assert [row.key for row in readings.every(old, set_id)] == [key(1)]
        assert readings.every(new, set_id) == []


def test_a_damaged_data_file_can_be_replaced_and_is_kept_byte_for_byte(
    shop: Shop, elsewhere: Path
) -> None:
    fill(shop)
    made = backup(shop, elsewhere, now=NOW)
    shop.close()
    shop.path.write_text("mice were here")
    kept = restore(shop.path, made, now=NOW)
    assert kept is not None
    assert kept.read_text() == "mice were here"
    assert dump(shop.path) == dump(made)


def test_restoring_twice_in_one_second_keeps_both_replaced_files(
    shop: Shop, elsewhere: Path
) -> None:
    made = backup(shop, elsewhere, now=NOW)
    shop.close()
    first, second = (restore(shop.path, made, now=NOW) for _ in range(2))
    assert first is not None
    assert second is not None
    assert first != second
    assert first.exists()
    assert second.exists()


def test_restoring_where_there_was_nothing_makes_the_file(shop: Shop, elsewhere: Path) -> None:
    made = backup(shop, elsewhere / "made.db", now=NOW)
    assert restore(elsewhere / "new.db", made, now=NOW) is None
    assert dump(elsewhere / "new.db") == dump(made)


@pytest.mark.parametrize("kind", ["text", "truncated", "empty", "missing", "other"])
def test_a_backup_that_is_not_sound_replaces_nothing(
    shop: Shop, elsewhere: Path, kind: str
) -> None:
    fill(shop)
    bad = elsewhere / "bad.db"
    whole = backup(shop, elsewhere / "whole.db", now=NOW).read_bytes()
    if kind == "other":
        with closing(sqlite3.connect(bad)) as conn:
            conn.execute("CREATE TABLE recipe (name TEXT)")
    elif kind != "missing":
        bad.write_bytes({"text": b"hello " * 999, "truncated": whole[:20_000], "empty": b""}[kind])
    before = dump(shop.path)
    shop.close()
    with pytest.raises(DatabaseTrouble) as trouble:
        restore(shop.path, bad, now=NOW)
    assert "Nothing was replaced" in trouble.value.hint
    assert dump(shop.path) == before
    assert not list(shop.path.parent.glob("*replaced*"))
    assert not list(shop.path.parent.glob(".*"))


def test_the_data_file_is_not_its_own_backup(shop: Shop) -> None:
    with pytest.raises(DatabaseTrouble, match="is the data file itself"):
        restore(shop.path, shop.path, now=NOW)


def test_a_file_that_is_being_served_is_not_replaced(shop: Shop, elsewhere: Path) -> None:
    made = backup(shop, elsewhere, now=NOW)
    before = dump(shop.path)
    with held(shop.path):
        with pytest.raises(DatabaseTrouble, match="is being served by another benchside"):
            restore(shop.path, made, now=NOW)
        with pytest.raises(DatabaseTrouble, match="being served"), held(shop.path):
            pass
    assert dump(shop.path) == before
    with held(shop.path):
        pass


def test_a_server_that_was_killed_holds_its_file_no_longer(shop: Shop) -> None:
    code = (
        "import sys, time\n"
        "from pathlib import Path\n"
        "from benchside.store.backup import held\n"
        "with held(Path(sys.argv[1])):\n"
        "    print('held', flush=True)\n"
        "    time.sleep(60)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(shop.path)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    ) as server:
        assert server.stdout is not None
        assert server.stdout.readline() == "held\n"
        with pytest.raises(DatabaseTrouble, match="being served"), held(shop.path):
            pass
        server.kill()
        server.wait()
    with held(shop.path):
        pass


def test_a_moment_becomes_part_of_a_file_name() -> None:
    assert stamp("2026-01-31T10:15:00.000Z") == "20260131-101500"
