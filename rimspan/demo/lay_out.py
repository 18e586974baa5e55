"""Lays the demo out in a folder, which then is an embedded store too.

::

    DIR/README.txt          what this is; by it the folder is known as a demo
    DIR/samples/EAR/        rendered photos and marks.json, for `rimspan measure`
    DIR/...                 the client file: `RIMSPAN_STORE=DIR rimspan app`
"""

from __future__ import annotations

from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from rimspan.clientfile import ClientFile
from rimspan.commands.files import refuse, why
from rimspan.demo.client import add_people, fill_client_file
from rimspan.demo.story import Calendar, tell

SIGN = "README.txt"
SIGN_WORDS = "Rimspan demo: rendered ears, invented people."

README = f"""{SIGN_WORDS}

No picture here shows a person: the ears are rendered from a shape, with their true
millimetres beside them. No name here is anybody's. Delete the folder when you like.

samples/EAR/marks.json   what was marked; try: rimspan measure samples/pronounced/marks.json
samples/EAR/marks-examined.json   with calipers and hands as well
samples/three/marks-plan.json   with a placement plan: three asked for, the rim carries two
samples/pronounced/marks-right-after.json, marks-week-5.json   with the post in; try: rimspan
                         recheck samples/pronounced/marks-right-after.json
                         samples/pronounced/marks-week-5.json
the rest                 the client file that the screens open on it

The client file has no passphrase: it is for demo data only, and opens to everybody. Put nobody
real into it; a client file of your own is made by starting the program without RIMSPAN_STORE.
"""


def samples() -> Traversable:
    """Return the folder of sample photos and marks inside the package."""
    return resources.files("rimspan.demo").joinpath("samples")


def lay_out(into: Path) -> str:
    """Lay the demo out and return what to say; done again, it only adds what is missing.

    Raises
    ------
    CommandRefusedError
        If the folder holds something else, or can't be written.
    """
    _refuse_other_folders(into)
    try:
        into.mkdir(parents=True, exist_ok=True)
        (into / SIGN).write_text(README, encoding="utf-8")
        for ear in sorted(samples().iterdir(), key=lambda each: each.name):
            _copy(ear, into / "samples" / ear.name)
    except OSError as error:
        raise refuse(
            str(into), f"can't be written: {why(error)}", "choose another folder"
        ) from None
    calendar = Calendar()
    with ClientFile.open(into, demo=True, clock=calendar) as file:
        add_people(file)
        tell(file, calendar, samples())
        fill_client_file(file, samples())
    return (
        f"The demo is in {into}: rendered ears and invented people.\n"
        f"Measure one: rimspan measure {into / 'samples' / 'pronounced' / 'marks.json'}\n"
        f"Open its client file: RIMSPAN_STORE={into} rimspan app\n"
    )


def _refuse_other_folders(into: Path) -> None:
    if into.exists() and not into.is_dir():
        raise refuse(str(into), "is a file, not a folder", "choose another folder")
    if not into.is_dir() or not any(into.iterdir()):
        return
    try:
        known = (into / SIGN).read_text(encoding="utf-8").startswith(SIGN_WORDS)
    except (OSError, UnicodeDecodeError):
        known = False
    if not known:
        said = "holds something that isn't the demo"
        raise refuse(str(into), said, "choose an empty or a new folder")


def _copy(source: Traversable, target: Path) -> None:
    """Copy a folder's files; those that are there stay, tried out and changed as they may be."""
    target.mkdir(parents=True, exist_ok=True)
    for found in source.iterdir():
        if found.is_file():
            place = target / found.name
            if not place.is_file():
                place.write_bytes(found.read_bytes())
