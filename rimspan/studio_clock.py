"""The studio's clock: the time zone in which visits are agreed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo, available_timezones

from assess.due_list import today_at
from assess.talk.record import Agreed
from rimspan.clientfile import ClientFile, Person, RefusedError
from rimspan.studio import manager

CLOCK = "clock"
"""The name of the setting."""


def zone_of(file: ClientFile) -> str:
    """Return the studio's time zone by its name, or ``""`` while none is set."""
    return str(file.settings.get(CLOCK).get("zone", ""))


def day_of(file: ClientFile, moment: datetime) -> date:
    """Return which day it is at a moment by the studio's clock; by this machine's if none is set.

    Parameters
    ----------
    moment : with its zone
    """
    zone = zone_of(file)
    return today_at(moment, ZoneInfo(zone) if zone else None)


def today(file: ClientFile) -> date:
    """Return the day by the studio's clock."""
    return day_of(file, file.clock())


def set_zone(file: ClientFile, by: Person | None, zone: str) -> None:
    """Set by which clock visits are agreed.

    Raises
    ------
    RefusedError
        If there is no such zone.
    """
    said = manager(file, by).name
    if zone not in available_timezones():
        raise RefusedError("there is no such time zone; choose one of the list")
    file.settings.set(CLOCK, {"zone": zone}, said)


def moments(times: Mapping[str, Agreed]) -> dict[str, datetime]:
    """Return agreed times with their zones.

    One in a zone unknown here, or that its clock leaves out that day, is left out.
    """
    known = available_timezones()
    named = {visit: each for visit, each in times.items() if each.zone in known}
    zoned = {v: each.at.replace(tzinfo=ZoneInfo(each.zone)) for v, each in named.items()}
    return {v: at for v, at in zoned.items() if _on_the_clock(at)}


def _on_the_clock(at: datetime) -> bool:
    there = at.astimezone(UTC).astimezone(at.tzinfo)
    return there.replace(tzinfo=None) == at.replace(tzinfo=None)
