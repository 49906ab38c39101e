"""What this laptop is called on the workshop's network, for people and for the door."""

from __future__ import annotations

import ipaddress
import socket
from contextlib import closing, suppress

THIS_COMPUTER = frozenset({"127.0.0.1", "localhost", "::1"})
# A network kept for examples (RFC 5737): asking the way there sends nothing and reaches nobody.
_NOWHERE = ("192.0.2.1", 9)


def host_name() -> str:
    """This laptop's own name, in small letters, without a dot at its end; "" when it has none."""
    name = socket.gethostname().strip().lower().removesuffix(".")
    return "" if name in {"", "localhost", "localhost.localdomain"} else name


def local_name() -> str:
    """The name it is found by without a name server (multicast DNS, RFC 6762): NAME.local."""
    first = host_name().partition(".")[0]
    return f"{first}.local" if first else ""


def number_now() -> str:
    """The IPv4 number that the local network reaches this laptop at now; "" when there is none."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as asking:
        try:
            asking.connect(_NOWHERE)
        except OSError:
            return ""
        number = str(asking.getsockname()[0])
    return number if _is_on_a_network(number) else ""


def lan_addresses() -> tuple[str, ...]:
    """Every IPv4 number found for this laptop on a network, the one in use first."""
    found = [number_now()]
    with suppress(OSError):
        found += [
            str(where[4][0])
            for where in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        ]
    return tuple(dict.fromkeys(number for number in found if _is_on_a_network(number)))


def allowed_hosts(*, lan: bool, name: str = "") -> frozenset[str]:
    """The names and numbers a request may call this laptop by, without a port.

    ``name`` is one more that the maker gave. Without ``lan`` only this computer's own count.
    """
    if not lan:
        return THIS_COMPUTER
    names = {name.strip().lower().removesuffix("."), host_name(), local_name()} - {""}
    return THIS_COMPUTER | names | set(lan_addresses())


def lan_urls(port: int, name: str = "") -> tuple[str, ...]:
    """Where a phone finds this laptop, a name that stays first, the number of today after it."""
    called = name.strip().lower().removesuffix(".") or local_name()
    end = "" if port == 80 else f":{port}"
    return tuple(f"http://{host}{end}" for host in (called, number_now()) if host)


def _is_on_a_network(number: str) -> bool:
    try:
        address = ipaddress.ip_address(number)
    except ValueError:
        return False
    return not (address.is_loopback or address.is_unspecified or address.is_link_local)
