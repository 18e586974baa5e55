"""A phone's page: it sends once, then it is dead, and it never shows anything of the client."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from PIL import Image

from rimspan.phone_link import GRACE_S, LIFE_S, Guesses
from rimspan.screens.document import changed
from rimspan.screens.drafts import change_draft
from rimspan.screens.phone import routes as routes_module
from rimspan.screens.phone.routes import phone_path
from rimspan.screens.phone.words import CSS

USED = "This code is used up"


def title(body: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", body)
    assert found is not None
    return found[1]


def test_the_page_sends_once_and_is_dead_then(studio: Any, jpeg: Any) -> None:
    path = studio.path()
    shown = studio.phone.get(path)
    assert (shown.status, title(shown.body)) == (200, "Send photos")
    sent = studio.phone.send(path, ("one.jpg", jpeg(10)), ("two.jpg", jpeg(20)))
    assert (sent.status, title(sent.body)) == (200, "Done")
    assert "2 photos are with the studio now" in sent.body
    assert "remove the photos from the phone" in sent.body
    assert studio.names == ["one.jpg", "two.jpg"]
    again = studio.phone.get(path)
    assert (again.status, title(again.body)) == (410, USED)
    twice = studio.phone.send(path, ("three.jpg", jpeg(30)))
    assert (twice.status, title(twice.body)) == (410, USED)
    assert "<form" not in again.body + twice.body
    assert studio.names == ["one.jpg", "two.jpg"]


def test_no_answer_holds_anything_of_the_client(studio: Any, jpeg: Any) -> None:
    """Name, note, id, ear, the photos that are there, the draft's token: none of it."""
    studio.phone.send(studio.path(), ("earlier.jpg", jpeg(5)))
    draft = studio.file.draft(studio.client, "left")
    (photo,) = draft["photos"]
    path = studio.path()
    answers = [
        studio.phone.get(path),
        studio.phone.send(path, ("text.jpg", b"no picture")),
        studio.phone.send(path, ("new.jpg", jpeg(6))),
        studio.phone.get(path),
        studio.phone.get(phone_path("unknown")),
    ]
    assert [answer.status for answer in answers] == [200, 422, 200, 410, 404]
    private = ["Robin", "Example", "invented note", studio.client, "earlier", photo["x_sha256"]]
    for answer in answers:
        said = answer.body + str(answer.headers)
        assert not [secret for secret in (*private, draft["x_token"]) if secret in said]
        words = said.replace(CSS, "")  # it speaks of left borders
        assert not re.search(r"\b(left|right|ear)\b", words)
        assert "<img" not in said
        assert "<script" not in said


def test_the_page_is_the_same_for_every_client_and_ear(studio: Any) -> None:
    pages = [studio.phone.get(studio.path()).body]
    studio.side = "right"
    pages.append(studio.phone.get(studio.path()).body)
    studio.client = studio.file.create_client("Kim Sample").id
    pages.append(studio.phone.get(studio.path()).body)
    assert len(set(pages)) == 1


def test_every_answer_forbids_keeping_scripts_and_cookies(studio: Any, jpeg: Any) -> None:
    path = studio.path()
    answers = [
        studio.phone.get(path),
        studio.phone.send(path),
        studio.phone.send(path, ("a.jpg", jpeg(1))),
        studio.phone.get(path),
        studio.phone.get(phone_path("unknown")),
    ]
    for answer in answers:
        assert answer.headers["cache-control"] == "no-store"
        policy = answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; style-src 'sha256-")
        assert "unsafe" not in policy
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert "set-cookie" not in answer.headers
    assert "set-cookie" not in studio.phone.get("/").headers  # only a sign-in gives a pass


def test_a_link_that_ran_out_says_so(studio: Any, jpeg: Any) -> None:
    path = studio.path()
    studio.now_s += LIFE_S
    for answer in (studio.phone.get(path), studio.phone.send(path, ("a.jpg", jpeg(1)))):
        assert (answer.status, title(answer.body)) == (410, "This code has run out")
        assert "Show a new code" in answer.body
    assert studio.names == []


def test_a_link_that_was_taken_away_says_so(studio: Any) -> None:
    first, _ = studio.path(), studio.path()
    answer = studio.phone.get(first)
    assert (answer.status, title(answer.body)) == (410, "This code was taken away")


@pytest.mark.parametrize("token", ["", "unknown", "../photos", "a" * 5000, "é"])
def test_an_unknown_address_says_so(studio: Any, jpeg: Any, token: str) -> None:
    for answer in (
        studio.phone.get(phone_path(token)),
        studio.phone.send(phone_path(token), ("a.jpg", jpeg(1))),
    ):
        assert (answer.status, title(answer.body)) == (404, "This address is not known")


def test_an_upload_that_outlasts_its_link_is_dead(
    studio: Any, jpeg: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, arrived = studio.path(), routes_module.received

    async def slowly(request: Any) -> Any:
        studio.now_s += LIFE_S + GRACE_S
        return await arrived(request)

    monkeypatch.setattr(routes_module, "received", slowly)
    answer = studio.phone.send(path, ("a.jpg", jpeg(1)))
    assert (answer.status, title(answer.body)) == (410, "This code has run out")
    assert studio.names == []


def test_bad_files_alone_are_refused_and_the_link_lives(studio: Any, jpeg: Any) -> None:
    path = studio.path()
    refused = studio.phone.send(path, ("<b>.jpg", b"no picture"), ("empty.jpg", b""))
    assert (refused.status, title(refused.body)) == (422, "Nothing was kept yet")
    assert "&lt;b&gt;.jpg: The file is no JPEG" in refused.body
    assert "empty.jpg: The file is empty." in refused.body
    assert "<form" in refused.body
    assert studio.phone.send(path, ("a.jpg", jpeg(1))).status == 200
    assert studio.names == ["a.jpg"]


def test_a_bad_file_among_good_ones_is_named_and_the_good_ones_are_kept(
    studio: Any, jpeg: Any
) -> None:
    path = studio.path()
    sent = studio.phone.send(path, ("bad.jpg", b"no picture"), ("good.jpg", jpeg(1)))
    assert (sent.status, title(sent.body)) == (200, "Done")
    assert "1 photo is with the studio now" in sent.body
    assert "bad.jpg: The file is no JPEG" in sent.body
    assert studio.names == ["good.jpg"]
    assert studio.phone.get(path).status == 410


def test_nothing_chosen_is_said_and_the_link_lives(studio: Any) -> None:
    path = studio.path()
    answer = studio.phone.send(path)
    assert answer.status == 400
    assert "No photo came with it." in answer.body
    assert studio.phone.get(path).status == 200


def test_what_is_kept_is_stripped_of_its_place(studio: Any, jpeg: Any) -> None:
    plain = jpeg(1, place=True)
    assert Image.open(io.BytesIO(plain)).getexif().get_ifd(0x8825)
    studio.phone.send(studio.path(), ("a.jpg", plain))
    (photo,) = studio.file.draft(studio.client, "left")["photos"]
    kept = studio.file.photo_bytes(photo["x_sha256"])
    exif = Image.open(io.BytesIO(kept)).getexif()
    assert exif[0x010F] == "Invented Phones"
    assert not exif.get_ifd(0x8825)


def test_what_the_piercer_did_meanwhile_stays(studio: Any, jpeg: Any) -> None:
    path = studio.path()
    change_draft(
        studio.file,
        studio.client,
        "left",
        lambda d: changed(d, examined={"1": {"tissue": "firm"}}),
    )
    studio.phone.send(path, ("a.jpg", jpeg(1)))
    assert studio.names == ["a.jpg"]
    assert studio.file.draft(studio.client, "left")["examined"] == {"1": {"tissue": "firm"}}


def test_photos_go_to_the_ear_that_the_link_was_issued_for(studio: Any, jpeg: Any) -> None:
    studio.side = "right"
    path = studio.path()
    studio.side = "left"
    studio.phone.send(path, ("a.jpg", jpeg(1)))
    assert studio.names == []
    studio.side = "right"
    assert studio.names == ["a.jpg"]


def test_a_store_that_fails_is_said_and_the_link_lives(
    studio: Any, jpeg: Any, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    path = studio.path()

    def full(*_: object) -> None:
        raise OSError("no room")

    with monkeypatch.context() as patched:
        patched.setattr(type(studio.file), "save_draft", full)
        answer = studio.phone.send(path, ("a.jpg", jpeg(1)))
    assert answer.status == 500
    assert "The photos arrived but could not be kept." in answer.body
    assert "could not be kept" in caplog.text
    assert studio.phone.send(path, ("a.jpg", jpeg(1))).status == 200
    assert studio.names == ["a.jpg"]


def test_who_guesses_is_answered_nothing_for_a_minute(studio: Any) -> None:
    good = studio.path()
    for number in range(5):
        assert studio.phone.get(phone_path(f"guess {number}")).status == 404
    assert studio.phone.get(phone_path("guess")).status == 429
    assert studio.phone.get(good).status == 429
    studio.phone.address = "192.0.2.51"
    assert studio.phone.get(good).status == 200
    studio.phone.address = "192.0.2.50"
    studio.now_s += 60
    assert studio.phone.get(good).status == 200


def test_the_server_bars_guesses_too() -> None:
    (route,) = routes_module.ROUTES
    assert route.path == "/phone/{token:path}"
    assert isinstance(route.endpoint.__self__._guesses, Guesses)


def test_other_methods_are_not_for_this_page(studio: Any) -> None:
    assert studio.phone.ask("PUT", studio.path(), b"", {}).status == 405
