"""The tree of errors.

::

    ClientFileError         exit status 2
    ├── StoreError              the store can't be opened or written
    │   ├── LockedError             no passphrase was given
    │   └── WrongKeyError           what was given doesn't open it
    ├── UnknownError            no client, photo or revision of that id (any more)
    ├── RefusedError            what was asked for mustn't be done now
    │   └── OvertakenError          another chair was quicker; look again and do it anew
    └── DamagedError            what was read is not what was written
"""

from __future__ import annotations


class ClientFileError(Exception):
    """A refusal: what is wrong and what to do, in one line."""

    exit_status = 2


class StoreError(ClientFileError):
    """The store can't be opened or written."""


class LockedError(StoreError):
    """The store is locked, and no passphrase was given."""


class WrongKeyError(StoreError):
    """The passphrase or the recovery key doesn't open the store."""


class UnknownError(ClientFileError):
    """No record of that id, or none any more."""


class RefusedError(ClientFileError):
    """What was asked for mustn't be done as things are."""


class OvertakenError(RefusedError):
    """Another chair changed it meanwhile."""


class DamagedError(ClientFileError):
    """What was read is not what was written."""
