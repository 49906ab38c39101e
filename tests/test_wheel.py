"""What a stranger gets from the wheel alone, in an environment that never saw this checkout."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import urllib.request
import venv
import zipfile
from pathlib import Path

import pytest

from tests.serving import ROOT, wait_until_ready

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder)]
    subprocess.run([*build, str(ROOT)], check=True, capture_output=True, text=True, timeout=300)
    (made,) = folder.glob("benchside-*.whl")
    return made


def test_the_wheel_carries_the_static_files_the_demo_and_every_template(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    for folder, place in (
        (ROOT / "static", "benchside/static"),
        (ROOT / "seed_demo", "benchside/seed_demo"),
        (ROOT / "benchside", "benchside"),
    ):
        for path in folder.rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                assert f"{place}/{path.relative_to(folder).as_posix()}" in inside
    assert not [name for name in inside if name.startswith("tests/")]


def test_the_demo_starts_from_the_installed_wheel_in_any_folder(
    wheel: Path, tmp_path: Path
) -> None:
    place, elsewhere = tmp_path / "venv", tmp_path / "elsewhere"
    elsewhere.mkdir()
    venv.create(place, with_pip=True)
    programs = place / ("Scripts" if os.name == "nt" else "bin")
    install = [programs / "python", "-m", "pip", "install", "--quiet", wheel]
    subprocess.run(install, check=True, capture_output=True, text=True, timeout=600)
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    with subprocess.Popen(
        [programs / "benchside", "demo", "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        cwd=elsewhere,
        env={**clean, "PYTHONIOENCODING": "utf-8"},
    ) as demo:
        try:
            url = wait_until_ready(demo).url
            with urllib.request.urlopen(url + "/", timeout=30) as reply:
                page = reply.read().decode()
            assert "/sets/1" in page
            sheet = re.search(r'href="(/static/\w+/base\.css[\w.+]*)"', page)
            assert sheet
            with urllib.request.urlopen(url + sheet[1], timeout=30) as reply:
                assert reply.headers["Content-Type"].startswith("text/css")
                assert reply.read().startswith((ROOT / "static" / "base.css").read_bytes())
        finally:
            demo.terminate()
            demo.communicate(timeout=30)
    assert list(elsewhere.iterdir()) == []
