"""How the screens are served: on this machine alone, or in the studio's network when asked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rimspan.commands import app as command
from rimspan.commands.files import CommandRefusedError
from rimspan.screens import launch
from rimspan.screens.serving import ROUTES


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> dict[str, Any]:
    """Return what a server is started with, instead of starting it."""
    found: dict[str, Any] = {}

    class Server:
        def __init__(self, script: object, **parts: object) -> None:
            found.update(parts)

        def run(self, config: dict[str, Any]) -> None:
            found["config"] = config

    monkeypatch.setattr(launch, "App", Server)
    monkeypatch.setenv("RIMSPAN_STORE", str(tmp_path / "store"))
    monkeypatch.setattr(launch, "lan_address", lambda: "192.0.2.7")
    monkeypatch.setattr(launch.socket, "gethostname", lambda: "studio")
    return found


def test_untold_the_screens_are_for_this_machine_alone(served: dict[str, Any]) -> None:
    assert command.start_app() == ""
    assert served["config"]["server.address"] == "localhost"
    assert served["config"]["server.allowedHosts"] == ["localhost", "127.0.0.1"]
    assert served["routes"] == ROUTES


def test_told_so_they_are_for_the_network_by_this_machines_names(served: dict[str, Any]) -> None:
    command.start_app(8600, "0.0.0.0")
    config = served["config"]
    assert (config["server.port"], config["server.address"]) == (8600, "0.0.0.0")
    names = {"localhost", "127.0.0.1", "studio", "studio.local", "192.0.2.7"}
    assert names <= set(config["server.allowedHosts"])
    assert "*" not in config["server.allowedHosts"]
    assert config["browser.serverAddress"] == "192.0.2.7"


def test_one_address_is_served_alone(served: dict[str, Any]) -> None:
    command.start_app(address="192.0.2.9")
    assert served["config"]["server.address"] == "192.0.2.9"
    assert served["config"]["browser.serverAddress"] == "192.0.2.9"


def test_the_settings_for_a_network_are_known_to_streamlit() -> None:
    from streamlit import config

    assert set(launch.in_network("0.0.0.0")) <= set(config.get_config_options())


@pytest.mark.parametrize("address", ["", "everywhere", "0.0.0.0:8501", "192.0.2.300"])
def test_no_address_is_refused_in_words(served: dict[str, Any], address: str) -> None:
    with pytest.raises(CommandRefusedError, match=r"--address: must be an IP address"):
        command.start_app(address=address)
    assert not served
