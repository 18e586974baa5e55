"""What the studio keeps: clients, photos, drafts, saved revisions.  The only user of SQL."""

from rimspan.clientfile.database import default_store
from rimspan.clientfile.errors import ClientFileError, DamagedError, StoreError, UnknownError
from rimspan.clientfile.records import Client, NewRevision, Revision, StoredPhoto
from rimspan.clientfile.repeats import Repeats
from rimspan.clientfile.store import ClientFile, canonical

__all__ = [
    "Client",
    "ClientFile",
    "ClientFileError",
    "DamagedError",
    "NewRevision",
    "Repeats",
    "Revision",
    "StoreError",
    "StoredPhoto",
    "UnknownError",
    "canonical",
    "default_store",
]
