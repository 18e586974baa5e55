"""The assessment on one A4 page, as a tagged PDF.

Everything a person typed reaches the page as data, never as markup.  The sheet has no clock
and no gate of its own: :func:`rimspan.consultation.report` decides that it may be made.
"""

from __future__ import annotations

import io
import json
import re
import unicodedata
from collections.abc import Mapping
from importlib import resources
from typing import TYPE_CHECKING, Any

import typst
from PIL import Image

from assess.result import PlacementOut, Result
from assess.wording import NO_BREAK, share_words
from rimspan.result_words import (
    METHOD_WORDS,
    between,
    foreseen,
    posts_words,
    risk_words,
    seat_words,
)

if TYPE_CHECKING:
    from rimspan.consultation import Assessment, Confirmation

CAUTIONS = (
    "This sheet is no diagnosis and no medical advice. Local law, licensing and licensed "
    "medical practice come first.",
    "Some swelling is usual at first. Swelling that closes over a disc, redness that spreads, "
    "pus, fever or growing pain: see licensed medical care the same day. "
    "(Common practice, no source.)",
)

UNCERTAINTY = (
    "“Between” gives the interval that holds 95 % of {draws:,} simulated results (JCGM 101), "
    "with every stated input's uncertainty in it. Chances are probabilities that limits hold "
    "(JCGM 106)."
)

LARGEST_SHARES = 3


def report_pdf(
    assessment: Assessment,
    confirmation: Confirmation,
    picture_png: bytes,
    *,
    client: str | None = None,
    measured_by: str | None = None,
    date: str | None = None,
) -> bytes:
    """Return the one-page sheet of a confirmed assessment as PDF/UA-1.

    Parameters
    ----------
    assessment : what was measured
    confirmation : the piercer who examined the ear and decides
    picture_png : bytes
        The picture with everything drawn on it, confirmed.
    client : str, optional
        A name or label; left out where the sheet should name nobody.
    measured_by : str, optional
        Who measured, if that is not who decides.
    date : str, optional
        As it should be printed; there is none otherwise.
    """
    result = Result.model_validate(assessment.result)
    data = _page(result)
    data |= {
        "client": client,
        "measured_by": measured_by,
        "date": date,
        "decided_by": confirmation.piercer,
        "statement": confirmation.statement,
        "digest": assessment.digest[:16],
    }
    return _compiled("report.typ", data, _as_jpeg(picture_png))


def shown(text: str) -> str:
    """Return text in which nothing steers the page: controls and marks that turn it are named."""
    words = re.split(rf"[^\S{NO_BREAK}]+", text.strip())
    return "".join(_shown_character(c) for c in " ".join(words))


def _shown_character(character: str) -> str:
    # Cc and Cf hold the control, format and bidirectional marks; Co and Cn have no meaning.
    if unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn"}:
        return f"[U+{ord(character):04X}]"
    return character


def _shown(value: Any) -> Any:  # noqa: ANN401  (JSON data)
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, Mapping):
        return {name: _shown(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_shown(item) for item in value]
    return value


def _page(result: Result) -> dict[str, Any]:
    bases = {str(limit["basis"]) for limit in result.criteria.limits.values() if "basis" in limit}
    return {
        "side": result.side,
        "placements": [_placement(placement) for placement in result.placements],
        "criteria": f"{result.criteria.name}, version {result.criteria.version}",
        "basis": "; ".join(sorted(bases)),
        "judgement": result.judgement.statement,
        "cautions": list(CAUTIONS),
        "uncertainty": UNCERTAINTY.format(draws=result.draws),
        "software": result.software,
        "seed": str(result.seed),
    }


def _placement(placement: PlacementOut) -> dict[str, Any]:
    shares = [f"{row.input} {share_words(row.share)}" for row in placement.budget[:LARGEST_SHARES]]
    posts = [{"name": name, "words": words} for name, _, words in posts_words(placement)]
    return {
        "label": placement.label,
        "channel": between(placement.channel, "not measured"),
        "angle": between(placement.angle, "not measured"),
        "relief": between(placement.relief, "not measured"),
        "method": METHOD_WORDS[placement.method],
        "headline": placement.headline,
        "reasons": [reason.sentence for reason in placement.reasons],
        "risk": risk_words(placement),
        "posts": posts,
        "settle": foreseen(placement),
        "shares": ", ".join(shares),
        "notes": list(placement.notes),
        "seat": seat_words(placement) if placement.channel is not None else [],
    }


def _as_jpeg(picture_png: bytes) -> bytes:
    """Return the picture as a JPEG: a tenth of the size, and none of it is measured again."""
    stream = io.BytesIO()
    with Image.open(io.BytesIO(picture_png)) as picture:
        picture.convert("RGB").save(stream, "JPEG", quality=90, subsampling=0)
    return stream.getvalue()


def _compiled(sheet: str, data: Mapping[str, Any], picture: bytes) -> bytes:
    """Return the PDF of a sheet; data and picture are all it can read."""
    # All of it in memory: a client's photo is never written to the disk, not for a moment either.
    given = {"data": json.dumps(_shown(data)), "picture": json.dumps(list(picture))}
    pdf = typst.compile(
        resources.files("rimspan.sheets").joinpath(sheet).read_bytes(),
        format="pdf",
        sys_inputs=given,
        pdf_standards=["ua-1"],
    )
    if not isinstance(pdf, bytes):
        raise TypeError(f"'pdf' must be bytes (got {type(pdf).__name__})")
    return pdf
