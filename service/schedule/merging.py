"""Events moved inside their own windows, so that a patient is disturbed on as few days as is safe.

A look that falls near a visit to theatre goes into theatre, where the patient is asleep
anyway. What remains on the ward is put on days on which a dressing is opened in any case,
and else on as few further days as cover all windows, as near to the usual days as possible.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from service.schedule.windows import Window

Cost = tuple[int, int]  # further days with a disturbance, then days moved in all


@dataclass(frozen=True)
class Movable:
    """An event that may move.

    ``window`` bounds it in theatre, ``ward`` on the ward, which is narrower where another day
    on the ward would cost a further dressing. ``theatre_days`` are the sessions in which its
    place can be reached.
    """

    key: str
    window: Window
    ward: Window
    theatre_days: frozenset[int] = frozenset()


def choose_days(movables: Iterable[Movable], kept_days: frozenset[int], reach_days: int) -> dict[str, int]:
    """A day for every event, inside its window.

    Parameters
    ----------
    movables : iterable of Movable
    kept_days : frozenset of int
        Days on which the patient is disturbed on the ward in any case.
    reach_days : int
        How far from its usual day an event goes into theatre.

    Returns
    -------
    dict
        Day by key; the same for the same input in any order.
    """
    chosen, on_ward = {}, []
    for movable in sorted(movables, key=lambda m: (m.window.day, m.key)):
        day = _theatre_day(movable, reach_days)
        if day is None:
            on_ward.append(movable)
        else:
            chosen[movable.key] = day
    points = _fewest_points([m.ward for m in on_ward], kept_days)
    return chosen | {m.key: _nearest(m.ward, points) for m in on_ward}


def _theatre_day(movable: Movable, reach_days: int) -> int | None:
    window = movable.window
    near = [
        day
        for day in movable.theatre_days
        if window.earliest <= day <= window.latest and abs(day - window.day) <= reach_days
    ]
    return min(near, key=lambda day: (abs(day - window.day), day), default=None)


def _nearest(window: Window, points: Iterable[int]) -> int:
    """The point inside the window that lies nearest to its usual day, the earlier of two."""
    inside = [p for p in points if window.earliest <= p <= window.latest]
    return min(inside, key=lambda p: (abs(p - window.day), p))


def _fewest_points(windows: list[Window], kept_days: frozenset[int]) -> list[int]:
    """Days that hit every window: the fewest beside the kept ones, then the least moved.

    Exact, day by day: an event lies between two neighbouring chosen days and takes the nearer
    one that its window allows, so the best course up to a day depends on nothing before it.
    """
    if not windows:
        return sorted(kept_days)
    days = sorted({*kept_days, *(d for w in windows for d in range(w.earliest, w.latest + 1))})
    start, end = days[0] - 1, days[-1] + 1
    best: dict[int, tuple[Cost, int | None]] = {start: ((0, 0), None)}
    for position, day in enumerate([*days, end]):
        options = []
        for before in [*reversed(days[:position]), start]:
            moved = _moved_days(windows, before, day)
            if moved is None:
                break  # an event between the two that reaches neither reaches no earlier one
            (count, total), _ = best[before]
            is_further = day != end and day not in kept_days
            options.append(((count + is_further, total + moved), before))
        best[day] = min(options)
    return _walk_back(best, end, start)


def _moved_days(windows: list[Window], before: int, after: int) -> int | None:
    """Days moved by the events that lie from ``before`` up to ``after``; ``None`` when one reaches neither."""
    total = 0
    for window in windows:
        if before <= window.day < after:
            costs = [abs(d - window.day) for d in (before, after) if window.earliest <= d <= window.latest]
            if not costs:
                return None
            total += min(costs)
    return total


def _walk_back(best: dict[int, tuple[Cost, int | None]], end: int, start: int) -> list[int]:
    points, day = [], best[end][1]
    while day is not None and day != start:
        points.append(day)
        day = best[day][1]
    return sorted(points)
