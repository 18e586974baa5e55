"""``rimspan file``: what is done with the client file as a whole, or with one client."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable

from rimspan.clientfile import (
    ClientFile,
    DamagedError,
    RefusedError,
    Role,
    Secret,
    default_store,
    export_client,
    import_client,
    read_header,
    restore,
)
from rimspan.commands.unlock import (
    RECOVERY,
    RECOVERY_KEY_FROM,
    asked_recovery_key,
    new_passphrase,
    new_password,
    opened_file,
    passphrase_for_backup,
)
from rimspan.typed import shown


class DamageFoundError(Exception):
    """What ``rimspan file verify`` found: a line for each damage."""

    exit_status = 1


def run(arguments: argparse.Namespace) -> str:
    """Run the command and return what to say."""
    act: Callable[[argparse.Namespace], str] = ACTS[arguments.act]
    return act(arguments)


def _verify(arguments: argparse.Namespace) -> str:
    backup = read_header(arguments.backup) if arguments.backup else None
    with opened_file() as file:
        if backup is not None and not backup.vouched(file.ring):
            said = "is no backup of this client file, or its head was changed"
            raise DamagedError(f"{arguments.backup}: {said}")
        faults = file.verify(backup)
        unseen = file.unseen()
        entries = file.history.head().seq
    if faults:
        raise DamageFoundError("\n".join(faults))
    pages = f"Bytes that no row uses could not be: {unseen}." if unseen else _EVERY_PAGE
    said = f"Whole: every revision, photo, value and link was looked at ({entries} entries)."
    return f"{said}\n{pages}\n"


_EVERY_PAGE = "Every page of the database is as it was when the file was closed."


def _backup(arguments: argparse.Namespace) -> str:
    with opened_file() as file:
        made = file.back_up(arguments.to)
    return (
        f"Backed up into {arguments.to}, up to entry {made.head.seq}. It opens with the passphrase "
        "that the client file has now.\n"
    )


def _restore(arguments: argparse.Namespace) -> str:
    recovery_key = os.environ.get(RECOVERY_KEY_FROM)
    passphrase = None if recovery_key else passphrase_for_backup()
    secret = Secret.given(passphrase, recovery_key, demo=False)
    found = restore(arguments.backup, arguments.into, secret, arguments.newer)
    if found.faults:
        raise DamageFoundError("\n".join(found.faults))
    again = ""
    if found.erased_again:
        again = f" {found.erased_again} erased since then were erased again."
    return (
        f"Restored into {arguments.into}. Clients: {found.clients}.{again}\n"
        f"Lists of later erasures that were looked at: {found.lists_read}. Who was erased after "
        "the last of them is back: erase them again.\n"
    )


def _clients(arguments: argparse.Namespace) -> str:
    with opened_file() as file:
        return "".join(
            f"{each.id}  {shown(each.name)}\n" for each in file.clients(arguments.search)
        )


def _export(arguments: argparse.Namespace) -> str:
    with opened_file() as file:
        count = export_client(file, arguments.client, arguments.into)
    return f"{count} files in {arguments.into}. They are not sealed: keep them closely.\n"


def _import(arguments: argparse.Namespace) -> str:
    with opened_file() as file:
        made = import_client(file, arguments.folder)
    return f"Imported as client {made.id}.\n"


def _erase(arguments: argparse.Namespace) -> str:
    if not arguments.for_good:
        raise RefusedError("erasing can't be undone; say so with --for-good")
    with opened_file() as file:
        file.erase_client(arguments.client)
    return (
        f"Client {arguments.client} is erased. Make a backup now: a restore erases again whom a "
        "later backup names. Backups made before still hold the client's key; delete them when "
        "you can.\n"
    )


def _retention(arguments: argparse.Namespace) -> str:
    with opened_file() as file:
        if arguments.for_ever:
            file.set_retention(None)
        elif arguments.days is not None:
            file.set_retention(arguments.days)
        return _due(file)


def _due(file: ClientFile) -> str:
    days = file.retention_days()
    if days is None:
        return "Clients are kept until somebody erases them. Local law says how long that may be.\n"
    lines = "".join(f"{each.id}  {each.name}\n" for each in file.due())
    return f"Kept for {days} days after the last entry. Longer than that:\n{lines or 'nobody.'}\n"


def _passphrase(arguments: argparse.Namespace) -> str:
    with opened_file() as file:
        file.slots.change_passphrase(new_passphrase())
    return "Changed. Backups made before still open with the old passphrase.\n"


def _recover(arguments: argparse.Namespace) -> str:
    with ClientFile.open(default_store(), recovery_key=asked_recovery_key()) as file:
        file.slots.change_passphrase(new_passphrase())
    return "The new passphrase opens the client file. The recovery key stays as it is.\n"


def _recovery_key(arguments: argparse.Namespace) -> str:
    with opened_file() as file:
        return RECOVERY.format(key=file.slots.new_recovery_key())


def _manager(arguments: argparse.Namespace) -> str:
    password = new_password()
    with opened_file() as file:
        known = {each.name.casefold(): each for each in file.people.all()}
        person = known.get(arguments.name.strip().casefold())
        if person is None:
            person = file.people.add(arguments.name, Role.MANAGER, password)
        else:
            person = file.people.change(person, role=Role.MANAGER, active=True, password=password)
    return f"{person.name} is a manager, and signs in with the new password.\n"


ACTS: dict[str, Callable[[argparse.Namespace], str]] = {
    "verify": _verify,
    "backup": _backup,
    "restore": _restore,
    "clients": _clients,
    "export": _export,
    "import": _import,
    "erase": _erase,
    "retention": _retention,
    "passphrase": _passphrase,
    "recover": _recover,
    "recovery-key": _recovery_key,
    "manager": _manager,
}
