"""A visit to the screens without a browser, on a client file of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from html import unescape
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest

from rimspan.clientfile import ClientFile, Person, Role
from rimspan.screens import chair
from rimspan.screens.document import with_photo
from rimspan.screens.serving import MAIN, middleware
from rimspan.sign_ins import SignIns
from tests.asgi import Browser

# A program that starts reads once what every installed package says of itself; a visit would at
# each of its runs, for two fifths of the time that it takes.
manifest_scanner.scan_component_manifests = cache(manifest_scanner.scan_component_manifests)

ALEX, PASSWORD = "Alex Invented", "invented password"
ADULT = {"x_talk": {"age": {"at_least_years": 18, "identity_checked": True}}}


class Visit:
    """The screens as one person sees them, at a chair of theirs; nobody signs in by itself."""

    def __init__(self, store: Path) -> None:
        self.store = store
        self.file = ClientFile.open(store)
        self.at = AppTest.from_file(str(MAIN), default_timeout=60)
        self.client = ""
        self.sent = 0
        self.written = ""

    def signs_in(self, name: str = ALEX, role: Role = Role.MANAGER) -> Person:
        """Sit down at this chair as somebody, who is added if they are new."""
        known = {each.name: each for each in self.file.people.all()}
        person = known.get(name) or self.file.people.add(name, role, PASSWORD)
        self.written = chair.SIGN_INS.begin(person)
        return person

    def open(self, page: str) -> Visit:
        """Go to a page; nothing may go wrong on the way."""
        self.at.session_state["wanted"] = page
        return self.run()

    def run(self) -> Visit:
        self.at.run()
        assert not self.at.exception, self.at.exception
        return self

    def consult(self, side: str = "left", document: dict | None = None) -> Visit:
        """Open an invented client's ear, on a draft if one is given."""
        self.client = self.file.create_client("Robin Example").id
        if document is not None:
            self.file.save_draft(self.client, side, document)
        self.at.session_state["client"] = self.client
        self.at.session_state["side"] = side
        return self

    def draft(self, side: str = "left") -> dict:
        return self.file.draft(self.client, side) or {}

    def arrives(self, key: str, sent: dict) -> Visit:
        """Do what a marking does when it sends a document: its callback runs before the page."""

        def script() -> None:
            import streamlit as st

            from rimspan.screens import bench, recheck_bench

            key = st.session_state["key"]
            (recheck_bench if key.startswith("recheck ") else bench).arrived(key)

        self.sent += 1
        step = {"marks": {}, "step": "entry", "label": "1"}
        undo = {"past": [step], "future": []}
        sent = {"hand": "hand", "n": self.sent, "undo": undo} | sent
        other = AppTest.from_function(script)
        known = {"client": self.client, "side": "left", "key": key, key: {"document": sent}}
        for name, held in known.items():
            other.session_state[name] = held
        if "who" in self.at.session_state:
            other.session_state["who"] = self.at.session_state["who"]
        other.run()
        assert not other.exception
        return self

    @property
    def title(self) -> str:
        return self.at.title[0].value

    @property
    def words(self) -> str:
        """Return everything that stands on the page in words."""
        at = self.at
        kinds = (
            at.title,
            at.subheader,
            at.markdown,
            at.caption,
            at.info,
            at.warning,
            at.get("html"),
        )
        return unescape("\n".join(str(element.value) for kind in kinds for element in kind))

    def press(self, label: str) -> Visit:
        next(b for b in self.at.button if b.label == label).click()
        return self.run()


@dataclass
class Chairs:
    """The chairs of a client file without screens, and browsers that sit at them."""

    file: ClientFile
    sign_ins: SignIns

    def browser(self, *routes: Route, who: str | None = ALEX) -> Browser:
        """Return a browser at these routes, signed in as somebody unless ``who`` is None."""
        home = Route("/", lambda request: HTMLResponse("<p>app</p>"))
        app = Starlette(routes=[home, *routes], middleware=middleware(self.sign_ins))
        browser = Browser(app)
        if who is not None:
            known = {each.name: each for each in self.file.people.all()}
            person = known.get(who) or self.file.people.add(who, Role.MANAGER, PASSWORD)
            browser.cookie = f"{chair.COOKIE}={self.sign_ins.begin(person)}"
        return browser

    def pass_of(self, browser: Browser) -> str:
        return chair.pass_in(browser.cookie)


@pytest.fixture
def chairs(tmp_path: Path) -> Iterator[Chairs]:
    with ClientFile.open(tmp_path) as file:
        yield Chairs(file, SignIns(lambda: file))


@pytest.fixture
def visit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Visit:
    """Return a visit by a manager who is signed in."""
    monkeypatch.setenv("RIMSPAN_STORE", str(tmp_path / "store"))
    made = Visit(tmp_path / "store")
    monkeypatch.setattr(chair, "written", lambda: made.written)
    made.signs_in()
    return made


@pytest.fixture
def measured(visit: Visit, flat_photo: bytes, flat_draft: Callable[[str], dict]) -> Visit:
    """Return a visit with a photo of the card, marked: a channel of 7 mm by construction."""
    visit.consult()
    kept = visit.file.add_photo(visit.client, flat_photo, "flat.jpg", "left")
    visit.file.save_draft(visit.client, "left", flat_draft(kept.sha256))
    return visit


@pytest.fixture
def flat_draft(flat_document: dict) -> Callable[[str], dict]:
    def make(sha256: str) -> dict:
        photo = flat_document["photos"][0]
        document = with_photo(
            flat_document
            | {"photos": [], "caliper": {}, "examined": {}, "x_token": "token"}
            | ADULT,
            "flat.jpg",
            sha256,
        )
        document["photos"][0] |= {k: v for k, v in photo.items() if k != "file"}
        return document

    return make
