"""Care events in words: the title of a Task and what it asks for."""

from __future__ import annotations

from service.domain.dressing import CareEvent
from service.wording.catalogue import fill, load_table

_MOST_PLACES_IN_TITLE = 3
_IN_THEATRE = " Done in theatre, in the session of that day."
#: What only some events of a kind have to say.
_OPTIONAL = {"parts": "", "detail": "", "contingent": ""}


def event_title(event: CareEvent) -> str:
    """One line: what is to be done, and where."""
    return fill(load_table("events")[event.kind]["title"], _values(event))


def event_description(event: CareEvent) -> str:
    """What is to be done, for the person who does it; without dates, which stand beside it."""
    text = fill(load_table("events")[event.kind]["text"], _values(event)).strip()
    return f"{text}{_IN_THEATRE}" if event.is_done_in_theatre else text


def _values(event: CareEvent) -> dict[str, str]:
    return {**_OPTIONAL, "place": event.place, "where": _where(event), **dict(event.values)}


def _where(event: CareEvent) -> str:
    """The places by name, or how many there are when a title cannot hold them."""
    places = event.place.split("; ")
    return event.place if len(places) <= _MOST_PLACES_IN_TITLE else f"{len(places)} places"
