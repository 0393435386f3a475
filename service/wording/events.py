"""Care events in words: the title of a Task and what it asks for."""

from __future__ import annotations

from service.domain.dressing import CareEvent
from service.wording.catalogue import fill, load_table


def _values(event: CareEvent) -> dict[str, str]:
    return {"place": event.place, **dict(event.values)}


def event_title(event: CareEvent) -> str:
    """One line: what is to be done, and where."""
    return fill(load_table("events")[event.kind]["title"], _values(event))


def event_description(event: CareEvent) -> str:
    """What is to be done, for the person who does it; without dates, which stand beside it."""
    return fill(load_table("events")[event.kind]["text"], _values(event)).strip()
