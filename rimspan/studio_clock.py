"""The studio's clock: the time zone in which visits are agreed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, tzinfo
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
    return today_at(moment, _zone(file))


def today(file: ClientFile) -> date:
    """Return the day by the studio's clock."""
    return day_of(file, file.clock())


def here(file: ClientFile, moment: datetime) -> datetime:
    """Return a moment as the studio's clock shows it; as this machine's does if none is set."""
    return moment.astimezone(_zone(file))


def at_here(file: ClientFile, day: date, clock: time) -> datetime:
    """Return the moment at which the studio's clock shows that time on that day."""
    zone, at = _zone(file), datetime.combine(day, clock)
    return at.astimezone() if zone is None else at.replace(tzinfo=zone)


def _zone(file: ClientFile) -> tzinfo | None:
    zone = zone_of(file)
    return ZoneInfo(zone) if zone else None


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
