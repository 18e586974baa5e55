"""What the sign-in says."""

from __future__ import annotations

from rimspan.screens.sign_in_routes import NO_PASSPHRASE, STALE, UNFIT, WAIT, WRONG

FIRST = (
    "Nobody is named in this client file yet. Whoever is named here is a manager: a piercer who "
    "also says who works here. The passphrase of the client file shows that it is yours."
)
LOCKED = "Nothing was done here for a while. Marks and readings are kept; the password opens it."

_WORDS = {
    WRONG: "Name and password don't fit. Try again.",
    UNFIT: "The name is empty or taken, the two passwords differ, or they are shorter than 8 "
    "signs. Nobody was named.",
    NO_PASSPHRASE: "That isn't the passphrase of the client file. Nobody was named.",
    STALE: "That login was used before, or too long ago. Begin it again.",
}


def refusal_words(code: str) -> str:
    """Return what is said of a refusal, or ``""``."""
    kind, _, seconds = code.partition("-")
    if kind == WAIT and seconds.isdecimal():
        wait = "1 second" if seconds == "1" else f"{seconds} seconds"
        return f"Not signed in. After several tries the next one has to wait {wait}."
    return _WORDS.get(kind, "")
