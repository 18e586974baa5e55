"""``rimspan app``: starts the screens."""

from __future__ import annotations

import argparse

from rimspan.commands.files import CommandRefusedError, refuse
from rimspan.screens.launch import launch

INTERRUPTED = 130


def run(arguments: argparse.Namespace) -> str:
    """Run the command; returns when the screens are stopped."""
    return start_app(arguments.port)


def start_app(port: int | None = None) -> str:
    """Serve the screens on this machine alone until they are stopped.

    Raises
    ------
    CommandRefusedError
        If the port is none or the screens end with a fault.
    """
    if port is not None and not 1 <= port <= 65535:
        raise refuse("--port", f"must lie between 1 and 65535 (got {port})", "try 8501")
    status = launch(port=port)
    if status not in (0, INTERRUPTED):
        fault = refuse("rimspan app", f"the screens ended with {status}", "see the lines above")
        raise CommandRefusedError(fault.faults)
    return ""
