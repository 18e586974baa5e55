"""``rimspan file``: what it does, what it says, and that it asks for what it may not be told."""

from __future__ import annotations

import io
import json
import os
import pty
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from rimspan.cli import main
from rimspan.clientfile import ClientFile
from rimspan.commands import app as app_command
from rimspan.commands import unlock
from tests.browser.server import START_S, free_port, wait_until_healthy
from tests.rimspan.clientfile.made import PASSPHRASE, fill

ROOT = Path(__file__).parents[2]
OTHER = "other invented words"
KEY = re.compile(r"(?:[A-Z2-7]{4}-){8}[A-Z2-7]{4}")


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("RIMSPAN_STORE", str(tmp_path / "store"))
    return tmp_path / "store"


@pytest.fixture
def client(store: Path) -> str:
    with ClientFile.open(store) as file:
        return fill(file)


def run(capsys: pytest.CaptureFixture[str], *command: object) -> tuple[int, str, str]:
    status = main(["file", *map(str, command)])
    said = capsys.readouterr()
    return status, said.out, said.err


def test_verify_is_0_when_whole_and_1_with_a_line_for_each_damage(
    store: Path, client: str, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = "Whole: every revision, photo, value and link was looked at (9 entries).\n"
    pages = "Every page of the database is as it was when the file was closed.\n"
    assert run(capsys, "verify")[:2] == (0, whole + pages)
    (store / "rimspan.pages").unlink()
    status, out, err = run(capsys, "verify")
    assert (status, err) == (0, "")
    assert out.startswith(f"{whole}Bytes that no row uses could not be: who last changed the file")
    with ClientFile.open(store) as file:
        photo = file.photos(client)[0].id
    blob = store / "blobs" / photo[:2] / photo
    blob.write_bytes(blob.read_bytes()[:-1])
    status, out, err = run(capsys, "verify")
    assert (status, out) == (1, "")
    assert err == f"photo {photo} of client {client}: its bytes are damaged\n"


def test_backup_restore_and_verify_against_it(
    store: Path, client: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    backup = tmp_path / "b.rimspan"
    status, out, _ = run(capsys, "backup", backup)
    assert (status, "up to entry 9" in out) == (0, True)
    assert run(capsys, "verify", "--backup", backup)[0] == 0
    status, out, _ = run(capsys, "restore", backup, "--into", tmp_path / "back")
    assert (status, "Clients: 1." in out) == (0, True)
    recovery_key = KEY.search(run(capsys, "recovery-key")[1])
    assert recovery_key is not None
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("RIMSPAN_RECOVERY_KEY", recovery_key.group())
        status, _, err = run(capsys, "restore", backup, "--into", tmp_path / "by key")
        assert (status, "no recovery key was ever made" in err) == (2, True)
        later = tmp_path / "later.rimspan"
        assert run(capsys, "backup", later)[0] == 0
        assert run(capsys, "restore", later, "--into", tmp_path / "by key")[0] == 0
    status, _, err = run(capsys, "restore", backup, "--into", tmp_path / "back")
    assert (status, "only restored into a new one" in err) == (2, True)
    with ClientFile.open(tmp_path / "other") as file:
        file.back_up(tmp_path / "other.rimspan")
    status, _, err = run(capsys, "verify", "--backup", tmp_path / "other.rimspan")
    assert (status, "is no backup of this client file" in err) == (2, True)


def test_erasing_is_for_good_and_says_so(
    store: Path, client: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(capsys, "clients", "robin")[1] == f"{client}  Robin Example (invented)\n"
    status, _, err = run(capsys, "erase", client)
    assert (status, "--for-good" in err) == (2, True)
    status, out, _ = run(capsys, "erase", client, "--for-good")
    assert (status, "Make a backup now" in out) == (0, True)
    assert run(capsys, "clients")[1] == ""
    assert run(capsys, "erase", client, "--for-good")[0] == 2
    assert run(capsys, "verify")[0] == 0


def test_export_and_import(
    store: Path, client: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, _ = run(capsys, "export", client, tmp_path / "out")
    count = sum(1 for p in (tmp_path / "out").rglob("*") if p.is_file())
    assert (status, out.startswith(f"{count} files in ")) == (0, True)
    held = json.loads((tmp_path / "out" / "client.json").read_text("utf-8"))
    assert held["name"] == "Robin Example (invented)"
    assert run(capsys, "import", tmp_path / "out")[0] == 0
    assert run(capsys, "clients")[1].count("Robin Example") == 2


def test_retention_names_who_is_due(
    store: Path, client: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "until somebody erases them" in run(capsys, "retention")[1]
    assert "Kept for 30 days" in run(capsys, "retention", "--days", 30)[1]
    assert "nobody." in run(capsys, "retention")[1]
    assert run(capsys, "retention", "--days", 0)[0] == 2
    assert "until somebody" in run(capsys, "retention", "--for-ever")[1]


def test_the_passphrase_is_changed_and_recovered(
    store: Path, client: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    key = KEY.search(run(capsys, "recovery-key")[1])
    assert key is not None
    monkeypatch.setenv("RIMSPAN_NEW_PASSPHRASE", OTHER)
    assert run(capsys, "passphrase")[0] == 0
    status, _, err = run(capsys, "verify")
    assert (status, "the passphrase doesn't open" in err) == (2, True)
    monkeypatch.setenv("RIMSPAN_NEW_PASSPHRASE", PASSPHRASE)
    monkeypatch.setenv("RIMSPAN_RECOVERY_KEY", key.group())
    assert run(capsys, "recover")[0] == 0
    assert run(capsys, "verify")[0] == 0
    monkeypatch.setenv("RIMSPAN_NEW_PASSPHRASE", "short")
    assert run(capsys, "passphrase")[0] == 2


def test_where_nobody_can_be_asked_it_is_refused(
    store: Path, client: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    for command in ("passphrase", "recover"):
        assert "nobody can be asked" in run(capsys, command)[2]
    monkeypatch.delenv("RIMSPAN_PASSPHRASE")
    status, _, err = run(capsys, "verify")
    assert (status, "is locked; give its passphrase" in err) == (2, True)
    assert err.count("\n") == 1


# Somebody at the terminal


class Terminal:
    """Answers what it is asked, and remembers the questions."""

    def __init__(self, *answers: str) -> None:
        self.answers, self.asked = list(answers), list[str]()

    def __call__(self, question: str = "") -> str:
        self.asked.append(question)
        return self.answers.pop(0)


def sits(monkeypatch: pytest.MonkeyPatch, *answers: str) -> Terminal:
    terminal = Terminal(*answers)
    monkeypatch.setattr(unlock, "getpass", terminal)
    monkeypatch.setattr(unlock, "at_terminal", lambda: True)
    monkeypatch.delenv("RIMSPAN_PASSPHRASE", raising=False)
    return terminal


def test_the_app_asks_for_the_passphrase_before_it_starts(
    store: Path, client: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = []

    def launch(**given: object) -> int:
        from rimspan.screens.store import client_file

        opened.append([c.id for c in client_file().clients()])
        return 0

    monkeypatch.setattr(app_command, "launch", launch)
    sits(monkeypatch, PASSPHRASE)
    assert main(["app"]) == 0
    assert opened == [[client]]
    sits(monkeypatch, OTHER)
    assert main(["app"]) == 2
    assert len(opened) == 1


@pytest.mark.parametrize("told", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_told_to_end_the_app_closes_the_file_in_order(
    store: Path, client: str, tmp_path: Path, told: signal.Signals
) -> None:
    record, log, port = store / "rimspan.pages", tmp_path / "log", free_port()
    record.unlink()
    with log.open("wb") as output:
        running = subprocess.Popen(
            [sys.executable, "-m", "rimspan", "app", "--port", str(port)],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), "STREAMLIT_SERVER_HEADLESS": "true"},
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    try:
        wait_until_healthy(f"http://127.0.0.1:{port}", running, log)
        running.send_signal(told)
        assert running.wait(START_S) == 0, log.read_text()
    finally:
        running.kill()
        running.wait()
    assert record.exists()


def test_a_new_file_gets_a_passphrase_and_shows_its_recovery_key_once(
    store: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    terminal = sits(monkeypatch, OTHER, OTHER, "")
    assert main(["file", "clients"]) == 0
    assert [question[:12] for question in terminal.asked] == [
        "New passphra",
        "The same aga",
        "Press Enter ",
    ]
    said = capsys.readouterr().err
    key = KEY.search(said)
    assert key is not None
    assert OTHER not in said
    with ClientFile.open(store, recovery_key=key.group()) as file:
        assert file.sealed
    with ClientFile.open(store, OTHER) as file:
        assert file.clients() == []


def test_two_passphrases_that_differ_make_no_file(
    store: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sits(monkeypatch, OTHER, PASSPHRASE)
    assert main(["file", "clients"]) == 2
    assert "the two passphrases differ" in capsys.readouterr().err
    assert not (store / "rimspan.sqlite").exists()


def test_a_real_terminal_shows_nothing_of_what_is_typed(store: Path, client: str) -> None:
    """On a terminal of its own: the question is shown, the answer isn't."""
    leader, follower = pty.openpty()
    env = {k: v for k, v in os.environ.items() if k != "RIMSPAN_PASSPHRASE"}
    # A new session's first terminal becomes its own, by which it may be asked.
    start = """
import os, sys
os.open(os.ttyname(0), os.O_RDWR)
os.execv(sys.executable, [sys.executable, "-m", "rimspan", "file", "clients"])
"""
    running = subprocess.Popen(
        [sys.executable, "-c", start],
        stdin=follower,
        stdout=follower,
        stderr=follower,
        cwd=ROOT,
        env=env,
        start_new_session=True,
    )
    os.close(follower)
    said = b""
    while b"Passphrase" not in said:
        said += os.read(leader, 1000)
    os.write(leader, f"{PASSPHRASE}\n".encode())
    try:
        while part := os.read(leader, 1000):
            said += part
    except OSError:  # the other end was closed
        pass
    os.close(leader)
    assert running.wait() == 0
    assert client.encode() in said
    assert PASSPHRASE.encode() not in said


def test_the_command_line_takes_no_passphrase(capsys: pytest.CaptureFixture[str]) -> None:
    for act in ("verify", "backup", "restore", "passphrase", "recover", "clients"):
        with pytest.MonkeyPatch.context() as patched:
            patched.setenv("COLUMNS", "200")
            assert main(["file", act, "--help"]) == 0
        said = capsys.readouterr().out
        assert not re.search(r"--\S*(pass|key|secret)", said)


def test_whoever_has_the_passphrase_lets_somebody_manage_again(
    store: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    status, _, err = run(capsys, "manager", "Alex Invented")
    assert (status, "RIMSPAN_NEW_PASSWORD" in err) == (2, True)
    said = "Alex Invented is a manager, and signs in with the new password.\n"
    for name, password in (("Alex Invented", "first password"), ("alex invented", "another one")):
        monkeypatch.setenv(unlock.NEW_PASSWORD_FROM, password)
        assert run(capsys, "manager", name)[:2] == (0, said)
        with ClientFile.open(store) as file:
            (alex,) = file.people.managers()
            assert file.people.sign_in("Alex Invented", password) == alex
