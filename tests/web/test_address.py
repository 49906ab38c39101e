from __future__ import annotations

import ipaddress
import re
import socket

import pytest
import segno

from benchside.web import address
from benchside.web.qr import svg_qr, terminal_qr

URL = "http://bench.local:8000/pair?code=ACDEFGHJ"


def test_served_to_this_computer_only_it_answers_to_this_computers_names_only() -> None:
    assert address.allowed_hosts(lan=False, name="bench.lan") == {"127.0.0.1", "localhost", "::1"}


def test_open_to_the_network_it_answers_to_the_makers_name_its_own_and_its_numbers() -> None:
    hosts = address.allowed_hosts(lan=True, name=" Bench.LAN. ")
    own = {address.host_name(), address.local_name()} - {""}
    assert hosts == {"127.0.0.1", "localhost", "::1", "bench.lan"} | own | set(
        address.lan_addresses()
    )
    assert all(host == host.lower() and host and not host.endswith(".") for host in hosts)


def test_the_name_that_stays_is_shown_before_todays_number() -> None:
    named = address.lan_urls(8000, "Bench.lan.")
    assert named[0] == "http://bench.lan:8000"
    assert address.lan_urls(80, "bench.lan")[0] == "http://bench.lan"
    number = address.number_now()
    assert named[1:] == ((f"http://{number}:8000",) if number else ())


def test_the_numbers_found_reach_this_laptop() -> None:
    for number in address.lan_addresses():
        assert not ipaddress.ip_address(number).is_loopback
        with socket.create_server(("0.0.0.0", 0)) as server:
            port = server.getsockname()[1]
            with socket.create_connection((number, port), timeout=5):
                there, _ = server.accept()
                there.close()


@pytest.mark.parametrize("url", [URL, "http://192.168.4.20:8000/pair?code=ACDEFGHJ"])
def test_the_terminals_picture_is_the_code_dark_on_light_with_its_quiet_zone(url: str) -> None:
    light = {"█": (True, True), "▀": (True, False), "▄": (False, True), " ": (False, False)}
    drawn: list[list[bool]] = []
    for line in terminal_qr(url, coloured=False).splitlines():
        for half in (0, 1):
            drawn.append([not light[block][half] for block in line])
    wanted = [
        [bool(module) for module in row]
        for row in segno.make(url, error="l", micro=False).matrix_iter(border=4)
    ]
    assert drawn[: len(wanted)] == wanted
    assert len(drawn) - len(wanted) in {0, 1}


def test_the_terminals_picture_sets_its_own_colours() -> None:
    plain, coloured = terminal_qr(URL, coloured=False), terminal_qr(URL)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain
    assert all(line.startswith("\x1b[97;40m") for line in coloured.splitlines())


def test_the_pages_picture_is_dark_on_white_and_has_no_style_of_its_own() -> None:
    svg = svg_qr(URL)
    assert svg.startswith("<svg ")
    assert "style" not in svg
    assert 'fill="#fff"' in svg
    assert 'stroke="#000"' in svg
    # The path draws the code's own modules: read them back, row by row, and compare.
    wanted = [
        [bool(module) for module in row]
        for row in segno.make(URL, error="m", micro=False).matrix_iter(border=4)
    ]
    size = len(wanted)
    drawn = [[False] * size for _ in range(size)]
    x, y = 0.0, 0.0
    path = re.search(r'd="(M[^"]*)" ?/?>?</svg>|stroke="#000" d="(M[^"]*)"', svg)
    assert path is not None
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", path[1] or path[2]):
        values = [float(v) for v in numbers.split()]
        if command == "h":
            for column in range(int(x), int(x + values[0])):
                drawn[int(y)][column] = True
            x += values[0]
        else:
            x, y = (values[0], values[1]) if command == "M" else (x + values[0], y + values[1])
    assert drawn == wanted
