"""What the people page says."""

from __future__ import annotations

from rimspan.clientfile import Role

ROLES = {
    Role.APPRENTICE: "apprentice: measures, never decides",
    Role.PIERCER: "piercer: decides",
    Role.MANAGER: "manager: decides, and says who works here",
}

LEFT = "works here no more"
RETENTION = (
    "How long that must or may be, local law decides; no period is proposed here. Nobody is erased "
    "by itself: who is due is listed, and a manager erases them on their own page."
)
IDLE = "After so many minutes without a step a screen hides everything until its password is typed."


def role_words(role: Role) -> str:
    """Return a role and what it may."""
    return ROLES[role]


def due_words(count: int) -> str:
    """Return how many are due."""
    if not count:
        return "Nobody is due."
    return "One client is due:" if count == 1 else f"{count} clients are due:"


AGES = (
    "The law of the place comes first and differs; a studio may be stricter than it, never laxer. "
    "16 and 18 are this program's assumption until they are set."
)
