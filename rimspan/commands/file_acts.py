"""What ``rimspan file`` understands; loads nothing, so that help is quick."""

from __future__ import annotations

import argparse
from pathlib import Path


def _days(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"must be a whole number from 1 up (got {text!r})")
    return int(text)


def add_acts(top: argparse.ArgumentParser) -> None:
    """Give the parser of ``rimspan file`` what it can do."""
    acts = top.add_subparsers(dest="act", required=True, metavar="ACT")
    verify = acts.add_parser("verify", help="prove that everything in it is whole")
    verify.add_argument("--backup", type=Path, metavar="FILE", help="what it knew must be there")
    backup = acts.add_parser("backup", help="write everything, sealed, into one file")
    backup.add_argument("to", type=Path, metavar="FILE")
    back = acts.add_parser("restore", help="bring a backup back into a new store")
    back.add_argument("backup", type=Path, metavar="FILE")
    back.add_argument("--into", required=True, metavar="STORE", help="a folder or database URL")
    back.add_argument(
        "--newer",
        action="append",
        default=[],
        metavar="FILE_OR_STORE",
        help="knows who was erased since; may be repeated",
    )
    clients = acts.add_parser("clients", help="list the clients with their ids")
    clients.add_argument("search", nargs="?", default="", metavar="PART_OF_NAME")
    export = acts.add_parser("export", help="write one client as a readable folder, not sealed")
    export.add_argument("client", metavar="ID")
    export.add_argument("into", type=Path, metavar="FOLDER")
    bring = acts.add_parser("import", help="bring an exported client in, as a new one")
    bring.add_argument("folder", type=Path, metavar="FOLDER")
    erase = acts.add_parser("erase", help="destroy one client's key for good")
    erase.add_argument("client", metavar="ID")
    erase.add_argument("--for-good", action="store_true", help="it can't be undone")
    keep = acts.add_parser("retention", help="say how long clients are kept, list who is due")
    length = keep.add_mutually_exclusive_group()
    length.add_argument("--days", type=_days, metavar="N")
    length.add_argument("--for-ever", action="store_true")
    acts.add_parser("passphrase", help="change the passphrase")
    acts.add_parser("recover", help="set a new passphrase by the recovery key")
    acts.add_parser("recovery-key", help="make a new recovery key, in place of the one before")
    manager = acts.add_parser("manager", help="let somebody manage, with a new password")
    manager.add_argument("name", metavar="NAME")
