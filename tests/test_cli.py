from __future__ import annotations

import json
import signal
import socket
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner, Result
from ezdxf.path import make_path

from benchside import cli
from benchside.paper.page import MARGIN_MM, page, scale_from_mm
from benchside.store import readings
from benchside.store.database import Shop, check
from tests.full_bench import at, fill, key, reading
from tests.paper import samples
from tests.serving import Serving, benchside, start, wait_until_ready

Run = Callable[..., Result]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shop.db"


@pytest.fixture
def full(path: Path) -> Path:
    with closing(Shop(path)) as shop:
        fill(shop)
    return path


@pytest.fixture
def run(path: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """``benchside`` in this process, on the test's own data, in the test's own folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BENCHSIDE_DB", str(path))

    def run(*arguments: str | Path, given: bytes | None = None) -> Result:
        return CliRunner().invoke(cli.main, [str(a) for a in arguments], input=given)

    return run


def one_line(result: Result) -> str:
    """What a mistake was answered with: one line, no traceback, exit code 1."""
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit)
    assert result.stderr.count("\n") == 1, result.stderr
    assert "Traceback" not in result.output
    return result.stderr.strip()


def get(url: str, browser: urllib.request.OpenerDirector | None = None) -> str:
    asked = urllib.request.Request(url, headers={"Accept": "text/html"})
    opener = browser or urllib.request.build_opener()
    with opener.open(asked, timeout=10) as reply:
        return str(reply.read().decode())


@pytest.mark.parametrize("asked", [("--help",), ("export", "--help")])
def test_no_command_s_line_is_cut_off_in_the_help(run: Run, asked: tuple[str, ...]) -> None:
    said = run(*asked)
    assert said.exit_code == 0
    commands = said.output.split("Commands:\n")[1].splitlines()
    assert len(commands) > 5
    assert [line for line in commands if line.endswith("...")] == []


@pytest.mark.usefixtures("full")
def test_a_backup_gets_a_name_by_day_and_time_and_is_said_to_be_checked(
    run: Run, tmp_path: Path
) -> None:
    result = run("backup")
    assert result.exit_code == 0
    (made,) = tmp_path.glob("benchside-*-*.db")
    assert made.name in result.stdout
    check(made)


@pytest.mark.usefixtures("full")
def test_a_backup_is_not_made_over_a_file_that_is_there_unless_forced(run: Run) -> None:
    assert run("backup", "mine.db").exit_code == 0
    assert "already. Give another name, or add --force." in one_line(run("backup", "mine.db"))
    assert run("backup", "mine.db", "--force").exit_code == 0


def test_a_backup_put_back_keeps_the_replaced_file(run: Run, full: Path, tmp_path: Path) -> None:
    run("backup", "mine.db")
    with closing(Shop(full)) as shop, shop.transaction() as db:
        readings.add(db, reading(500))
    result = run("restore", "mine.db")
    assert result.exit_code == 0
    (kept,) = tmp_path.glob("shop.replaced-*.db")
    assert str(kept) in result.stdout
    with closing(Shop(full)) as now, closing(Shop(kept)) as before:
        assert len(readings.every(now, 1)) == 6
        assert len(readings.every(before, 1)) == 7


@pytest.mark.usefixtures("full")
def test_a_restore_from_what_is_no_backup_is_refused(run: Run, tmp_path: Path) -> None:
    assert "There is no file" in one_line(run("restore", "none.db"))
    (tmp_path / "text.db").write_text("a shopping list\n" * 99)
    assert "Nothing was replaced" in one_line(run("restore", "text.db"))


@pytest.mark.usefixtures("full")
def test_an_export_comes_in_again_elsewhere_and_is_the_same(run: Run, tmp_path: Path) -> None:
    assert run("export", "-o", "all.json").exit_code == 0
    result = run("import", "all.json", "--db", "new.db")
    assert result.stdout == "Brought in: 3 sets, 2 patterns, 7 readings.\n"
    run("export", "-o", "again.json", "--db", "new.db")
    first, again = (
        json.loads((tmp_path / name).read_text("utf-8")) for name in ("all.json", "again.json")
    )
    for document in (first, again):
        del document["exported_at"], document["database_id"]
    assert first == again


@pytest.mark.usefixtures("full")
def test_one_set_is_exported_to_the_screen_and_can_be_piped_in(run: Run) -> None:
    text = run("export", "--set", "1").stdout
    assert [s["name"] for s in json.loads(text)["sets"]] == ["Hall bench"]
    result = run("import", "-", "--db", "new.db", given=text.encode())
    assert result.stdout == "Brought in: 1 set, 1 pattern, 6 readings.\n"
    again = run("import", "-", "--db", "new.db", given=text.encode())
    assert "Already here, and left as they are: Hall bench." in again.stdout


@pytest.mark.usefixtures("full")
def test_tables_come_in_elsewhere_and_are_the_same(run: Run, tmp_path: Path) -> None:
    tables, other = tmp_path / "all.zip", tmp_path / "other.db"
    assert run("export", "--as", "tables", "-o", tables).exit_code == 0
    assert "Brought in" in run("import", tables, "--db", other).stdout
    ours, theirs = (json.loads(run("export", *more).stdout) for more in ([], ["--db", other]))
    assert [s["readings"] for s in ours["sets"]] == [s["readings"] for s in theirs["sets"]]


@pytest.mark.usefixtures("full")
def test_every_row_that_cannot_be_taken_is_a_line_and_nothing_is_taken_unless_told_to(
    run: Run, tmp_path: Path
) -> None:
    document = json.loads(run("export").stdout)
    for row in document["sets"][0]["readings"][:2]:
        row["value_mm"] = -1
    file, other = tmp_path / "spoilt.json", tmp_path / "other.db"
    file.write_text(json.dumps(document), "utf-8")
    refused = run("import", file, "--db", other)
    assert refused.exit_code == 1
    for row in (0, 1):
        assert f"sets[0].readings[{row}].value_mm: -1 does not lie between" in refused.stderr
    assert not other.exists()
    taken = run("import", file, "--leave-out", "--db", other)
    assert taken.exit_code == 0
    assert "Brought in" in taken.stdout


@pytest.mark.usefixtures("full")
def test_a_table_of_readings_comes_into_a_set(run: Run, tmp_path: Path) -> None:
    table = tmp_path / "paper.csv"
    table.write_text("spindle,station,value_mm\n1,swell,24.2\n1,nowhere,24.2\n", "utf-8")
    refused = run("import", table, "--readings-of", "1")
    assert "1 row cannot be taken" in one_line(refused)
    taken = run("import", table, "--readings-of", "1", "--leave-out")
    assert taken.stdout == "Taken: 1 reading.\n"


@pytest.mark.usefixtures("full")
def test_an_export_is_not_written_over_a_file_that_is_there(run: Run) -> None:
    run("export", "-o", "all.json")
    assert "Add --force" in one_line(run("export", "-o", "all.json"))
    assert run("export", "-o", "all.json", "--force").exit_code == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"", "no whole JSON"),
        (b'{"benchside": 1', "no whole JSON"),
        (b"\xff\xfe", "no text"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"benchside": 7}', "newer benchside"),
        (b'{"a": "\\ud800"}', "no export of benchside"),
    ],
)
def test_an_import_of_what_is_no_export_is_one_line(run: Run, text: bytes, said: str) -> None:
    assert said in one_line(run("import", "-", given=text))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["backup"], "There are no data at"),
        (["export"], "There are no data at"),
        (["import", "none.json"], "none.json: No such file or directory."),
        (["restore", "none.db"], "There is no file"),
    ],
)
def test_a_slip_is_one_line_and_makes_no_empty_file(
    run: Run, path: Path, arguments: list[str], said: str
) -> None:
    assert said in one_line(run(*arguments))
    assert not path.exists()


@pytest.mark.usefixtures("full")
def test_an_unknown_set_is_one_line(run: Run) -> None:
    assert one_line(run("export", "--set", "99")) == "There is no such set."


def test_a_data_file_that_is_no_database_is_one_line(run: Run, path: Path) -> None:
    path.write_text("a shopping list\n" * 99)
    for command in (["export"], ["backup"], ["serve", "--port", "0"]):
        assert "is no sound database" in one_line(run(*command))


@pytest.mark.parametrize("port", ["-1", "65536", "eight"])
def test_a_port_that_is_none_is_refused(run: Run, port: str) -> None:
    result = run("serve", "--port", port)
    assert result.exit_code == 2
    assert "Traceback" not in result.output


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Serving, Path]]:
    """One server for the tests that only look, and its data file."""
    path = tmp_path_factory.mktemp("served") / "shop.db"
    with closing(Shop(path)) as shop:
        fill(shop)
    with benchside("serve", "--port", "0", "--db", path) as serving:
        yield serving, path


def test_a_server_says_where_the_data_lie_and_answers_when_it_says_ready(
    served: tuple[Serving, Path],
) -> None:
    serving, path = served
    assert f"Your data: {path}" in serving.said
    assert "from nowhere else" in serving.said
    assert serving.url.startswith("http://127.0.0.1:")
    assert "Hall bench" in get(serving.url + "/")


def test_a_server_without_lan_listens_to_this_laptop_alone(served: tuple[Serving, Path]) -> None:
    port = int(served[0].url.rpartition(":")[2])
    # The whole of 127.0.0.0/8 is this computer (RFC 1122, 3.2.1.3 g), but another address.
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.2", port), timeout=5)


def test_a_backup_and_an_export_can_be_made_while_serving(
    run: Run, served: tuple[Serving, Path], tmp_path: Path
) -> None:
    serving, path = served
    assert run("backup", "mine.db", "--db", path).exit_code == 0
    assert len(json.loads(run("export", "--db", path).stdout)["sets"]) == 3
    assert "is being served" in one_line(run("restore", "mine.db", "--db", path))
    assert "Hall bench" in get(serving.url + "/")
    with closing(Shop(tmp_path / "mine.db")) as shop:
        assert [row.key for row in readings.every(shop, 1)] == [key(n) for n in range(1, 7)]
        assert readings.every(shop, 1)[0].taken_at == at(1)


def test_two_servers_do_not_share_one_file(run: Run, served: tuple[Serving, Path]) -> None:
    said = one_line(run("serve", "--port", "0", "--db", served[1]))
    assert "is being served by another benchside" in said


@pytest.mark.slow
def test_a_server_open_to_the_network_says_so_and_lets_only_the_invited_in(path: Path) -> None:
    with benchside("serve", "--lan", "--port", "0", "--db", path, "--name", "bench.local") as s:
        port = s.url.rpartition(":")[2]
        assert f"http://bench.local:{port}" in s.said
        assert "only paired devices come in" in s.said
        (link,) = [word for word in s.said.split() if "/enter?code=" in word]
        assert link.startswith(f"http://127.0.0.1:{port}/enter?code=")
        assert "█" in s.said
        assert "Pair this" in get(s.url + "/")
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        assert "Pair this" not in get(link, browser)
        assert "Pair this" not in get(s.url + "/", browser)
        with pytest.raises(urllib.error.HTTPError, match="403"):
            get(link)  # works once


@pytest.mark.slow
def test_ctrl_c_and_a_polite_kill_end_a_server_quietly(path: Path) -> None:
    for how in (signal.SIGINT, signal.SIGTERM):
        with start("serve", "--port", "0", "--db", path) as process:
            wait_until_ready(process)
            process.send_signal(how)
            rest, _ = process.communicate(timeout=30)
        assert process.returncode == 0
        assert rest == "Stopped.\n"
    assert not path.with_name("shop.db-wal").exists()


def test_a_taken_port_is_one_line_that_names_another(run: Run) -> None:
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        said = one_line(run("serve", "--port", str(port)))
    assert f"Port {port} is taken" in said
    assert "--port" in said.partition("taken")[2]


def test_the_demo_is_a_copy_of_its_own_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine, temporary = tmp_path / "mine.db", tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setenv("BENCHSIDE_DB", str(mine))
    monkeypatch.setenv("TMPDIR", str(temporary))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    with benchside("demo", "--port", "0") as serving:
        assert "gone when you stop it" in serving.said
        shown = get(serving.url + "/")
        assert "/sets/1" in shown
        assert len(list(temporary.glob("benchside-demo-*"))) == 1
    assert list(temporary.iterdir()) == []
    assert not mine.exists()
    assert not (tmp_path / "data").exists()


@pytest.mark.slow
def test_a_demo_takes_the_next_free_port_when_none_was_asked_for() -> None:
    with benchside("demo") as first, benchside("demo") as second:
        assert first.url != second.url
        assert "/sets/1" in get(second.url + "/")


def test_every_command_explains_itself(run: Run) -> None:
    listed = run("--help").stdout
    for name in ("serve", "demo", "backup", "restore", "export", "import"):
        assert name in listed
        assert run(name, "--help").exit_code == 0
    assert run("--version").stdout == "benchside 0.1.0\n"


@pytest.mark.usefixtures("full")
@pytest.mark.parametrize(
    ("arguments", "begins"),
    [
        (["stick", "--set", "1", "--page", "long"], b"%PDF"),
        (["gauges", "--set", "1", "--page", "letter", "--shape", "half-round"], b"%PDF"),
        (["gauges-cut", "--set", "1", "--as", "svg", "--finished"], b"<svg"),
        (["set-sheet", "--set", "1"], b"%PDF"),
        (["as-made", "--set", "1"], b"%PDF"),
        (["check-sheet", "--page", "letter"], b"%PDF"),
        (["table", "--pattern", "1"], b"# pattern: "),
        (["outline", "--pattern", "1", "--half"], b"  0\nSECTION"),
    ],
)
def test_sheets_to_print_and_to_cut_are_written(
    run: Run, tmp_path: Path, arguments: list[str], begins: bytes
) -> None:
    made = run("export", *arguments, "-o", "made")
    assert made.exit_code == 0, made.output
    assert made.stderr == "Exported: made\n"
    assert (tmp_path / "made").read_bytes().startswith(begins)
    assert "--force" in one_line(run("export", *arguments, "-o", "made"))


@pytest.mark.usefixtures("full")
def test_a_sheet_that_cannot_be_is_refused_in_a_line(run: Run) -> None:
    assert "Of which set" in one_line(run("export", "stick"))
    assert "no pieces" in one_line(run("export", "labels", "--pattern", "1"))
    assert "is no page" in one_line(run("export", "stick", "--set", "1", "--page", "folio"))
    assert "check scale" in one_line(run("export", "stick", "--set", "1", "--page", "100x200"))
    assert "stands after it" in one_line(run("export", "--set", "1", "stick"))


@pytest.mark.usefixtures("full")
def test_sheets_are_drawn_for_the_printer_and_the_cutter_that_are_told(
    run: Run, tmp_path: Path
) -> None:
    run("export", "gauges-cut", "--set", "1", "-o", "plain")
    assert run("export", "gauges-cut", "--set", "1", "--kerf", "0.5", "-o", "cut").exit_code == 0
    wide, plain = (first_plate_mm(tmp_path / name) for name in ("cut", "plain"))
    assert wide - plain == pytest.approx((0.5, 0.5))
    assert "kerf" in one_line(run("export", "gauges-cut", "--set", "1", "--kerf", "80"))

    for more, long_mm in (((), 250.0), (("--measured", "245x195"), 250.0 * 250.0 / 245.0)):
        told = run("export", "stick", "--set", "1", *more, "-o", "stick", "--force")
        assert told.exit_code == 0, told.output
        assert scale_mm(tmp_path / "stick", long_mm) == pytest.approx(long_mm, abs=0.05)
    for wrong, said in (("245", "two scales"), ("150x195", "errs"), ("axb", "length")):
        assert said in one_line(run("export", "stick", "--set", "1", "--measured", wrong))


def first_plate_mm(file: Path) -> np.ndarray:
    """Length and width of the first gauge of a cutting file."""
    cut = ezdxf.readfile(file).modelspace().query('LWPOLYLINE[layer=="cut"]')[0]
    corners = np.array([(v.x, v.y) for v in make_path(cut).flattening(0.001)])
    return np.ptp(corners, axis=0)


def scale_mm(file: Path, about_mm: float) -> float:
    """How long the check scale along the foot of the first sheet is."""
    foot, left = 210 - MARGIN_MM, MARGIN_MM + scale_from_mm(page(297, 210))
    row = samples.seen(file.read_bytes(), 10, within=(0, foot - 5.2, 297, foot - 4.2)).row()
    return row.line_near(left + about_mm) - row.line_near(left)
