"""The client file's hardness at length: each piece is run apart, and all are told in one table.

``python -m benchmarks.reliability --file kills`` runs a piece and keeps what came of it in
``file_reliability.json``; a piece may be run in shares, with seeds of their own.  After each, the
report ``file_reliability.md`` is written anew from all that is kept.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchmarks.file_report import report
from benchmarks.tables import machine

HERE = Path(__file__).parent
KEPT, REPORT = HERE / "file_reliability.json", HERE / "file_reliability.md"
FULL: dict[str, tuple[str, dict[str, float]]] = {
    "kills": ("file_kills", {"kills": 500}),
    "inputs": ("file_mutants", {"inputs": 10_000}),
    "flips": ("file_flips", {"flips": 1_000}),
    "chairs": ("file_chairs", {"chairs": 20, "seconds": 300, "pause": 1.0}),
    "full": ("file_full", {"rounds": 20}),
    "scale": ("file_scale", {}),
}
"""Each piece's module, and what is asked of it in full on the embedded store."""
ON_SERVER: dict[str, dict[str, float]] = {
    "kills": {"kills": 100},
    "chairs": {"chairs": 20, "seconds": 300, "pause": 1.0},
}
SHARED = {"kills", "inputs", "flips", "rounds", "seconds"}
"""What a share makes smaller."""


def run(piece: str, server: str | None, share: float, seed: int, more: list[str]) -> str:
    """Run a piece, keep what came of it, and return the report.

    Parameters
    ----------
    share : how much of what is asked in full, 0 to 1
    more : further options of the piece's own
    """
    module, asked = FULL[piece]
    asked = {**asked, **(ON_SERVER.get(piece, {}) if server else {})}
    given = [
        f"--{name}={round(value * share) if name in SHARED else value}"
        for name, value in asked.items()
    ]
    if piece not in ("chairs", "scale"):
        given.append(f"--seed={seed}")
    hidden = [f"--server={server}"] if server else []
    began = time.perf_counter()
    done = subprocess.run(  # noqa: S603  (our own program)
        [sys.executable, "-m", f"benchmarks.{module}", *given, *more, *hidden],
        check=True,
        stdout=subprocess.PIPE,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else []
    kept.append(
        {
            "piece": piece,
            "engine": "PostgreSQL" if server else "embedded",
            "options": " ".join([*given, *more]),
            "machine": machine(),
            "at": f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC",
            "load": round(os.getloadavg()[1], 1),
            "took_s": round(time.perf_counter() - began),
            "found": json.loads(done.stdout),
        }
    )
    return keep(kept)


def keep(kept: list[dict[str, Any]]) -> str:
    """Write down what is kept, and the report that is made of it."""
    KEPT.write_text(json.dumps(kept, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    words = report(kept)
    REPORT.write_text(words, encoding="utf-8")
    return words
