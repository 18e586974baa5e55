"""Which address the code carries: one that another device can reach, or the reason for none."""

from __future__ import annotations

import socket
from typing import Any

import pytest

from rimspan.screens.phone import address
from rimspan.screens.phone.address import NO_NETWORK, ONLY_HERE, Reach, is_local, lan_address, reach


def lan() -> str:
    return "192.0.2.7"


@pytest.mark.parametrize(
    ("opened_at", "base"),
    [
        ("http://192.0.2.9:8501/photos", "http://192.0.2.9:8501"),
        ("https://studio.example/photos", "https://studio.example"),
        ("http://[2001:db8::1]:8501/", "http://[2001:db8::1]:8501"),
    ],
)
@pytest.mark.parametrize("listens_on", ["localhost", "0.0.0.0", None])
def test_the_address_that_the_tablet_used_is_taken(
    opened_at: str, base: str, listens_on: str | None
) -> None:
    """Even on a server for one machine alone: a proxy in front of it is what was reached."""
    assert reach(opened_at, listens_on, 8501, pytest.fail) == Reach(base)


@pytest.mark.parametrize("listens_on", ["0.0.0.0", "::", "", None])
def test_on_this_machine_its_address_in_the_network_is_taken(listens_on: str | None) -> None:
    assert reach("http://localhost:8600/", listens_on, 8501, lan) == Reach("http://192.0.2.7:8600")
    assert reach("https://localhost/", listens_on, 8501, lan) == Reach("https://192.0.2.7")
    assert reach(None, listens_on, 8501, lan) == Reach("http://192.0.2.7:8501")


def test_an_address_that_the_server_listens_on_is_taken() -> None:
    found = reach("http://localhost:8501/", "2001:db8::1", 8501, pytest.fail)
    assert found == Reach("http://[2001:db8::1]:8501")


@pytest.mark.parametrize("listens_on", ["localhost", "127.0.0.1", "::1"])
def test_a_server_for_this_machine_alone_says_how_to_start_it(listens_on: str) -> None:
    found = reach("http://127.0.0.1:8501/", listens_on, 8501, lan)
    assert found == ONLY_HERE
    assert "rimspan app --address 0.0.0.0" in str(found)


def test_a_machine_in_no_network_says_so() -> None:
    assert reach("http://localhost:8501/", "0.0.0.0", 8501, lambda: None) == NO_NETWORK


@pytest.mark.parametrize(
    "host", ["localhost", "LOCALHOST.", "app.localhost", "127.0.0.1", "127.9.9.9", "::1", "0.0.0.0"]
)
def test_names_of_this_machine(host: str) -> None:
    assert is_local(host)


@pytest.mark.parametrize("host", ["192.0.2.7", "studio.example", "localhost.example", "fd00::1"])
def test_names_of_others(host: str) -> None:
    assert not is_local(host)


class Probe:
    """A socket in an invented network."""

    said: str | None = None

    def __init__(self, *_: object) -> None:
        pass

    def __enter__(self) -> Probe:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def connect(self, _where: object) -> None:
        if self.said is None:
            raise OSError("network is unreachable")

    def getsockname(self) -> tuple[str | None, int]:
        return self.said, 40000


@pytest.mark.parametrize(
    ("said", "found"), [("192.0.2.7", "192.0.2.7"), ("127.0.0.1", None), (None, None)]
)
def test_the_way_out_of_this_machine_tells_its_address(
    monkeypatch: pytest.MonkeyPatch, said: str | None, found: str | None
) -> None:
    monkeypatch.setattr(address.socket, "socket", type("Said", (Probe,), {"said": said}))
    assert lan_address() == found


def test_finding_the_address_sends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only a datagram socket is used, and nothing is written to it."""
    kinds: list[Any] = []

    class Noted(Probe):
        said = "192.0.2.7"

        def __init__(self, *kind: Any) -> None:
            kinds.append(kind)

        def __getattr__(self, name: str) -> Any:
            pytest.fail(f"{name} was asked of the socket")

    monkeypatch.setattr(address.socket, "socket", Noted)
    assert lan_address() == "192.0.2.7"
    assert kinds == [(socket.AF_INET, socket.SOCK_DGRAM)]
