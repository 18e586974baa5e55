"""The assessment on one page, as a tagged PDF.

Everything a person typed reaches the page as data, never as markup.  The sheet has no clock
and no gate of its own: :func:`rimspan.consultation.report` decides that it may be made.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from assess.result import PlacementOut, Result
from assess.wording import share_words
from rimspan.plan_lines import plan_lines
from rimspan.result_words import (
    METHOD_WORDS,
    between,
    foreseen,
    limits_words,
    posts_words,
    risk_words,
    seat_words,
)
from rimspan.sheets.compiling import Paper, as_jpeg, compiled
from rimspan.sheets.report_language import in_language

if TYPE_CHECKING:
    from rimspan.assessment import Assessment
    from rimspan.consultation import Confirmation

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
    paper: Paper = "a4",
    code: str = "en",
) -> bytes:
    """Return the sheet of a confirmed assessment as PDF/UA-1: one page, or more where it is full.

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
    paper : "a4" or "us-letter"
    code : its language; what people typed stays as they did
    """
    result = Result.model_validate(assessment.result)
    data = _page(result)
    data |= {
        "paper": paper,
        "client": client,
        "measured_by": measured_by,
        "date": date,
        "decided_by": confirmation.piercer,
        "statement": confirmation.statement,
        "digest": assessment.digest[:16],
    }
    return compiled("report.typ", in_language(data, code), as_jpeg(picture_png))


def _page(result: Result) -> dict[str, Any]:
    return {
        "side": result.side,
        "placements": [_placement(placement) for placement in result.placements],
        "plan": plan_lines(result.plan) if result.plan is not None else [],
        "criteria": f"{result.criteria.name}, version {result.criteria.version}",
        "limits": limits_words(result.criteria),
        "judgement": result.judgement.statement,
        "cautions": list(CAUTIONS),
        "uncertainty": UNCERTAINTY.format(draws=result.draws),
        "software": result.software,
        "seed": str(result.seed),
    }


def _placement(placement: PlacementOut) -> dict[str, Any]:
    largest = placement.budget[:LARGEST_SHARES]
    parts = [{"input": row.input, "share": share_words(row.share)} for row in largest]
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
        "parts": parts,
        "notes": list(placement.notes),
        "seat": seat_words(placement) if placement.channel is not None else [],
    }
