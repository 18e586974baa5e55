"""What is typed and brought is planted with marks, and all that the server wrote is looked through.

The server notes every file that it opens to write, also those that it deletes again: nothing may
be written outside of the client file but what is named here.
"""

from __future__ import annotations

import io
import os
import re
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from rimspan.clientfile import ClientFile, export_client

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
PHOTO = ROOT / "sample_images" / "pronounced" / "square-on.jpg"
NAME, NOTE, COMMENT, FILE = "Zqclient Planted", "zqhealthanswer", "zqplaceandserial", "zqfile.png"
HARMLESS = re.compile(r"/dev/|__pycache__|\.pyc|^\d+$")
"""Devices, compiled sources, and numbers: of files noted by name when they were opened."""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]

WATCHING = """
import os, sys
LOG = os.open({log!r}, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
WRITING = os.O_WRONLY | os.O_RDWR
def watch(event, args):
    if event == "open":
        path, mode, flags = args
        if (mode and set(mode) & set("wax+")) or (flags or 0) & WRITING:
            os.write(LOG, os.fsencode(f"{{path}}\\n"))
    elif event in ("tempfile.mkstemp", "tempfile.mkdtemp"):
        os.write(LOG, os.fsencode(f"{{args[0]}}\\n"))
sys.addaudithook(watch)
"""


@pytest.fixture
def large(tmp_path: Path) -> Path:
    """Return a photo of over a megabyte with a comment in it: such a one spills most easily."""
    place = tmp_path / "mine" / FILE
    place.parent.mkdir()
    said = PngInfo()
    said.add_text("Comment", COMMENT)
    with Image.open(PHOTO) as picture:
        out = io.BytesIO()
        picture.save(out, "PNG", pnginfo=said)
    place.write_bytes(out.getvalue())
    assert place.stat().st_size > 2_000_000
    return place


def visit(page: Page, large: Path) -> None:
    page.get_by_label("Name or a sign of your own").fill(NAME)
    page.get_by_label("Note (optional)").fill(NOTE)
    page.get_by_role("button", name="Create the client").click()
    page.get_by_role("button", name=re.compile("left", re.IGNORECASE)).first.click()
    page.get_by_role("link", name=re.compile("^Photos")).first.click()
    page.locator("input[type=file]").set_input_files([large])
    page.get_by_text("58 of 58 corners.").first.wait_for()
    page.get_by_role("link", name=re.compile("^Marks")).first.click()
    page.locator(".marking[data-painted]").wait_for()


def test_all_that_the_server_wrote_is_sealed(
    serve: Any, open_page: Any, tmp_path: Path, large: Path
) -> None:
    home, hook, log = tmp_path / "home", tmp_path / "hook", tmp_path / "written.txt"
    for folder in (home, hook, home / "tmp"):
        folder.mkdir()
    (hook / "sitecustomize.py").write_text(textwrap.dedent(WATCHING.format(log=str(log))))
    store = home / "store"
    env = {
        "RIMSPAN_STORE": str(store),
        "HOME": str(home),
        "TMPDIR": str(home / "tmp"),
        "PYTHONPATH": os.pathsep.join([str(hook), str(ROOT)]),
        "XDG_CACHE_HOME": str(home / "cache"),
        "XDG_STATE_HOME": str(home / "state"),
    }
    page = open_page(serve(ROOT / "app.py", env=env))
    visit(page, large)

    with ClientFile.open(store) as file:
        (client,) = file.clients()
        (photo,) = file.photos(client.id)
        kept = file.photo_bytes(photo.sha256)
        stretches = [kept[at : at + 32] for at in range(2000, len(kept) - 32, 4001)]
        planted = [word.encode() for word in (NAME, NOTE, COMMENT, FILE, photo.sha256)]
        lying = {p: p.read_bytes() for p in home.rglob("*") if p.is_file()}
        assert any(store in place.parents for place in lying)
        for place, data in lying.items():
            assert not [word for word in [*planted, *stretches] if word in data], place
        # The same search finds them where they do lie open.
        export_client(file, client.id, tmp_path / "open")
    found = b"".join(p.read_bytes() for p in (tmp_path / "open").rglob("*") if p.is_file())
    assert all(word in found for word in [NAME.encode(), FILE.encode(), stretches[0]])

    written = {line for line in log.read_text().splitlines() if not HARMLESS.search(line)}
    assert any("blobs" in line for line in written)
    assert [line for line in written if not line.startswith(str(store))] == []
    for word in (NAME, NOTE, FILE):
        assert word not in unquote(page.url)
