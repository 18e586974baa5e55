"""Opening the client file for a command: its passphrase from the environment or a prompt.

Never from the command line: that would stand in the shell's history, and in the list of
processes for everybody on the machine to read.
"""

from __future__ import annotations

import os
import sys
from getpass import getpass

from rimspan.clientfile import (
    PASSPHRASE_FROM,
    ClientFile,
    RefusedError,
    checked_passphrase,
    default_store,
    needs,
)

NEW_PASSPHRASE_FROM = "RIMSPAN_NEW_PASSPHRASE"  # noqa: S105  (where it is, not what it is)
NEW_PASSWORD_FROM = "RIMSPAN_NEW_PASSWORD"  # noqa: S105  (where it is, not what it is)
RECOVERY_KEY_FROM = "RIMSPAN_RECOVERY_KEY"

NEW_FILE = """This is a new client file. What is kept in it is sealed by a passphrase of your
choice: four words or more that nobody would guess together. Without it, or the recovery key
that is shown next, nobody can open the file again, nor can whoever made this program.
"""
RECOVERY = """The recovery key. It opens the client file if the passphrase is lost, and is shown
this once. Write it on paper and keep it locked away, not beside this machine:

    {key}
"""


def at_terminal() -> bool:
    """Return whether somebody can be asked."""
    return sys.stdin is not None and sys.stdin.isatty()


def opened_file(store: str | None = None) -> ClientFile:
    """Return the open client file; asks for what it needs if somebody is at the terminal.

    Raises
    ------
    ClientFileError
        If it can't be opened.
    """
    where = store or default_store()
    wanted = needs(where)
    if os.environ.get(PASSPHRASE_FROM) or wanted is None or not at_terminal():
        return ClientFile.open(where)
    if wanted == "passphrase":
        return ClientFile.open(where, getpass("Passphrase of the client file: "))
    sys.stderr.write(NEW_FILE)
    file = ClientFile.open(where, new_passphrase())
    sys.stderr.write(RECOVERY.format(key=file.slots.new_recovery_key()))
    getpass("Press Enter once it is written down. ")
    return file


def passphrase_for_backup() -> str | None:
    """Return the passphrase of a backup, asked for where the environment has none."""
    if os.environ.get(PASSPHRASE_FROM) or not at_terminal():
        return None
    return getpass("Passphrase of the client file when the backup was made: ")


def new_passphrase() -> str:
    """Return a new passphrase, from the environment or asked for twice.

    Raises
    ------
    RefusedError
        If it is too short, the two differ or nobody can be asked.
    """
    given = os.environ.get(NEW_PASSPHRASE_FROM)
    if given:
        return checked_passphrase(given)
    if not at_terminal():
        said = f"nobody can be asked for a new passphrase here; give it in {NEW_PASSPHRASE_FROM}"
        raise RefusedError(said)
    passphrase = checked_passphrase(getpass("New passphrase: "))
    if getpass("The same again: ") != passphrase:
        raise RefusedError("the two passphrases differ; nothing was changed, do it again")
    return passphrase


def new_password() -> str:
    """Return a person's new password, from the environment or asked for twice.

    Raises
    ------
    RefusedError
        If the two differ or nobody can be asked.
    """
    given = os.environ.get(NEW_PASSWORD_FROM)
    if given:
        return given
    if not at_terminal():
        said = f"nobody can be asked for a new password here; give it in {NEW_PASSWORD_FROM}"
        raise RefusedError(said)
    password = getpass("New password: ")
    if getpass("The same again: ") != password:
        raise RefusedError("the two passwords differ; nothing was changed, do it again")
    return password


def asked_recovery_key() -> str:
    """Return the recovery key, from the environment or asked for.

    Raises
    ------
    RefusedError
        If nobody can be asked.
    """
    given = os.environ.get(RECOVERY_KEY_FROM)
    if given:
        return given
    if not at_terminal():
        said = f"nobody can be asked for the recovery key here; give it in {RECOVERY_KEY_FROM}"
        raise RefusedError(said)
    return getpass("Recovery key: ")
