"""Which days to hold sessions on: first guesses from the bound, then better ones beside them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from service.planning.calendar import next_theatre_day
from service.planning.course_model import Facts, Slots


def course_slots(facts: Facts, single_days: int, fine_slots: int) -> Slots:
    """Slots for a bound: the theatre days, else single days, then spans of the days of rest, then twice that.

    A span as long as the rest holds one session.
    """
    case = facts.quantities.case
    if case.request.theatre_days:
        days = sorted({case.day_of(t.day) for t in case.request.theatre_days})
        first = np.array([d for d in days if case.first_session_day <= d <= case.horizon_day], int)
        return Slots(first, first, np.ones(len(first)), np.zeros(len(first)))
    rest = case.limits.rest_days
    starts, day = [], case.first_session_day
    while day <= case.horizon_day:
        starts.append(day)
        day += 1 if len(starts) <= single_days else rest if len(starts) <= single_days + fine_slots else 2 * rest
    first = np.array(starts, int)
    last = np.append(first[1:] - 1, case.horizon_day)
    most = (last - first) // rest + 1
    return Slots(first, last, most.astype(float), np.zeros(len(first)))


def spaced(facts: Facts, days: list[int]) -> tuple[int, ...]:
    """The days, moved on to theatre days with enough rest between; what finds no day is left out."""
    case = facts.quantities.case
    found: list[int] = []
    for day in sorted(days):
        after = found[-1] + case.limits.rest_days if found else case.first_session_day
        at = next_theatre_day(case, max(day, after))
        if at is not None:
            found.append(at)
    return tuple(found)


def days_of_bound(facts: Facts, slots: Slots, held: np.ndarray,
                  thresholds: tuple[float, ...]) -> Iterator[tuple[int, ...]]:
    """A session where the sessions held in part add up to the next whole one, less a threshold."""
    total = np.cumsum(held)
    for threshold in thresholds:
        days, count = [], 0
        for first, up_to in zip(slots.first, total, strict=True):
            while up_to >= count + threshold:
                days.append(int(first))
                count += 1
        yield spaced(facts, days)


def neighbours(facts: Facts, days: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """One session less, one or all later ones moved by a day or by the rest, one session more."""
    rest = facts.quantities.case.limits.rest_days
    for i in range(len(days)):
        yield days[:i] + days[i + 1:]
    steps = sorted({1, rest})
    for step in (s for n in steps for s in (-n, n)):
        for i in range(len(days)):
            yield spaced(facts, [*days[:i], *(d + step for d in days[i:])])
            yield spaced(facts, [*days[:i], days[i] + step, *days[i + 1:]])
    for i in range(len(days)):
        yield spaced(facts, [*days, days[i] + rest])
