"""Dates and times of FHIR, read with the precision they were sent in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from service.domain.patient import BirthDate
from service.fhir.read_log import ReadLog

_DATE_TIME = re.compile(
    r"(?P<year>\d{4})(-(?P<month>\d\d)(-(?P<day>\d\d)"
    r"(?P<time>T(?P<hour>\d\d):(?P<minute>\d\d):(?P<second>\d\d)(\.\d+)?(?P<offset>Z|[+-]\d\d:\d\d)?)?)?)?"
)
_WIDEST_OFFSET = timedelta(hours=14)


@dataclass(frozen=True)
class Moment:
    """A day, and the instant when the time of day was sent.

    The day is that of the patient's time zone for an instant; a day sent as a day is never
    shifted.
    """

    day: date
    instant: datetime | None = None


def _match(text: Any, expression: str, log: ReadLog) -> re.Match[str] | None:
    if not isinstance(text, str):
        log.fault("not-a-text", expression)
        return None
    match = _DATE_TIME.fullmatch(text)
    if match is None:
        log.fault("date-invalid", expression)
    return match


def _read_instant(match: re.Match[str], zone: ZoneInfo) -> datetime:
    """Leap seconds count as the last second before them; offsets beyond 14 hours do not exist."""
    text = match.group(0)
    if match["second"] == "60":
        text = text.replace(":60", ":59", 1) if match["minute"] != "60" else text
    instant = datetime.fromisoformat(text)
    if abs(instant.utcoffset()) > _WIDEST_OFFSET:
        raise ValueError("offset")
    return instant.astimezone(zone)


def read_moment(text: Any, expression: str, zone: ZoneInfo, log: ReadLog) -> Moment | None:
    """A dateTime or instant to the day at least; ``None`` with a fault otherwise."""
    match = _match(text, expression, log)
    if match is None:
        return None
    if match["time"] and not match["offset"]:
        log.fault("time-without-zone", expression)
        return None
    try:
        if match["time"]:
            instant = _read_instant(match, zone)
            return Moment(instant.date(), instant)
        if match["day"]:
            return Moment(date.fromisoformat(match.group(0)))
    except (ValueError, OverflowError):
        log.fault("date-invalid", expression)
        return None
    log.fault("day-needed", expression)
    return None


def read_birth_date(text: Any, expression: str, log: ReadLog) -> BirthDate | None:
    """A birth date in the precision it was recorded in."""
    match = _match(text, expression, log)
    if match is None:
        return None
    parts = [int(match[name]) if match[name] else None for name in ("year", "month", "day")]
    birth = BirthDate(*parts)
    try:
        birth.earliest()
    except ValueError:
        match = None
    if match is None or match["time"]:
        log.fault("date-invalid", expression)
        return None
    return birth


def read_period(period: Any, expression: str, zone: ZoneInfo, log: ReadLog) -> Moment | None:
    """The start of a Period, checked against its end; the end when only that is known."""
    if not isinstance(period, dict):
        log.fault("value-invalid", expression)
        return None
    start, end = (
        read_moment(period[name], f"{expression}.{name}", zone, log) if name in period else None
        for name in ("start", "end")
    )
    if start and end and end.day < start.day:
        log.fault("period-reversed", expression)
    return start or end


def read_choice(
    resource: dict[str, Any], stem: str, expression: str, zone: ZoneInfo, log: ReadLog
) -> Moment | None:
    """``effective[x]``, ``performed[x]`` or ``onset[x]``; ``None`` without a fault when absent."""
    place = f"{expression}.{stem}"
    for suffix in ("DateTime", "Instant"):
        if f"{stem}{suffix}" in resource:
            return read_moment(resource[f"{stem}{suffix}"], place, zone, log)
    if f"{stem}Period" in resource:
        return read_period(resource[f"{stem}Period"], place, zone, log)
    if any(key.startswith(stem) and key != stem for key in resource):
        log.fault("value-type", place, allowed="dateTime or Period")
    return None
