"""Client photos: only for a browser that opened the app, and never kept by it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.responses import HTMLResponse, PlainTextResponse
from starlette.routing import Route

from rimspan.screens import launch
from rimspan.screens.serving import COOKIE, MAIN, MIDDLEWARE
from tests.asgi import Browser

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def browser() -> Browser:
    routes = [
        Route("/", lambda request: HTMLResponse("<p>app</p>")),
        Route("/media/{name}", lambda request: PlainTextResponse("photo")),
        Route("/_stcore/health", lambda request: PlainTextResponse("ok")),
        Route("/other", lambda request: PlainTextResponse("other")),
    ]
    return Browser(Starlette(routes=routes, middleware=MIDDLEWARE))


def test_a_photo_is_refused_to_whom_never_opened_the_app(browser: Browser) -> None:
    assert browser.get("/media/abc.jpg").status == 403
    browser.cookie = f"{COOKIE}=guess"
    answer = browser.get("/media/abc.jpg")
    assert (answer.status, answer.body) == (403, "open the app first")


def test_a_photo_is_served_but_never_kept(browser: Browser) -> None:
    headers = browser.get("/").headers
    assert "HttpOnly; SameSite=Strict" in headers["set-cookie"]
    answer = browser.get("/media/abc.jpg")
    assert (answer.status, answer.body) == (200, "photo")
    assert answer.headers["cache-control"] == "private, no-store"
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"


def test_a_page_that_outlives_the_server_sees_its_photo_again(browser: Browser) -> None:
    """It keeps its page, and asks only whether the new server is well."""
    browser.cookie = f"{COOKIE}=of-the-old-server"
    assert browser.get("/media/abc.jpg").status == 403
    headers = browser.get("/_stcore/health").headers
    assert "HttpOnly; SameSite=Strict" in headers["set-cookie"]
    assert browser.get("/media/abc.jpg").status == 200


def test_the_rest_is_left_alone(browser: Browser) -> None:
    answer = browser.get("/other")
    assert answer.body == "other"
    assert "cache-control" not in answer.headers
    assert "set-cookie" not in answer.headers


def test_both_ways_to_start_have_the_same_settings() -> None:
    """The checkout's file and the packaged one can't be one file, so they are held equal."""
    checkout = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text("utf-8"))
    packaged = tomllib.loads((MAIN.parents[1] / "config.toml").read_text("utf-8"))
    assert checkout == packaged


def test_the_settings_keep_to_this_machine() -> None:
    chosen = launch.settings()
    assert chosen["server.address"] == "localhost"
    assert set(chosen["server.allowedHosts"]) == {"localhost", "127.0.0.1"}
    assert chosen["browser.gatherUsageStats"] is False
    assert chosen["theme.dark.linkColor"] != chosen["theme.light.linkColor"]


def test_the_settings_are_known_to_streamlit() -> None:
    from streamlit import config

    assert set(launch.settings()) <= set(config.get_config_options())
