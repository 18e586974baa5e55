"""``rimspan app``: starts the screens."""

from __future__ import annotations

import argparse
import ipaddress
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

from rimspan.clientfile import default_store
from rimspan.commands.files import CommandRefusedError, refuse
from rimspan.commands.unlock import opened_file
from rimspan.screens.launch import launch
from rimspan.screens.store import hand_over

INTERRUPTED = 130
WALK_INS_STAY = timedelta(days=1)
"""What is left of older walk-ins, unreadable since the program that held their keys has ended."""


def run(arguments: argparse.Namespace) -> str:
    """Run the command; returns when the screens are stopped."""
    return start_app(arguments.port, arguments.address)


def start_app(port: int | None = None, address: str | None = None) -> str:
    """Serve the screens until they are stopped, on this machine alone unless told otherwise.

    Raises
    ------
    CommandRefusedError
        If the port or the address is none or the screens end with a fault.
    ClientFileError
        If the client file can't be opened; who is at the terminal is asked for its passphrase.
    """
    if port is not None and not 1 <= port <= 65535:
        raise refuse("--port", f"must lie between 1 and 65535 (got {port})", "try 8501")
    if address is not None and not _is_address(address):
        raise refuse(
            "--address", f"must be an IP address of this machine (got {address!r})", "try 0.0.0.0"
        )
    store = default_store()
    with _ending_in_order(), opened_file(store) as file:
        file.let_walk_ins_go(before=WALK_INS_STAY)
        hand_over(store, file)
        status = launch(port=port, address=address)
    if status not in (0, INTERRUPTED):
        fault = refuse("rimspan app", f"the screens ended with {status}", "see the lines above")
        raise CommandRefusedError(fault.faults)
    return ""


@contextmanager
def _ending_in_order() -> Iterator[None]:
    """Close the client file, too, when the system ends the program or its terminal is closed."""

    def ends(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    before = {signal.SIGTERM: signal.signal(signal.SIGTERM, ends)}
    if sys.platform != "win32":  # to whoever minds the other now: the screens, once they run
        hung_up = signal.signal(signal.SIGHUP, lambda *_: signal.raise_signal(signal.SIGTERM))
        before[signal.SIGHUP] = hung_up
    try:
        yield
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)


def _is_address(text: str) -> bool:
    try:
        return bool(ipaddress.ip_address(text))
    except ValueError:
        return text == "localhost"
