"""Which sessions of the plan before have been held, and which are still to come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from service.domain.case import BurnRecord
from service.domain.plan_difference import EarlierCourse, SessionOutline


@dataclass(frozen=True)
class HeldSession:
    """A planned session and the day on which it was held."""

    planned: SessionOutline
    day: date


def deed_days(record: BurnRecord) -> set[date]:
    """Days on which something was excised, harvested or grafted."""
    return {deed.day for deed in (*record.excisions, *record.harvests, *record.placements)}


def match_sessions(
    earlier: EarlierCourse, record: BurnRecord,
) -> tuple[tuple[HeldSession, ...], tuple[SessionOutline, ...]]:
    """Sessions held since the plan before, and those still to come, both in order.

    A day of surgery belongs to the session planned for it, else to the first that is left. What
    was recorded for the day of the plan itself was known to it, unless it planned a session then.
    """
    planned = {session.day: session for session in earlier.outline.sessions}
    recorded = {day for day in deed_days(record) if day > earlier.made_on or day in planned}
    held = [HeldSession(planned.pop(day), day) for day in sorted(recorded & set(planned))]
    moved = sorted(recorded - {one.day for one in held})
    held += [HeldSession(planned.pop(old), day) for old, day in zip(sorted(planned), moved, strict=False)]
    return tuple(sorted(held, key=lambda one: one.day)), tuple(planned[day] for day in sorted(planned))
