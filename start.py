"""Set Rimspan up in a fresh copy and start it: ``demo``, ``app`` or ``test``.

Needs nothing but Python 3.11 or newer: it makes the virtual environment ``.venv`` beside this
file, installs what ``pyproject.toml`` asks for, and does it again only when that changes.
"""

# Only syntax that older Pythons can read too: they get a sentence, not a syntax error.

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "rimspan-stamp.json"
OLDEST = (3, 11)

CHECKS = (
    ("ruff", "check", "."),
    ("ruff", "format", "--check", "."),
    ("mypy", "--num-workers=2"),
    ("lint-imports",),
    ("pytest", "-rsR", "--numprocesses=3", "--dist=loadfile"),
)
"""The whole check, the quickest first; it stops at the first that fails.

Of three workers one mostly waits for a browser: two cores are then in use.
"""


def obstacle(version: tuple[int, ...], have_venv: bool) -> str | None:
    """Return why this Python can't do it and what to do about it, or None if it can."""
    if version[:2] < OLDEST:
        found = ".".join(str(part) for part in version[:3])
        return (
            f"start.py: this is Python {found}, and Rimspan needs 3.11 or newer; "
            "install one from python.org or your system's packages and run it with that"
        )
    if not have_venv:
        return (
            "start.py: this Python comes without the modules venv and ensurepip; "
            "install them (on Debian and Ubuntu: apt-get install python3-venv) and run it again"
        )
    return None


def tool(name: str) -> str:
    """Return the path of a program inside the virtual environment."""
    folder, suffix = ("Scripts", ".exe") if os.name == "nt" else ("bin", "")
    return str(VENV / folder / (name + suffix))


def wanted(extras: str) -> dict[str, str]:
    """Return what the environment must have been made from to be right as it stands."""
    return {
        "folder": str(ROOT),
        "python": sys.version,
        "project": hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest(),
        "extras": extras,
    }


def is_right(stamp: dict[str, str] | None, want: dict[str, str]) -> bool:
    """Return whether the environment with that stamp will do; more extras never hurt."""
    if stamp is None:
        return False
    enough = want["extras"] in {"", stamp.get("extras")}
    same = all(stamp.get(name) == want[name] for name in ("folder", "python", "project"))
    return enough and same


def read_stamp() -> dict[str, str] | None:
    """Return the stamp of the environment that is there, or None."""
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return stamp if isinstance(stamp, dict) and Path(tool("python")).exists() else None


def prepare(extras: str) -> None:
    """Make the virtual environment, or leave it alone if it is right already."""
    stamp, want = read_stamp(), wanted(extras)
    if is_right(stamp, want):
        return
    # Its scripts hold absolute paths: another folder or another Python starts afresh.
    moved = stamp is not None and any(stamp.get(n) != want[n] for n in ("folder", "python"))
    print(f"Preparing {VENV} (a few minutes the first time) ...", flush=True)
    if moved or not Path(tool("python")).exists():
        run(sys.executable, "-m", "venv", "--clear", str(VENV))
    STAMP.unlink(missing_ok=True)
    target = f"{ROOT}[{extras}]" if extras else str(ROOT)
    # What is used is compiled at its first use; compiling all of it takes a minute.
    run(tool("python"), "-m", "pip", "install", "--quiet", "--no-compile", "--editable", target)
    STAMP.write_text(json.dumps(want, indent=1), encoding="utf-8")


def run(*command: str, **settings: str) -> None:
    """Run a command in the project's folder; end with its status if it fails."""
    done = subprocess.run(command, cwd=ROOT, env={**os.environ, **settings}, check=False)
    if done.returncode != 0:
        sys.exit(done.returncode)


def become(*command: str, **settings: str) -> None:
    """Run the last command in this process's place, so that stopping one stops both."""
    if os.name == "nt":  # Windows would return at once and leave the console to two programs
        run(*command, **settings)
        return
    os.chdir(ROOT)
    os.execve(command[0], command, {**os.environ, **settings})  # noqa: S606  (no shell wanted)


def demo(folder: Path) -> None:
    """Lay out the demo and start the screens on its client file."""
    run(tool("rimspan"), "demo", "--into", str(folder))
    become(tool("rimspan"), "app", RIMSPAN_STORE=str(folder))


def test() -> None:
    """Run the whole check."""
    for name, *arguments in CHECKS:
        print("$", name, *arguments, flush=True)
        # Tests start many programs.  Where a machine's settings forbid to keep what was compiled,
        # each of them would compile all that it imports anew, which takes seconds.
        run(tool(name), *arguments, PYTHONDONTWRITEBYTECODE="")


def main() -> None:
    """Do what the command line asks for."""
    why_not = obstacle(
        sys.version_info[:3], all(importlib.util.find_spec(m) for m in ("venv", "ensurepip"))
    )
    if why_not:
        sys.exit(why_not)
    parser = argparse.ArgumentParser(prog="start.py", description="Set Rimspan up and start it.")
    parser.add_argument(
        "what",
        choices=("demo", "app", "test"),
        help="demo: the screens on invented data; app: the screens on the studio's own client "
        "file; test: the whole check",
    )
    what = parser.parse_args().what
    prepare("test" if what == "test" else "")
    if what == "demo":
        demo(ROOT / "demo")
    elif what == "app":
        become(tool("rimspan"), "app")
    else:
        test()


if __name__ == "__main__":
    try:
        main()
    except KeyboardInterrupt:
        sys.exit(130)
