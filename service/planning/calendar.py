"""Days on which theatre is available."""

from __future__ import annotations

from service.domain.case import GraftingCase, TheatreDay


def theatre_day_of(case: GraftingCase, day: int) -> TheatreDay | None:
    """The caller's entry for a day, if the caller named days at all."""
    when = case.date_of(day)
    return next((t for t in case.request.theatre_days if t.day == when), None)


def next_theatre_day(case: GraftingCase, day: int) -> int | None:
    """The first day from ``day`` on which theatre is available, within the horizon."""
    if case.request.theatre_days:
        days = [case.day_of(t.day) for t in case.request.theatre_days]
        return min((d for d in days if day <= d <= case.horizon_day), default=None)
    return day if day <= case.horizon_day else None


def positions_allowed(case: GraftingCase, day: int) -> int:
    """How many positions a session may take that day."""
    entry = theatre_day_of(case, day)
    if entry is None or entry.positions is None:
        return case.limits.positions
    return min(case.limits.positions, entry.positions)
