"""A served script and a headless Chromium for the browser tests.

Both live for one test module: a running Playwright holds an event loop that other tests must
not meet.  Where Chromium or Playwright is missing the tests are skipped and say so.
"""

from __future__ import annotations

import importlib.util
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest

from rimspan.clientfile import ClientFile, Role
from tests.browser.server import free_port, launch, stop

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

STEP_MS = 30_000

NEEDLESS = (
    # What drops down from an address bar that nobody sees: a page of its own for every window,
    # drawn at half a second's cost.
    "WebUIOmniboxPopup",
    "WebUIOmniboxAimPopup",
    # Of two such lists the last counts, so these are Playwright's own that bear on pages here.
    "AimEnabled",
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable",
    "HttpsUpgrades",
    "LensOverlay",
    "MediaRouter",
    "NetworkTimeServiceQuerying",
    "OptimizationHints",
    "PaintHolding",
    "PreconnectToSearch",
    "ThirdPartyStoragePartitioning",
)

ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
    f"--disable-features={','.join(NEEDLESS)}",
]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let a browser test that fails be tried once more; the summary names it.

    On a busy machine a tap falls on a page that is just being drawn anew.
    """
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.flaky(reruns=1))


ALEX, KIM, APPRENTICE, PASSWORD = "Alex Invented", "Kim Sample", "Sam Invented", "invented password"
STAFF = {ALEX: Role.MANAGER, KIM: Role.PIERCER, APPRENTICE: Role.APPRENTICE}

SETTLED = """() => {
  const rests = document.querySelector("[data-test-script-state=notRunning]") !== null;
  window.restsSince = rests ? window.restsSince || performance.now() : 0;
  return rests && performance.now() - window.restsSince > 800;
}"""
"""No run has begun for so long that none is on its way from the last tap."""

Serve = Callable[..., str]
OpenPage = Callable[..., "Page"]


def settle(page: Page) -> None:
    """Wait until no run is on its way: what is drawn anew swallows a click."""
    page.evaluate("() => { window.restsSince = 0; }")
    page.wait_for_function(SETTLED)


@pytest.fixture(scope="module")
def serve(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Serve]:
    """Return ``serve(script, env={}, settings={}) -> url``, which starts Streamlit.

    It waits until the server is up; ``settings`` are Streamlit's, by dotted name.
    """
    folder = tmp_path_factory.mktemp("served")
    with ExitStack() as running:

        def start(
            script: Path,
            env: Mapping[str, str] | None = None,
            settings: Mapping[str, str | Sequence[str]] | None = None,
        ) -> str:
            port = free_port()
            if env and "RIMSPAN_STORE" in env:
                staff(env["RIMSPAN_STORE"])
            server = launch(script, port, folder / f"{port}.log", env, settings)
            running.callback(stop, server)
            return f"http://127.0.0.1:{port}"

        yield start


def staff(store: str) -> None:
    """Name invented people in a client file, where nobody is named yet."""
    with ClientFile.open(store) as file:
        if not file.people.all():
            for name, role in STAFF.items():
                file.people.add(name, role, PASSWORD)


def sign_in(context: BrowserContext, url: str, name: str = ALEX) -> None:
    """Sign a browser in without looking at the page; a server without people is left alone."""
    asked = urlsplit(url)
    if asked.scheme == "http":
        form = {"person": name, "secret": PASSWORD, "to": "/"}
        door = f"{asked.scheme}://{asked.netloc}/sign-in"
        context.request.post(door, form=form, max_redirects=0)


def chromium() -> str | None:
    names = ("chromium", "chromium-browser", "google-chrome")
    return next((found for name in names if (found := shutil.which(name))), None)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Return a headless Chromium, or skip with the reason."""
    path = chromium()
    if path is None:
        pytest.skip("no Chromium on this machine: install chromium to run the browser tests")
    if importlib.util.find_spec("playwright") is None:
        pytest.skip("the playwright package is missing: install rimspan[test]")
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=STEP_MS)
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        try:
            yield launched
        finally:
            launched.close()


@pytest.fixture
def open_page(browser: Browser) -> Iterator[OpenPage]:
    """Return ``open_page(url, width=, height=, dpr=, touch=, dark=, who=) -> Page``.

    The browser is signed in as ``who``, one of the invented staff, or not at all with None.

    The pages are closed at the test's end; an uncaught error in one of them fails the test.
    """
    faults: list[str] = []
    with ExitStack() as opened:

        def visit(
            url: str,
            *,
            width: int = 1280,
            height: int = 900,
            dpr: float = 1,
            touch: bool = False,
            dark: bool = False,
            who: str | None = ALEX,
        ) -> Page:
            context = browser.new_context(
                viewport={"width": width, "height": height},
                device_scale_factor=dpr,
                has_touch=touch,
                color_scheme="dark" if dark else "light",
                reduced_motion="reduce",
                accept_downloads=True,
            )
            opened.callback(context.close)
            if who is not None:
                sign_in(context, url, who)
            page = context.new_page()
            page.set_default_timeout(STEP_MS)
            page.on("pageerror", lambda error: faults.append(str(error)))
            page.goto(url)
            return page

        yield visit
    assert not faults
