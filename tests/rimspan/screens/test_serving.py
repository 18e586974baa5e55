"""Client photos: only where somebody is signed in, and never kept by a browser."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from rimspan.screens import launch
from rimspan.screens.chair import COOKIE
from rimspan.screens.serving import MAIN

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def others() -> list[Route]:
    return [
        Route("/media/{name}", lambda request: PlainTextResponse("photo")),
        Route("/_stcore/health", lambda request: PlainTextResponse("ok")),
        Route("/_stcore/upload_file/{session}/{name}", lambda r: PlainTextResponse("")),
        Route("/other", lambda request: PlainTextResponse("other")),
    ]


@pytest.mark.parametrize("path", ["/media/abc.jpg", "/_stcore/upload_file/session/photo"])
def test_a_photo_goes_nowhere_and_comes_from_nowhere_unless_somebody_is_signed_in(
    chairs: Any, others: list[Route], path: str
) -> None:
    nobody = chairs.browser(*others, who=None)
    assert "set-cookie" not in nobody.get("/").headers
    for cookie in ("", f"{COOKIE}=guess"):
        nobody.cookie = cookie
        answer = nobody.get(path)
        assert (answer.status, answer.body) == (403, "sign in first")
    assert chairs.browser(*others).get(path).status == 200


def test_a_photo_is_served_but_never_kept(chairs: Any, others: list[Route]) -> None:
    answer = chairs.browser(*others).get("/media/abc.jpg")
    assert (answer.status, answer.body) == (200, "photo")
    assert answer.headers["cache-control"] == "private, no-store"
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"


def test_the_rest_is_left_alone(chairs: Any, others: list[Route]) -> None:
    for path in ("/other", "/_stcore/health"):
        answer = chairs.browser(*others).get(path)
        assert answer.status == 200
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
