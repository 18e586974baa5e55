"""What the phone shows: whole pages of HTML that name nothing of the client."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from html import escape
from importlib import resources

from rimspan.phone_link import Brought, End

MOST_PHOTOS = 10
MOST_BYTES = 150_000_000

CSS = resources.files("rimspan.screens.phone").joinpath("phone.css").read_text("utf-8")
_CSS_HASH = b64encode(sha256(CSS.encode()).digest()).decode()

HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": (
        f"default-src 'none'; style-src 'sha256-{_CSS_HASH}'; form-action 'self'; "
        "base-uri 'none'; frame-ancestors 'none'"
    ),
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
"""No script, no picture, no other site, nothing kept."""


@dataclass(frozen=True, slots=True)
class Sentences:
    """What was seen, what it means, what to do."""

    seen: str
    means: str
    do: str

    def __str__(self) -> str:
        """Return the three in a row."""
        return f"{self.seen} {self.means} {self.do}"


REMINDER = (
    "Afterwards remove the photos from the phone, from its “recently deleted” album and from any "
    "cloud it copies photos to."
)
_ON_SCREEN = "a new code on the Photos page of the studio's screen and scan it."
_ANEW = f"Show {_ON_SCREEN}"
_MORE = f"To send more, show {_ON_SCREEN}"

DEAD = {
    End.USED: Sentences(
        "This code is used up.", "It worked once, and photos came in with it.", _MORE
    ),
    End.EXPIRED: Sentences("This code has run out.", "A code works for ten minutes.", _ANEW),
    End.WITHDRAWN: Sentences(
        "This code was taken away.", "A newer one may have replaced it.", _ANEW
    ),
}
UNKNOWN = Sentences(
    "This address is not known.",
    "The code was misread, or the studio's program was started anew since.",
    _ANEW,
)
WAIT = Sentences(
    "Too many unknown addresses were asked for.",
    "This device is answered nothing for a minute.",
    "Wait a minute, then scan the code on the studio's screen again.",
)
FAILED = Sentences(
    "The photos arrived but could not be kept.",
    "The fault lies with the studio's computer, not with the photos.",
    "Try once more; if it fails again, look at the studio's screen.",
)

_FORM = f"""\
<p>This page sends them to the studio's own computer, once.</p>
<form method="post" enctype="multipart/form-data">
<div class="way"><label for="take">Take a photo now</label>
<input id="take" name="photo" type="file" accept="image/*" capture="environment"></div>
<div class="way"><label for="choose">Or choose photos, up to {MOST_PHOTOS} at once</label>
<input id="choose" name="photo" type="file" accept="image/*" multiple></div>
<p>For several, take them with the camera first and choose them here.</p>
<button type="submit">Send</button>
<p>Sending can take a minute. Keep this page open until it says “Done”.</p>
</form>
<p class="note">{REMINDER}</p>"""


def _whole(title: str, body: str) -> str:
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{escape(title)}</title>\n<style>{CSS}</style>\n</head>\n"
        f"<body>\n<main>\n<h1>{escape(title)}</h1>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _refused(lines: Sequence[str]) -> str:
    items = "".join(f"<li>{escape(line)}</li>\n" for line in lines)
    return f'<ul class="refused">\n{items}</ul>\n' if lines else ""


def form(refused: Sequence[str] = ()) -> str:
    """Return the page that sends photos, above it why the last ones were refused."""
    if not refused:
        return _whole("Send photos", _FORM)
    return _whole("Nothing was kept yet", f"{_refused(refused)}<h2>Send photos</h2>\n{_FORM}")


def done(brought: Brought) -> str:
    """Return the page after photos were kept."""
    count = len(brought.kept)
    came = "1 photo is" if count == 1 else f"{count} photos are"
    lines = [f"<p>{came} with the studio now, and on its screen.</p>"]
    if brought.refused:
        lines += ["<h2>Not kept</h2>", _refused(brought.refused)]
    lines += [
        f'<p class="note">{REMINDER}</p>',
        f"<p>This page is used up. {_MORE}</p>",
    ]
    return _whole("Done", "\n".join(lines))


def dead(words: Sentences) -> str:
    """Return a page that says why nothing can be sent here."""
    return _whole(
        words.seen.rstrip("."), f"<p>{escape(words.means)}</p>\n<p>{escape(words.do)}</p>"
    )
