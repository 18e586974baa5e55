"""What the studio keeps: clients, photos, drafts, saved revisions.  The only user of SQL."""

from rimspan.clientfile.backup import Header, read_header
from rimspan.clientfile.base import canonical
from rimspan.clientfile.database import default_store
from rimspan.clientfile.errors import (
    ClientFileError,
    DamagedError,
    LockedError,
    OvertakenError,
    RefusedError,
    StoreError,
    UnknownError,
    WrongKeyError,
)
from rimspan.clientfile.exporting import export_client, export_zip
from rimspan.clientfile.importing import import_client
from rimspan.clientfile.keys import checked_passphrase
from rimspan.clientfile.opening import PASSPHRASE_FROM, Secret, needs
from rimspan.clientfile.people import NotSignedIn, Person, Role
from rimspan.clientfile.record_rows import Record
from rimspan.clientfile.recording import NewRecord
from rimspan.clientfile.records import Client, Consent, NewRevision, Revision, StoredPhoto, Void
from rimspan.clientfile.repeats import Repeats
from rimspan.clientfile.restore import Restored, restore
from rimspan.clientfile.store import ClientFile

__all__ = [
    "PASSPHRASE_FROM",
    "Client",
    "ClientFile",
    "ClientFileError",
    "Consent",
    "DamagedError",
    "Header",
    "LockedError",
    "NewRecord",
    "NewRevision",
    "NotSignedIn",
    "OvertakenError",
    "Person",
    "Record",
    "RefusedError",
    "Repeats",
    "Restored",
    "Revision",
    "Role",
    "Secret",
    "StoreError",
    "StoredPhoto",
    "UnknownError",
    "Void",
    "WrongKeyError",
    "canonical",
    "checked_passphrase",
    "default_store",
    "export_client",
    "export_zip",
    "import_client",
    "needs",
    "read_header",
    "restore",
]
