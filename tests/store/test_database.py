from __future__ import annotations

import gc
import resource
import sqlite3
import subprocess
import sys
import tempfile
import threading
import warnings
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from benchside.errors import DatabaseTrouble
from benchside.store import readings, stock
from benchside.store.database import Shop, check
from benchside.store.migrations import migrations
from benchside.store.stock import SetStock
from tests.full_bench import begin, fill, reading

STEPS = [step.name for step in migrations._migrations]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shop.db"


def shape(path: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as conn:
        return conn.execute(
            "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name"
        ).fetchall()


def stopped_before(path: Path, step: str) -> None:
    """A database as an older benchside left it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        conn.execute("PRAGMA journal_mode = WAL")
        migrations.apply(Database(conn), stop_before=step)


def files_in(folder: Path) -> list[str]:
    return sorted(file.name for file in folder.iterdir())


def copies_beside(path: Path) -> list[Path]:
    return sorted(path.parent.glob("*.before-*.db"))


def test_a_new_database_is_made_and_has_an_id_of_its_own(path: Path) -> None:
    with closing(Shop(path)) as shop, closing(Shop(path.with_name("other.db"))) as other:
        assert len(shop.database_id) == 32
        assert shop.database_id != other.database_id
        assert shop.migrated_from is None
    check(path)
    assert copies_beside(path) == []


def test_a_database_opened_again_is_the_same(path: Path) -> None:
    with closing(Shop(path)) as shop:
        first = shop.database_id
        begin(shop)
    with closing(Shop(path)) as shop:
        assert shop.database_id == first
        assert shop.migrated_from is None


@pytest.mark.parametrize("step", STEPS[1:])
def test_every_older_database_ends_in_the_same_shape_and_keeps_a_copy(
    path: Path, step: str
) -> None:
    stopped_before(path, step)
    older = shape(path)
    with closing(Shop(path.with_name("new.db"))):
        pass
    with closing(Shop(path)) as shop:
        copy = shop.migrated_from
        database_id = shop.database_id
    assert shape(path) == shape(path.with_name("new.db"))
    assert copy is not None
    assert copies_beside(path) == [copy]
    assert shape(copy) == older
    with closing(sqlite3.connect(copy)) as conn:
        kept = conn.execute("SELECT value FROM setting WHERE name = 'database_id'").fetchone()
    assert kept == (database_id,)


def test_a_way_that_was_chosen_stays_chosen(path: Path) -> None:
    stopped_before(path, "0011_routes")
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript(
            """
            INSERT INTO pattern (id, name, made_at) VALUES (1, 'Peg', '2026-01-05');
            INSERT INTO revision (pattern_id, revision, datum_end, made_at)
            VALUES (1, 1, 'tail', '2026-01-05');
            INSERT INTO spindle_set VALUES
            (7, 'Pegs', '', 1, 1, 9, 2, 'mm', 'piece', 0.1, 0.4, 0.8, 0.8, 3, 'left',
             '2026-01-05', NULL, 'ordinary');
            INSERT INTO set_stock VALUES (7, 'split', NULL, 28.0, 40.0);
            """
        )
    with closing(Shop(path)) as shop:
        assert stock.set_stock(shop, 7) == SetStock("split", None, 28.0, 40.0)
        with shop.transaction() as db:
            db.execute("UPDATE set_stock SET route = NULL")


def test_a_step_that_breaks_off_leaves_the_file_as_it_was(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stopped_before(path, STEPS[-1])
    older = shape(path)
    last = migrations._migrations[-1]

    def half_way(db: Database) -> None:
        last.fn(db)
        raise KeyboardInterrupt

    monkeypatch.setattr(
        migrations,
        "_migrations",
        [*migrations._migrations[:-1], migrations._Migration(last.name, half_way)],
    )
    with pytest.raises(KeyboardInterrupt):
        Shop(path)
    assert shape(path) == older


def test_a_database_from_a_newer_benchside_is_refused_and_left_alone(path: Path) -> None:
    with closing(Shop(path)) as shop, shop.transaction() as db:
        db.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at)"
            " VALUES ('benchside', '9999_steam_bending', '2031')"
        )
    before = path.read_bytes()
    with pytest.raises(DatabaseTrouble, match="written by a newer benchside") as trouble:
        Shop(path)
    assert "Update benchside" in trouble.value.hint
    with pytest.raises(DatabaseTrouble, match="newer"):
        check(path)
    assert path.read_bytes() == before
    assert copies_beside(path) == []


def test_somebody_elses_database_is_refused_and_left_alone(path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("CREATE TABLE recipe (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(DatabaseTrouble, match="not one of benchside's"):
        Shop(path)
    with pytest.raises(DatabaseTrouble, match="not one of benchside's"):
        check(path)
    assert path.read_bytes() == before
    assert files_in(path.parent) == [path.name]


def test_a_text_file_is_refused_in_a_sentence_and_left_alone(path: Path) -> None:
    path.write_text("Station,Diameter\n" * 1000)
    with pytest.raises(DatabaseTrouble, match=r"shop\.db is no sound database") as trouble:
        Shop(path)
    assert "benchside restore" in trouble.value.hint
    assert path.read_text() == "Station,Diameter\n" * 1000


def test_an_empty_file_where_the_data_should_be_is_not_taken_for_a_new_database(
    path: Path,
) -> None:
    path.touch()
    with pytest.raises(DatabaseTrouble, match="is empty: 0 bytes"):
        Shop(path)
    assert path.stat().st_size == 0


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_truncated_file_is_refused_in_a_sentence(path: Path, share: float) -> None:
    with closing(Shop(path)) as shop:
        fill(shop)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(DatabaseTrouble, match=r"shop\.db is (no sound database|damaged)"):
        check(path)


def test_a_row_that_points_nowhere_is_damage(path: Path) -> None:
    with closing(Shop(path)) as shop:
        fill(shop)
    with closing(sqlite3.connect(path)) as conn, conn:
        conn.execute("DELETE FROM spindle_set")
    with pytest.raises(DatabaseTrouble, match="damaged"):
        check(path)


def test_damage_met_while_reading_is_told_in_a_sentence(path: Path) -> None:
    with closing(Shop(path)) as shop:
        fill(shop)
    pages = path.stat().st_size // 4096
    with path.open("r+b") as file:
        for page in range(2, pages):
            file.seek(page * 4096)
            file.write(b"\xaa" * 4096)
    with pytest.raises(DatabaseTrouble, match="no sound database"), closing(Shop(path)) as shop:
        readings.every(shop, 1)


def test_a_folder_that_is_not_there_is_told_in_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "no" / "shop.db"
    with pytest.raises(DatabaseTrouble, match="cannot be opened and written") as trouble:
        Shop(path)
    assert "folder" in trouble.value.hint
    with pytest.raises(DatabaseTrouble, match="There is no file"):
        check(path)


def as_anyone(code: str, *arguments: Path) -> str:
    """Run in a process that owns nothing, since root may write anywhere; returns its last line."""
    drop = "import os\nif os.geteuid() == 0:\n    os.setgid(65534)\n    os.setuid(65534)\n"
    ran = subprocess.run(
        [sys.executable, "-c", IMPORTS + drop + code, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip().splitlines()[-1]


# All imported before the process gives its rights away.
IMPORTS = """
import sys
from pathlib import Path
from benchside.errors import DatabaseTrouble
from benchside.store.database import Shop, check
from benchside.store import readings
from tests.full_bench import begin, reading
import sqlite_utils
sqlite_utils.Database(memory=True).close()
"""


@pytest.fixture
def locked_folder() -> Iterator[Path]:
    """A folder that anyone can reach, to be made read-only."""
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)
        Path(name).chmod(0o755)


def test_a_read_only_folder_is_told_in_a_sentence_and_its_files_can_still_be_checked(
    locked_folder: Path,
) -> None:
    path = locked_folder / "shop.db"
    with closing(Shop(path)) as shop:
        begin(shop)
    path.chmod(0o444)
    locked_folder.chmod(0o555)
    said = as_anyone(
        "path = Path(sys.argv[1])\n"
        "check(path)\n"
        "for name in ('shop.db', 'new.db'):\n"
        "    try:\n"
        "        Shop(path.with_name(name))\n"
        "    except DatabaseTrouble as trouble:\n"
        "        print(trouble.message, end=' | ')\n",
        path,
    )
    assert said.count("cannot be opened and written to; nothing was saved.") == 2
    assert files_in(locked_folder) == ["shop.db"]


def test_a_full_disk_is_told_in_a_sentence_and_nothing_is_half_saved(path: Path) -> None:
    with closing(Shop(path)) as shop:
        set_id = begin(shop)
        (pages,) = shop.db.execute("PRAGMA page_count").fetchone()
        shop.db.execute(f"PRAGMA max_page_count = {pages + 2}")
        kept: list[int] = []

        def keep_in_twos() -> None:
            for number in range(1, 2000):
                with shop.transaction() as db:
                    readings.add(db, reading(2 * number, set_id))
                    readings.add(db, reading(2 * number + 1, set_id))
                kept.extend((2 * number, 2 * number + 1))

        with pytest.raises(DatabaseTrouble, match="disk that holds the data is full"):
            keep_in_twos()
        assert [int(row.key, 16) for row in readings.every(shop, set_id)] == kept != []
        (integrity,) = shop.db.execute("PRAGMA integrity_check").fetchone()
        assert integrity == "ok"
        shop.db.execute("PRAGMA max_page_count = 1000000")
        with shop.transaction() as db:
            readings.add(db, reading(9999, set_id))


def test_a_disk_that_takes_no_more_bytes_loses_nothing_that_was_acknowledged(path: Path) -> None:
    with closing(Shop(path)) as shop:
        set_id = begin(shop)
    code = (
        "import resource\n"
        "shop = Shop(Path(sys.argv[1]))\n"
        f"resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, {resource.RLIM_INFINITY}))\n"
        "kept = 0\n"
        "try:\n"
        "    for number in range(1, 5000):\n"
        "        with shop.transaction() as db:\n"
        f"            readings.add(db, reading(number, {set_id}))\n"
        "        kept += 1\n"
        "except DatabaseTrouble as trouble:\n"
        "    print(kept, trouble.message)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", IMPORTS + code, str(path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    kept, _, said = ran.stdout.partition(" ")
    assert "nothing was saved" in said
    check(path)
    with closing(Shop(path)) as shop:
        found = [row.key for row in readings.every(shop, set_id)]
    assert int(kept) > 0
    assert [int(key, 16) for key in found] == list(range(1, int(kept) + 1))


def test_every_threads_connection_is_durable_and_minds_foreign_keys(path: Path) -> None:
    def asked(shop: Shop) -> tuple[object, ...]:
        return tuple(
            shop.db.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys")
        )

    with closing(Shop(path)) as shop:
        answers = [asked(shop)]
        threads = [threading.Thread(target=lambda: answers.append(asked(shop))) for _ in range(3)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    # 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous
    assert answers == [("wal", 2, 1)] * 4


def test_closing_leaves_one_file_and_no_open_connection(path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        shop = Shop(path)
        other = threading.Thread(target=begin, args=[shop])
        other.start()
        other.join()
        assert path.with_name("shop.db-wal").exists()
        shop.close()
        del shop
        gc.collect()
    assert files_in(path.parent) == ["shop.db"]


def test_an_error_inside_a_transaction_takes_everything_back(path: Path) -> None:
    with closing(Shop(path)) as shop:
        set_id = begin(shop)

        def keep_and_stumble() -> None:
            with shop.transaction() as db:
                readings.add(db, reading(1, set_id))
                raise ZeroDivisionError

        with pytest.raises(ZeroDivisionError):
            keep_and_stumble()
        assert readings.every(shop, set_id) == []
        with shop.transaction() as db:
            readings.add(db, reading(1, set_id))


def test_a_mistake_in_a_query_is_not_told_as_a_broken_disk(path: Path) -> None:
    with closing(Shop(path)) as shop, pytest.raises(sqlite3.OperationalError, match="no such"):
        shop.rows("SELECT colour FROM reading")


def test_a_file_somebody_else_holds_is_told_in_a_sentence(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("benchside.store.database.BUSY_S", 0.05)
    with closing(Shop(path)) as shop, closing(sqlite3.connect(path)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(DatabaseTrouble, match="Something else is holding the data file"):
            shop.keep_setting("colour", "green")


def test_queries_of_one_snapshot_see_one_moment(path: Path) -> None:
    with closing(Shop(path)) as shop, closing(Shop(path)) as writer:
        set_id = begin(shop)
        with shop.snapshot():
            assert readings.every(shop, set_id) == []
            with writer.transaction() as db:
                readings.add(db, reading(1, set_id))
            assert readings.every(shop, set_id) == []
        assert len(readings.every(shop, set_id)) == 1
