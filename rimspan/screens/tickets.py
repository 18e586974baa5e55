"""Tickets for those whom an identity provider knows: each good once, and for a minute.

Streamlit's own login gives the page a person's e-mail, but only an answer to a browser's own
request can give the browser a pass; the ticket leads from the one to the other.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Mapping

LASTS_S = 60.0
FRESH_S = 180.0
"""A login that is older than this must be made anew: else signing out would mean nothing."""


def account_of(claims: Mapping[str, object], now_s: float) -> str | None:
    """Return the e-mail of a fresh login whose provider vouches for it, or None.

    Parameters
    ----------
    claims : of the identity token (OpenID Connect Core 1.0, sections 2 and 5.1)
    now_s : the time, s since 1970, as ``iat`` is
    """
    account, issued = claims.get("email"), claims.get("iat")
    if not isinstance(account, str) or claims.get("email_verified") is not True:
        return None
    if not isinstance(issued, int | float) or not -FRESH_S <= now_s - issued <= FRESH_S:
        return None
    return account


class Tickets:
    """The tickets that are out."""

    def __init__(self) -> None:
        self._out: dict[str, tuple[str, float]] = {}
        self._used: set[str] = set()
        self._changing = threading.Lock()

    def issue(self, person: str, login: str, now_s: float) -> str | None:
        """Return a ticket for somebody, or None if their login was used before.

        Parameters
        ----------
        login : what tells this login from that person's others
        now_s : s, of a clock that only goes forward
        """
        with self._changing:
            if login in self._used:
                return None
            self._out = {t: held for t, held in self._out.items() if held[1] > now_s}
            made = secrets.token_urlsafe(32)
            self._out[made] = (f"{person}\n{login}", now_s + LASTS_S)
            return made

    def take(self, ticket: str, now_s: float) -> str | None:
        """Return whose ticket it is, once, or None; with it, its login is used up."""
        with self._changing:
            held = self._out.pop(ticket, None)
            if held is None or held[1] <= now_s:
                return None
            person, login = held[0].split("\n", 1)
            if login in self._used:
                return None
            self._used.add(login)
            return person


TICKETS = Tickets()
