"""A client file on each engine: in a folder, and on the test server where there is one."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchmarks.file_invented import server_database
from rimspan.clientfile import ClientFile

SERVER = os.environ.get("RIMSPAN_TEST_POSTGRES")


def server_store() -> Iterator[str]:
    """Yield a database of its own on the test server."""
    if not SERVER:
        pytest.skip("needs a PostgreSQL server: set RIMSPAN_TEST_POSTGRES to its URL")
    with server_database(SERVER) as url:
        yield url


@pytest.fixture(params=["folder", pytest.param("server", marks=pytest.mark.postgres)])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    if request.param == "folder":
        yield str(tmp_path / "store")
    else:
        yield from server_store()


@pytest.fixture
def file(store: str) -> Iterator[ClientFile]:
    with ClientFile.open(store) as opened:
        yield opened


@pytest.fixture
def server() -> Iterator[str]:
    """Return a new database on the test server."""
    yield from server_store()
