"""Who may do what: refused in the core, whatever a page shows."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from rimspan import studio
from rimspan.clientfile import ClientFile, NotSignedIn, Person, RefusedError, Role, export_zip
from rimspan.screens.drafts import move_photo
from tests.rimspan.clientfile.made import fill, new, picture

PASSWORD = "invented password"


@pytest.fixture
def file(tmp_path: Path) -> Iterator[ClientFile]:
    with ClientFile.open(tmp_path) as opened:
        yield opened


@pytest.fixture
def staff(file: ClientFile) -> dict[Role, Person]:
    """Return somebody of each role."""
    return {role: file.people.add(f"{role.value} (invented)", role, PASSWORD) for role in Role}


def acts(file: ClientFile, staff: dict[Role, Person], client: str) -> dict[str, Any]:
    """Return every act by its name, as a function of who does it."""
    other = file.create_client("Other (invented)").id
    photo = file.add_photo(client, picture(7), "b.jpg", "right")
    revision = file.save_revision(new(client), "another").id
    return {
        "add": lambda by: studio.add_person(file, by, "New", Role.PIERCER, PASSWORD),
        "change": lambda by: studio.change_person(
            file, by, staff[Role.APPRENTICE], role=Role.PIERCER
        ),
        "retention": lambda by: studio.set_retention(file, by, 30),
        "idle": lambda by: studio.set_idle_minutes(file, by, 5),
        "erase": lambda by: studio.erase(file, by, client, file.client(client).name),
        "void": lambda by: studio.void(file, by, revision, "a slip"),
        "move": lambda by: studio.move_photo(file, by, photo, other, "a slip", move_photo),
        "export": lambda by: studio.may_export(file, by),
        "consent": lambda by: studio.consent(file, by, client, False, ""),
    }


MANAGES, DECIDES, EVERYBODY = {Role.MANAGER}, {Role.MANAGER, Role.PIERCER}, set(Role)
MAY = {
    "add": MANAGES,
    "change": MANAGES,
    "retention": MANAGES,
    "idle": MANAGES,
    "erase": MANAGES,
    "void": DECIDES,
    "move": DECIDES,
    "export": DECIDES,
    "consent": EVERYBODY,
}


@pytest.mark.parametrize("act", MAY)
@pytest.mark.parametrize("role", [None, *Role])
def test_each_act_is_refused_to_who_may_not(
    file: ClientFile, staff: dict[Role, Person], act: str, role: Role | None
) -> None:
    does = acts(file, staff, fill(file))[act]
    before = file.history.head()
    person = None if role is None else staff[role]
    if role in MAY[act]:
        does(person)
        assert act == "export" or file.history.head() != before
    else:
        with pytest.raises(studio.NotAllowedError):
            does(person)
        assert file.history.head() == before
    assert file.verify() == []


def test_a_role_that_was_taken_away_counts_no_more(
    file: ClientFile, staff: dict[Role, Person]
) -> None:
    """Whoever is signed in still has the old one in hand."""
    other = file.people.add("Other manager (invented)", Role.MANAGER, PASSWORD)
    file.people.change(staff[Role.MANAGER], role=Role.APPRENTICE)
    with pytest.raises(studio.NotAllowedError, match="A manager does"):
        studio.set_retention(file, staff[Role.MANAGER], 30)
    file.people.change(staff[Role.PIERCER], active=False)
    with pytest.raises(studio.NotAllowedError, match="Nobody is signed in"):
        studio.consent(file, staff[Role.PIERCER], fill(file), True, "")
    studio.set_retention(file, other, 30)


def test_the_only_manager_stays_one(file: ClientFile, staff: dict[Role, Person]) -> None:
    manager = staff[Role.MANAGER]
    for change in ({"role": Role.PIERCER}, {"active": False}):
        with pytest.raises(RefusedError, match="is the only manager"):
            studio.change_person(file, manager, manager, **change)
    assert file.people.managers() == [manager]


def test_an_e_mail_is_one_person_s(file: ClientFile, staff: dict[Role, Person]) -> None:
    manager, mail = staff[Role.MANAGER], "Alex@studio.example"
    kept = studio.change_person(file, manager, staff[Role.PIERCER], account=mail)
    assert file.people.of_account("alex@STUDIO.example") == kept
    with pytest.raises(RefusedError, match="already"):
        studio.change_person(file, manager, manager, account=mail.lower())
    studio.change_person(file, manager, kept, active=False)
    assert file.people.of_account(mail) is None
    assert file.people.of_account("") is None


def test_one_s_own_password_needs_the_one_before(
    file: ClientFile, staff: dict[Role, Person]
) -> None:
    person = staff[Role.APPRENTICE]
    with pytest.raises(studio.NotAllowedError):
        studio.change_own_password(file, person, "wrong password", "another password")
    studio.change_own_password(file, person, PASSWORD, "another password")
    assert file.people.sign_in(person.name, "another password") == person
    assert isinstance(file.people.sign_in(person.name, PASSWORD), NotSignedIn)


def test_erasing_needs_the_name(file: ClientFile, staff: dict[Role, Person]) -> None:
    client = fill(file, "Robin Example (invented)")
    walk_in = file.walk_in().id
    for who, typed in ((client, "robin example (invented)"), (client, ""), (walk_in, "")):
        with pytest.raises(RefusedError, match="nobody was erased"):
            studio.erase(file, staff[Role.MANAGER], who, typed)
    studio.erase(file, staff[Role.MANAGER], client, " Robin Example (invented) ")
    assert file.clients() == []
    assert client in file.tombstones()


def test_all_that_is_kept_is_handed_out_in_one_file(
    file: ClientFile, staff: dict[Role, Person]
) -> None:
    client = fill(file)
    studio.consent(file, staff[Role.APPRENTICE], client, False, "said at the desk")
    with zipfile.ZipFile(io.BytesIO(export_zip(file, client))) as packed:
        names = packed.namelist()
        held = json.loads(packed.read("client.json"))
        (photo,) = json.loads(packed.read("photos/photos.json"))["photos"]
        assert packed.read(photo["at"]) == file.photo_bytes(photo["sha256"])
    assert {"README.txt", "drafts/left.json", "revisions/0001.json"} <= set(names)
    assert [each["given"] for each in held["consents"]] == [True, False]
    assert held["consents"][-1]["by"] == staff[Role.APPRENTICE].name
