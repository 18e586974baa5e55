"""The tree of errors.

::

    ClientFileError         exit status 2
    ├── StoreError              the store can't be opened
    ├── UnknownError            no client, photo or revision of that id
    └── DamagedError            what was read is not what was written
"""

from __future__ import annotations


class ClientFileError(Exception):
    """A refusal: what is wrong and what to do, in one line."""

    exit_status = 2


class StoreError(ClientFileError):
    """The store can't be opened."""


class UnknownError(ClientFileError):
    """No record of that id."""


class DamagedError(ClientFileError):
    """What was read is not what was written."""
