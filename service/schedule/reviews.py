"""Planning again: the day after grafts have been read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from service.domain.dressing import CareEvent, EventKind


def review_events(events: Iterable[CareEvent]) -> Iterator[CareEvent]:
    """One review for all grafts read on one day, named by the first of them."""
    by_day: dict[int, list[CareEvent]] = defaultdict(list)
    for event in events:
        if event.kind is EventKind.INSPECT_GRAFT:
            by_day[event.day].append(event)
    for day, read in sorted(by_day.items()):
        first = min(read, key=lambda event: event.subject_key)
        latest = max(event.latest_day for event in read)
        places = "; ".join(sorted({event.place for event in read}))
        yield CareEvent(EventKind.REVIEW_PLAN, first.subject_key, 1, day + 1, day, latest + 1, None, places)
