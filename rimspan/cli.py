"""The command line: ``rimspan card | measure | snap | trace | demo | app | file``.

Exit status: 0 done, whatever the verdict; 1 ``file verify`` found damage, a line for each; 2 bad
input or refused, a line for each fault on standard error; 3 no photo can be measured; 70 an
internal fault, one line with the log's place.  With 2, 3 or 70 nothing is written.
"""

from __future__ import annotations

import argparse
import importlib
import io
import math
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from platformdirs import user_log_path

from assess.talk.sentences import LANGUAGES
from rimspan import __version__
from rimspan.commands.file_acts import add_acts
from rimspan.commands.files import refuse

INTERNAL_FAULT = 70
INTERRUPTED = 130

Command = Callable[[argparse.Namespace], str]


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, like every other refusal."""

    def error(self, message: str) -> NoReturn:
        raise refuse(self.prog, message, f"see {self.prog} --help")


def _command(name: str) -> Command:
    """Return what runs a command; its module is loaded only then, so that help is quick."""

    def run(arguments: argparse.Namespace) -> str:
        said: str = importlib.import_module(f"rimspan.commands.{name}").run(arguments)
        return said

    return run


def _seed(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"must be a whole number from 0 up (got {text!r})")
    return int(text)


def _add_card(commands: argparse._SubParsersAction[_Parser]) -> None:
    card = commands.add_parser("card", help="write the printable scale card")
    card.add_argument("--size", required=True, choices=("a4", "letter", "pocket"))
    card.add_argument("--out", required=True, type=Path, help="a .pdf, .svg or .png file")
    card.add_argument("--dpi", type=int, default=600, help="of a .png (default: 600)")
    card.set_defaults(run=_command("card"))


def _add_measure(commands: argparse._SubParsersAction[_Parser]) -> None:
    measure = commands.add_parser("measure", help="measure marked photos")
    measure.add_argument("marks", type=Path, metavar="MARKS.json")
    measure.add_argument("--out", metavar="RESULT.json", help="- for standard output")
    measure.add_argument("--plot", type=Path, metavar="FILE.png", help="the photo, drawn on")
    measure.add_argument(
        "--sides", type=Path, metavar="FILE.svg", help="drawings from two sides; or .png"
    )
    measure.add_argument("--camera", type=Path, metavar="PROFILE.json")
    measure.add_argument(
        "--confirm",
        metavar="NAME",
        help="the named piercer states that they examined the ear and decide",
    )
    measure.add_argument("--report", type=Path, metavar="FILE.pdf", help="needs --confirm")
    measure.add_argument(
        "--report-language", choices=LANGUAGES, default="en", help="of the report (default: en)"
    )
    measure.add_argument("--seed", type=_seed, default=1, metavar="N", help="(default: 1)")
    measure.add_argument(
        "--budget", action="store_true", help="add what the uncertainty is made of"
    )
    measure.set_defaults(run=_command("measure"))


def _point(text: str) -> tuple[float, float]:
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"must be X,Y in pixels (got {text!r})") from None
    if not (math.isfinite(x) and math.isfinite(y)):
        raise argparse.ArgumentTypeError(f"must be finite (got {text!r})")
    return x, y


def _add_help(commands: argparse._SubParsersAction[_Parser]) -> None:
    snap = commands.add_parser("snap", help="find the pen dots nearest to points of a photo")
    snap.add_argument("photo", type=Path, metavar="PHOTO")
    snap.add_argument(
        "--near", required=True, action="append", type=_point, metavar="X,Y", help="may be repeated"
    )
    snap.set_defaults(run=_command("snap"))
    trace = commands.add_parser("trace", help="propose a rim's contour from a few taps")
    trace.add_argument("photo", type=Path, metavar="PHOTO")
    trace.add_argument("--kind", required=True, choices=("outer", "inner"))
    trace.add_argument(
        "--taps", required=True, type=Path, metavar="TAPS.json", help="[[x, y], ...] in order"
    )
    trace.set_defaults(run=_command("trace"))


def _add_lens(commands: argparse._SubParsersAction[_Parser]) -> None:
    camera = commands.add_parser("camera", help="make a lens profile from tilted photos of a card")
    camera.add_argument("photos", type=Path, nargs="+", metavar="PHOTO")
    camera.add_argument("--out", required=True, type=Path, metavar="PROFILE.json")
    camera.set_defaults(run=_command("camera"))
    check = commands.add_parser("card-check", help="check print, flatness and lens on a photo")
    check.add_argument("photo", type=Path, metavar="PHOTO")
    check.set_defaults(run=_command("card_check"))


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    top = _Parser(
        prog="rimspan",
        description="Measure an ear's rim on ordinary photos with a printed card. "
        "The piercer who examines the ear decides.",
    )
    top.add_argument("--version", action="version", version=f"rimspan {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_card(commands)
    _add_measure(commands)
    _add_help(commands)
    _add_lens(commands)
    demo = commands.add_parser("demo", help="lay out sample photos, marks and a demo client file")
    demo.add_argument("--into", type=Path, default=Path("rimspan-demo"), metavar="DIR")
    demo.set_defaults(run=_command("demo"))
    app = commands.add_parser("app", help="start the screens")
    app.add_argument("--port", type=int, default=None, help="(default: 8501 or the next free)")
    app.add_argument(
        "--address",
        default=None,
        metavar="IP",
        help="0.0.0.0 lets everyone in this machine's network open the screens, for a tablet and "
        "a phone in a closed studio network (default: this machine alone)",
    )
    app.set_defaults(run=_command("app"))
    file = commands.add_parser("file", help="look after the client file")
    add_acts(file)
    file.set_defaults(run=_command("file"))
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; never raises, never prints a traceback."""
    try:
        arguments = parser().parse_args(argv)
        run: Command = arguments.run
        _say(run(arguments))
    except SystemExit as leaving:  # --help and --version
        return int(leaving.code or 0)
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:
        return _report(error)
    return 0


def _say(text: str) -> None:
    if not text:
        return
    if isinstance(sys.stdout, io.TextIOWrapper):
        # The JSON is UTF-8 whatever the machine's habit; a terminal keeps its own letters.
        encoding = sys.stdout.encoding if sys.stdout.isatty() else "utf-8"
        sys.stdout.reconfigure(encoding=encoding, errors="backslashreplace")
    try:
        print(text, end="" if text.endswith("\n") else "\n")
        sys.stdout.flush()
    except BrokenPipeError:  # the reader left: nothing more to say
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _report(error: Exception) -> int:
    """Say each fault in one line and return the exit status."""
    status = getattr(error, "exit_status", None)
    if isinstance(status, int):
        for line in str(error).splitlines():
            print(line, file=sys.stderr)
        return status
    place = _log(error)
    kind = type(error).__name__
    print(
        f"rimspan: internal fault ({kind}), nothing was written; please report it with {place}",
        file=sys.stderr,
    )
    return INTERNAL_FAULT


def _log(error: Exception) -> str:
    """Append the traceback to the log and return where that is."""
    text = "".join(traceback.format_exception(error))
    for folder in (user_log_path("rimspan", appauthor=False), Path.cwd()):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with (folder / "rimspan.log").open("a", encoding="utf-8") as log:
                log.write(text + "\n")
        except OSError:
            continue
        return str(folder / "rimspan.log")
    return "the steps that led here (no log could be written)"
