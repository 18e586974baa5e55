"""Under which address a phone in the studio's network reaches this server."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlsplit

from rimspan.screens.phone.words import Sentences

_ELSEWHERE = ("203.0.113.1", 9)
"""A documentation address (RFC 5737): choosing a way to it sends nothing."""

COMMAND = "rimspan app --address 0.0.0.0"

ONLY_HERE = Sentences(
    "The program answers on this machine alone.",
    "A phone can't reach it.",
    f"Start it with “{COMMAND}”, in the studio's own closed network only.",
)
NO_NETWORK = Sentences(
    "This machine is in no network.",
    "A phone can't reach it.",
    "Join the studio's own network, then open this page again.",
)

EVERYWHERE = (None, "", "0.0.0.0", "::")  # noqa: S104  (told apart, not bound to)
"""Addresses to listen on that mean every network this machine is in."""


@dataclass(frozen=True, slots=True)
class Reach:
    """Where phones find this server: ``http://HOST:PORT``."""

    base: str


def lan_address() -> str | None:
    """Return this machine's address in its network, or None where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
            found = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if is_local(found) else found


def is_local(host: str) -> bool:
    """Return whether a host's name or address means the machine that asks."""
    name = host.lower().rstrip(".")
    if name == "localhost" or name.endswith(".localhost"):
        return True
    try:
        number = ipaddress.ip_address(name)
    except ValueError:
        return False
    return number.is_loopback or number.is_unspecified


def reach(
    opened_at: str | None,
    listens_on: str | None,
    port: int,
    lan: Callable[[], str | None] = lan_address,
) -> Reach | Sentences:
    """Return where a phone finds this server, or why it can't.

    Parameters
    ----------
    opened_at : the address in the browser that shows the screens
    listens_on : the address the server is bound to; None for all
    port : the server's port, where the browser's address isn't known
    lan : finds this machine's address in its network
    """
    parts = urlsplit(opened_at or f"http://localhost:{port}")
    if parts.hostname and not is_local(parts.hostname):
        return Reach(f"{parts.scheme}://{parts.netloc}")
    everywhere = listens_on in EVERYWHERE
    if not everywhere and is_local(str(listens_on)):
        return ONLY_HERE
    host = lan() if everywhere else listens_on
    if host is None:
        return NO_NETWORK
    shown = f"[{host}]" if ":" in host else host
    return Reach(f"{parts.scheme}://{shown}" + (f":{parts.port}" if parts.port else ""))
