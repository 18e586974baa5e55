"""The kinds of records that a client file keeps beside the assessments, as data.

A new kind is one line in ``KINDS``: its name, of whom it is, and what its document must hold.  No
migration is needed for one.  What more a document means is for whoever writes and reads it; a
document may gain fields, so read those that came later with a default.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from rimspan.clientfile.errors import RefusedError

Of = Literal["client", "studio"]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of record: of a client or of the studio, and the fields that it must have."""

    name: str
    of: Of
    must: Mapping[str, type]


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("insertion", "client", {"revision": int, "pierced_by": str, "put_in": list}),
        Kind("baseline", "client", {"insertion": int}),
        Kind("not_here", "client", {"decided_by": str, "findings": list, "elsewhere": list}),
        Kind("wish", "client", {"wishes": list}),
        Kind("visit", "client", {}),
        Kind("outcome", "client", {}),
        Kind("plan", "client", {}),
        Kind("stock", "studio", {"items": list}),
        Kind("criteria", "studio", {}),
    )
}
"""By name.  Assessments are named by their number: ids change where a client is imported."""


def checked(name: str, of: Of, document: Mapping[str, Any]) -> Kind:
    """Return the kind that a document may be kept as.

    Raises
    ------
    RefusedError
        If there is no such kind, it is of somebody else, or the document lacks something.
    """
    kind = KINDS.get(name)
    if kind is None or kind.of != of:
        raise RefusedError(f"{name[:20]}: is no kind of record of a {of}")
    for field, wanted in kind.must.items():
        if not isinstance(document.get(field), wanted):
            raise RefusedError(f"a record of kind {name} lacks {field}; it isn't kept")
    return kind
