"""Limits on what a phone may send: by what it declares and by what it does."""

from __future__ import annotations

from typing import Any

import pytest

from rimspan.screens.phone import receiving
from rimspan.screens.phone.words import MOST_BYTES, MOST_PHOTOS

SMALL = 300_000
"""A limit for the tests; the phone sends in pieces of 64 kB."""
HEAD = b'--x\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n'


@pytest.fixture
def small(studio: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Return the studio with a limit of 300 kB."""
    within = receiving._within_limits

    def smaller(request: Any, _most: int) -> Any:
        return within(request, SMALL)

    monkeypatch.setattr(receiving, "_within_limits", smaller)
    return studio


def test_ten_photos_of_a_good_phone_fit() -> None:
    assert MOST_PHOTOS == 10
    assert MOST_BYTES >= 10 * 12_000_000


@pytest.mark.parametrize("declared", [True, False])
def test_too_much_is_refused_and_read_to_its_end(small: Any, declared: bool) -> None:
    """A browser that is answered before it has sent everything shows a broken connection."""
    path = small.path()
    answer = small.phone.send(path, ("a.jpg", bytes(2 * SMALL)), declared=declared)
    assert answer.status == 413
    assert "megabytes came at once. So much is not taken; nothing was kept." in answer.body
    assert answer.taken > 2 * SMALL
    assert small.names == []
    assert small.phone.get(path).status == 200


def test_a_length_that_lies_is_found_out(small: Any) -> None:
    lie = {"content-length": "1000", "content-type": "multipart/form-data; boundary=x"}
    answer = small.phone.ask("POST", small.path(), HEAD + bytes(2 * SMALL), lie)
    assert answer.status == 413
    assert small.names == []


@pytest.mark.parametrize("length", ["many", "-1", "1e3"])
def test_a_length_that_is_none_is_refused(studio: Any, length: str) -> None:
    headers = {"content-length": length, "content-type": "multipart/form-data; boundary=x"}
    assert studio.phone.ask("POST", studio.path(), b"", headers).status == 413


def test_no_endless_body_is_read(studio: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(receiving, "DRAINED_BYTES", SMALL)
    headers = {"content-length": str(MOST_BYTES + 1)}
    answer = studio.phone.ask("POST", studio.path(), bytes(10 * SMALL), headers)
    assert answer.status == 413
    assert SMALL < answer.taken < 2 * SMALL


def test_eleven_photos_are_too_many_and_ten_are_not(studio: Any, jpeg: Any) -> None:
    path = studio.path()
    photos = [(f"{number}.jpg", jpeg(number)) for number in range(11)]
    answer = studio.phone.send(path, *photos)
    assert answer.status == 413
    assert "More than 10 photos came at once." in answer.body
    assert studio.names == []
    assert studio.phone.send(path, *photos[:10]).status == 200
    assert len(studio.names) == 10


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("", b"a=b"),
        ("application/x-www-form-urlencoded", b"photo=a"),
        ("multipart/form-data", b"--x--"),
        ("multipart/form-data; boundary=x", b"no boundary in it"),
        ("multipart/form-data; boundary=x", b"--x\r\nContent-Disposition: form-data\r\n\r\n"),
    ],
)
def test_what_is_no_form_is_refused_and_the_link_lives(studio: Any, kind: str, body: bytes) -> None:
    path = studio.path()
    answer = studio.phone.ask("POST", path, body, {"content-type": kind})
    assert answer.status == 400
    assert "nothing was kept" in answer.body
    assert studio.phone.get(path).status == 200


def test_a_connection_that_ends_midway_keeps_nothing_and_the_link_lives(
    studio: Any, jpeg: Any
) -> None:
    path = studio.path()
    headers = {"content-type": "multipart/form-data; boundary=x"}
    answer = studio.phone.ask("POST", path, HEAD + bytes(SMALL), headers, cut=True)
    assert answer.status == 400
    assert studio.names == []
    assert studio.phone.send(path, ("a.jpg", jpeg(1))).status == 200


def test_a_crawling_upload_is_ended(studio: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit is set to none at all, so that the first wait is already too long."""
    monkeypatch.setattr(receiving, "GRACE_S", 0)
    crawling = receiving._counted

    async def pausing(request: Any, most: int) -> Any:
        import asyncio

        async for chunk in crawling(request, most):
            await asyncio.sleep(0)
            yield chunk

    monkeypatch.setattr(receiving, "_counted", pausing)
    answer = studio.phone.send(studio.path(), ("a.jpg", bytes(SMALL)))
    assert answer.status == 408
    assert "took too long to arrive" in answer.body


def test_unstripped_photos_stay_in_memory(studio: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that grows past its limit would go to the disk as it came."""
    import tempfile

    def to_disk(self: object) -> None:
        pytest.fail("an upload went to the disk")

    monkeypatch.setattr(tempfile.SpooledTemporaryFile, "rollover", to_disk)
    answer = studio.phone.send(studio.path(), ("a.jpg", bytes(3_000_000)))
    assert answer.status == 422
