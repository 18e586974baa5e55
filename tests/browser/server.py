"""Streamlit as a process of its own: started, waited for, stopped, killed, started again."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
START_S = 60


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def healthy(url: str) -> bool:
    try:
        with urllib.request.urlopen(f"{url}/_stcore/health", timeout=2) as answer:
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False


def wait_until_healthy(url: str, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + START_S
    while not healthy(url):
        said = log.read_text(encoding="utf-8", errors="replace")
        assert server.poll() is None, f"the server ended with {server.returncode}:\n{said}"
        assert time.monotonic() < end, f"the server wasn't ready after {START_S} s:\n{said}"
        time.sleep(0.05)


def stop(server: subprocess.Popen[bytes]) -> None:
    server.terminate()
    try:
        server.wait(10)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait(10)


def launch(
    script: Path,
    port: int,
    log: Path,
    env: Mapping[str, str] | None = None,
    settings: Mapping[str, str | Sequence[str]] | None = None,
) -> subprocess.Popen[bytes]:
    """Start Streamlit and return it once it answers."""
    chosen = {
        "server.port": str(port),
        "server.address": "127.0.0.1",
        "server.headless": "true",
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": "false",
        **(settings or {}),
    }
    given = {name: [held] if isinstance(held, str) else held for name, held in chosen.items()}
    options = [
        part for name, held in given.items() for each in held for part in (f"--{name}", each)
    ]
    with log.open("ab") as output:
        server = subprocess.Popen(
            [sys.executable, "-m", "streamlit", "run", str(script), *options],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), **(env or {})},
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    try:
        wait_until_healthy(f"http://127.0.0.1:{port}", server, log)
    except BaseException:
        stop(server)
        raise
    return server
