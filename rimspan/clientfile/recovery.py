"""The recovery key as people write it down: groups of four, the last to check the others."""

from __future__ import annotations

import base64
import os
from hashlib import sha256

from rimspan.clientfile.errors import WrongKeyError

KEY_BYTES = 20
GROUP = 4


def new_recovery_key() -> str:
    """Return a new recovery key: 160 random bits as eight groups, and one that checks them."""
    text = base64.b32encode(os.urandom(KEY_BYTES)).decode()
    whole = text + _check(text)
    return "-".join(whole[at : at + GROUP] for at in range(0, len(whole), GROUP))


def read_recovery_key(written: str) -> str:
    """Return a recovery key as it counts, however it was spaced and written.

    Raises
    ------
    WrongKeyError
        If a sign is missing or wrong.
    """
    # 0 and 1 aren't in the alphabet: who reads one of them means O or I.
    signs = "".join(sign for sign in written.upper() if sign.isalnum())
    signs = signs.translate(str.maketrans("01", "OI"))
    text, check = signs[:-GROUP], signs[-GROUP:]
    if len(text) != KEY_BYTES * 8 // 5 or check != _check(text):
        raise WrongKeyError("that is no recovery key; check its nine groups for a slip")
    return text


def _check(text: str) -> str:
    return base64.b32encode(sha256(text.encode()).digest()).decode()[:GROUP]
