"""What is said of calipers: where they disagree with the photo, and where their u is doubted."""

from __future__ import annotations

from assess.channel import U_PRESSED_MM, Agreement
from assess.wording import interval_sentence, number


def disagreement_sentence(agreement: Agreement) -> str | None:
    """Return both values side by side where they differ by more than their u allows."""
    if agreement.agrees:
        return None
    gap, u = agreement.difference_mm, agreement.u_difference_mm
    allowed = u * agreement.critical**0.5
    return (
        f"Photo and calipers disagree: {interval_sentence(agreement.photo)} by the photo, "
        f"{interval_sentence(agreement.caliper)} by calipers. They differ by "
        f"{number(abs(gap), u)} mm, more than the {number(allowed, u)} mm that their "
        "uncertainties allow. One of them is off; measure both again."
    )


def pressing_sentence(u_mm: float) -> str | None:
    """Return a doubt about a caliper reading whose u is smaller than what pressing brings."""
    if u_mm >= U_PRESSED_MM:
        return None
    return (
        f"The calipers' u of {u_mm:g} mm is smaller than what pressing the tissue is assumed to "
        f"bring alone ({U_PRESSED_MM:g} mm). State u with pressing in it."
    )
