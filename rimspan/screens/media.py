"""Addresses under which the browser fetches a client's photo during a visit."""

from __future__ import annotations

from streamlit.runtime import get_instance


def photo_url(data: bytes) -> str:
    """Return an address for a JPEG or PNG that serves this visit and ends with it.

    Streamlit names a file by the hash of its bytes, so the address can't be guessed; it has no
    public way to ask for one, so this is the one place that uses the inner one.
    """
    kind = "image/png" if data.startswith(b"\x89PNG") else "image/jpeg"
    return get_instance().media_file_mgr.add(data, kind, "rimspan marking")
