"""What the marking asks over HTTP: only the page itself gets an answer, and faults get words."""

from __future__ import annotations

import json
from typing import Any

import pytest

from rimspan.marking_help import Answer, Ask, MarkingHelp
from rimspan.screens import help_route
from rimspan.screens.chair import COOKIE
from rimspan.screens.help_route import PATH, routes
from rimspan.screens.serving import ROUTES
from tests.asgi import Answer as Reply

HOST = "localhost:8501"
ASK = {"photo": "a", "kind": "outer", "points": [[1, 2], [3, 4], [5, 4]]}


class Desk(MarkingHelp):
    """Notes what it is asked; fails if told to."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[Ask] = []
        self.broken = False

    def answer(self, ask: Ask) -> Answer:
        if self.broken:
            raise RuntimeError("a secret of the inside")
        self.asked.append(ask)
        return {"line": [[1.0, 2.0]], "u_px": [0.5], "gaps": []}


class Page:
    """The page of a chair that shows one photo."""

    def __init__(self, desk: Desk, chairs: Any) -> None:
        self.browser = chairs.browser(*routes(desk, chairs.sign_ins.shows))
        chairs.sign_ins.show(chairs.pass_of(self.browser), ASK["photo"])

    def ask(self, method: str, body: bytes, **more: str) -> Reply:
        headers = {"host": HOST, **{name.replace("_", "-"): held for name, held in more.items()}}
        return self.browser.ask(method, PATH, body, headers)

    def post(self, held: object, **more: str) -> tuple[int, dict[str, str], Any]:
        body = held if isinstance(held, bytes) else json.dumps(held).encode()
        answer = self.ask("POST", body, **more)
        return answer.status, answer.headers, answer.body


@pytest.fixture
def desk() -> Desk:
    return Desk()


@pytest.fixture
def page(desk: Desk, chairs: Any) -> Page:
    return Page(desk, chairs)


def test_the_page_gets_its_answer_and_nobody_keeps_it(page: Page, desk: Desk) -> None:
    status, headers, text = page.post(ASK, origin=f"http://{HOST}", sec_fetch_site="same-origin")
    assert status == 200
    assert json.loads(text)["line"] == [[1.0, 2.0]]
    assert "no-store" in headers["cache-control"]
    assert headers["cross-origin-resource-policy"] == "same-origin"
    (asked,) = desk.asked
    assert (asked.photo, asked.kind, asked.points.tolist()) == ("a", "outer", ASK["points"])


@pytest.mark.parametrize("cookie", ["", f"{COOKIE}=guess", "garbled"])
def test_without_a_pass_there_is_no_answer(page: Page, desk: Desk, cookie: str) -> None:
    page.browser.cookie = cookie
    status, _, text = page.post(ASK)
    assert (status, text) == (403, "sign in first")
    assert desk.asked == []


def test_a_photo_that_another_chair_shows_gets_no_answer(page: Page, desk: Desk) -> None:
    status, _, text = page.post(ASK | {"photo": "b"})
    assert (status, json.loads(text)["fault"]) == (403, help_route.NOT_SHOWN)
    assert desk.asked == []


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"},
    ],
)
def test_another_site_gets_no_answer(page: Page, desk: Desk, headers: dict[str, str]) -> None:
    status, _, text = page.post(ASK, **headers)
    assert status == 403
    assert json.loads(text)["fault"] == help_route.ELSEWHERE
    assert desk.asked == []


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"{", 400),
        (b"\xff\xfe", 400),
        (b"[" * 30_000, 400),
        (b"[]", 400),
        (b'{"photo": "a", "kind": "outer", "points": [[NaN, 1]]}', 400),
        (b" " * 70_000, 413),
    ],
)
def test_a_fault_is_said_in_words(page: Page, desk: Desk, body: bytes, status: int) -> None:
    got, _, text = page.post(body)
    assert got == status
    fault = json.loads(text)["fault"]
    assert fault.endswith(".")
    assert "Traceback" not in text
    assert desk.asked == []


def test_a_failure_inside_shows_nothing_of_it(page: Page, desk: Desk) -> None:
    desk.broken = True
    status, _, text = page.post(ASK)
    assert status == 500
    assert json.loads(text) == {"fault": help_route.FAILED}


def test_it_can_only_be_posted_to(page: Page) -> None:
    assert page.ask("GET", b"").status == 405


def test_the_server_has_the_address() -> None:
    assert PATH in [route.path for route in ROUTES]
