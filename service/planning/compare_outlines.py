"""Two outlines of a course side by side: which sessions move, come or go, and whose areas differ."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from functools import cache

from service.domain.case import Act
from service.domain.plan_difference import CourseOutline, PlanChange, PlanChangeKind, SessionOutline

_AMOUNTS = {
    Act.HARVEST: PlanChangeKind.HARVESTED, Act.EXCISE: PlanChangeKind.EXCISED, Act.PLACE: PlanChangeKind.GRAFTED,
}
Pair = tuple[SessionOutline | None, SessionOutline | None]
#: Area that differs, sessions without a partner, days moved: what pairing keeps small, in this order.
Cost = tuple[Decimal, int, int]


def compare_outlines(before: CourseOutline, after: CourseOutline, tolerance_cm2: Decimal) -> tuple[PlanChange, ...]:
    """Every change, in the order of the sessions; areas that differ by less than the tolerance do not.

    Of the next session each place is compared, of those after it the whole: they are planned
    again before they are held.
    """
    changes: list[PlanChange] = []
    is_next = True
    for old, new in _pair(before.sessions, after.sessions):
        changes += _compare_sessions(old, new, tolerance_cm2, with_places=is_next)
        is_next = is_next and new is None
    if before.ends is not None and after.ends is not None and before.ends != after.ends:
        changes.append(PlanChange(PlanChangeKind.ENDS, before.ends, after.ends))
    return tuple(changes)


def _pair(before: tuple[SessionOutline, ...], after: tuple[SessionOutline, ...]) -> tuple[Pair, ...]:
    """The sessions that do the same, in their order: a session that shifts stays the same session."""

    @cache
    def best(i: int, j: int) -> tuple[Cost, tuple[Pair, ...]]:
        """The rest of both courses from these sessions on."""
        if i == len(before) and j == len(after):
            return (Decimal(0), 0, 0), ()
        steps = []
        if i < len(before) and j < len(after):
            steps.append((before[i], after[j], i + 1, j + 1))
        if i < len(before):
            steps.append((before[i], None, i + 1, j))
        if j < len(after):
            steps.append((None, after[j], i, j + 1))
        return min((_add(old, new, best(*rest)) for old, new, *rest in steps), key=lambda found: found[0])

    return best(0, 0)[1]


def _add(old: SessionOutline | None, new: SessionOutline | None,
         rest: tuple[Cost, tuple[Pair, ...]]) -> tuple[Cost, tuple[Pair, ...]]:
    (area, alone, days), pairs = rest
    if old is None or new is None:
        session = old or new
        whole = sum((session.total_cm2(act) or Decimal(0) for act in _AMOUNTS), Decimal(0))
        return (area + whole, alone + 1, days), ((old, new), *pairs)
    differing = sum((_differing_cm2(old, new, act) for act in _AMOUNTS), Decimal(0))
    return (area + differing, alone, days + abs((old.day - new.day).days)), ((old, new), *pairs)


def _differing_cm2(old: SessionOutline, new: SessionOutline, act: Act) -> Decimal:
    """Area that one of two sessions has more than the other, by place where both are known. [cm²]"""
    if old.areas_cm2 and new.areas_cm2:
        return sum((abs(was - now) for _, was, now in _by_place(old, new, act)), Decimal(0))
    totals = old.total_cm2(act), new.total_cm2(act)
    return Decimal(0) if None in totals else abs(totals[0] - totals[1])


def _by_place(old: SessionOutline, new: SessionOutline, act: Act) -> list[tuple[str, Decimal, Decimal]]:
    were, are = old.by_place(act), new.by_place(act)
    return [(place, were.get(place, Decimal(0)), are.get(place, Decimal(0))) for place in sorted({*were, *are})]


def _compare_sessions(
    before: SessionOutline | None, after: SessionOutline | None, tolerance_cm2: Decimal, *, with_places: bool,
) -> Iterator[PlanChange]:
    if before is None:
        yield PlanChange(PlanChangeKind.ADDED, day=after.day)
    elif after is None:
        yield PlanChange(PlanChangeKind.DROPPED, before.day)
    else:
        if before.day != after.day:
            yield PlanChange(PlanChangeKind.MOVED, before.day, after.day)
        for act in _AMOUNTS:
            yield from _compare_areas(before, after, act, tolerance_cm2, with_places and bool(before.areas_cm2))


def _compare_areas(
    before: SessionOutline, after: SessionOutline, act: Act, tolerance_cm2: Decimal, with_places: bool,
) -> Iterator[PlanChange]:
    old, new = before.total_cm2(act), after.total_cm2(act)
    if old is None or new is None:
        return
    both = _by_place(before, after, act) if with_places else []
    places = tuple((place, was, now) for place, was, now in both if abs(was - now) >= tolerance_cm2)
    if places or abs(old - new) >= tolerance_cm2:
        yield PlanChange(_AMOUNTS[act], before.day, after.day, old, new, places)
