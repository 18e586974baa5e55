"""What is followed over the visits: words first, a small chart of each beside them."""

from __future__ import annotations

from collections.abc import Sequence

from assess.day_words import in_words
from assess.recheck_series import UNIT, WHAT, Followup
from assess.recheck_words import NO_DIAGNOSIS, trend_sentence
from assess.trend import LEAST_VISITS
from assess.wording import capital
from rimspan.screens.layout import html
from rimspan.screens.trend_svg import chart
from rimspan.typed import in_html

EACH_BY_ITSELF = (
    "Each is looked at by itself, and said from a chance of 0.95 on: of posts that stay, about one "
    "in ten would be said to drift in each of these by chance alone."
)
SIGNS = "The square is the baseline, each dot a visit, with its 95 % interval."
FEWER = "With three visits, the baseline among them, it is said whether it drifts."


def trend(found: Sequence[Followup]) -> None:
    """Draw every number that is followed; nothing where there is only one visit."""
    if not any(len(each.seen) + 1 >= LEAST_VISITS for each in found):
        return
    figures = "".join(_figure(each) for each in found)
    html(
        '<p class="rim-label"><strong>Over the visits, since '
        f'{in_words(found[0].baseline)}</strong></p><div class="rim-trends">{figures}</div>'
        f'<p class="rim-quiet">{SIGNS} {in_html(EACH_BY_ITSELF)} {in_html(NO_DIAGNOSIS)}</p>'
    )


def _figure(found: Followup) -> str:
    what, unit = WHAT[found.followed], UNIT[found.followed]
    if found.trend is None:
        words, loud = f"{capital(what)}. {FEWER}", "rim-quiet"
    else:
        words = trend_sentence(found.trend, what, unit).removesuffix(f" {NO_DIAGNOSIS}")
        loud = "rim-flag" if found.trend.said else "rim-quiet"
    return (
        f'<figure><figcaption class="{loud}">{in_html(words)}</figcaption>{chart(found)}</figure>'
    )
