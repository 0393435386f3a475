"""Events that are done at one moment by the same people, joined into one: a round, or a theatre act.

Names that last
---------------
A round is named by its date (``ward:2026-03-09`` and its kind, ``theatre:2026-03-09`` when it
is done in theatre): it is the round of that day, whichever session the grafts came from, and
it keeps its name when the plan is made again from a later day. What is done or read for a
place keeps the name of the first graft, parcel or place in it, as a session is named by the
first act in it: sessions shift and are numbered anew, grafts and parcels are not. Nothing is
named by a session's number.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache

from service.domain.body_region import all_places
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind, Quantity, sum_quantities
from service.wording.rounding import interval, need_cm2

_THEATRE_ACTS = frozenset({
    EventKind.PREPARE_DONOR_SITE, EventKind.EXCISE_WOUND, EventKind.HARVEST_SKIN, EventKind.PLACE_GRAFT,
    EventKind.PLACE_COVER, EventKind.APPLY_SPLINT,
})
#: Their results are recorded for what they name, so they keep its name when their day moves.
#: How the subject key of a round of the ward begins; its date follows.
WARD_ROUND = "ward:"
_NAMED_BY_FIRST = frozenset({EventKind.INSPECT_GRAFT, EventKind.CHECK_DONOR_HEALING})
_ALONE = frozenset({EventKind.ORDER_COVER, EventKind.CONFIRM_PRECONDITION, EventKind.REVIEW_PLAN})
_AREAS = ("excised-area", "harvest-area", "graft-area", "cover-area")


def join_rounds(events: Iterable[CareEvent], case: GraftingCase) -> list[CareEvent]:
    """One event for all that share kind and moment; the window is what all of their windows share."""
    groups: dict[tuple, list[CareEvent]] = {}
    for event in events:
        groups.setdefault(_moment(event), []).append(event)
    return [_join(sorted(same, key=lambda e: (e.subject_key, e.ordinal)), case) for same in groups.values()]


def _moment(event: CareEvent) -> tuple:
    if event.kind in _ALONE:
        return event.kind, event.subject_key, event.ordinal
    if event.kind in _THEATRE_ACTS:
        return event.kind, event.session
    if event.kind is EventKind.CHECK_DONOR_HEALING:
        return event.kind, event.day, event.is_done_in_theatre, _region_keys()[event.subject_key.partition(":")[0]]
    return event.kind, event.day, event.is_done_in_theatre


@lru_cache(maxsize=1)
def _region_keys() -> dict[str, str]:
    return {place.key: place.region_key for place in all_places()}


def _join(same: list[CareEvent], case: GraftingCase) -> CareEvent:
    first = same[0]
    if first.kind in _ALONE:
        return first
    joined = replace(
        first,
        earliest_day=max(e.earliest_day for e in same),
        latest_day=min(e.latest_day for e in same),
        place="; ".join(dict.fromkeys(e.place for e in same)),
        priority="urgent" if any(e.priority == "urgent" for e in same) else "routine",
        quantities=_sum_by_name(same),
        parts=tuple(part for e in same for part in e.parts),
        sources=tuple(sorted({source for e in same for source in e.sources})),
        preconditions=tuple(dict.fromkeys(code for e in same for code in e.preconditions)),
    )
    joined = replace(joined, values=(*_worded(_sum_by_name(same)), *_join_values(same), *_parts(same)))
    if first.kind in _THEATRE_ACTS:
        return joined
    series = f"ward:{first.kind}"
    if first.kind in _NAMED_BY_FIRST:
        return replace(joined, series=series)
    where = "theatre:" if first.is_done_in_theatre else WARD_ROUND
    return replace(joined, subject_key=f"{where}{case.date_of(first.day).isoformat()}", ordinal=1, series=series)


def _sum_by_name(same: list[CareEvent]) -> tuple[Quantity, ...]:
    by_name: dict[str, list[Quantity]] = {}
    for event in same:
        for quantity in event.quantities:
            by_name.setdefault(quantity.name, []).append(quantity)
    return tuple(q[0] if len(q) == 1 else sum_quantities(name, q) for name, q in by_name.items())


def _worded(quantities: tuple[Quantity, ...]) -> list[tuple[str, str]]:
    """The totals that titles and texts name."""
    words = []
    for quantity in quantities:
        if quantity.name in _AREAS:
            words.append(("area", need_cm2(quantity.value)))
            if quantity.low is not None:
                words.append(("interval", f"{interval(quantity.low, quantity.high).strip('()')} cm²"))
        if quantity.name == "skin-placed":
            words.append(("skin", need_cm2(quantity.value)))
    return words


def _join_values(same: list[CareEvent]) -> list[tuple[str, str]]:
    """What all say once; where they differ, each of it."""
    by_name: dict[str, dict[str, None]] = {}
    for event in same:
        for name, value in event.values:
            if name not in ("line", "group"):
                by_name.setdefault(name, {})[value] = None
    return [(name, " and ".join(v for v in values if v)) for name, values in by_name.items()]


def _parts(same: list[CareEvent]) -> list[tuple[str, str]]:
    """A line for each act, or the places under each thing that they have in common."""
    lines, groups = {}, {}
    for event in same:
        values = dict(event.values)
        if "line" in values:
            lines[values["line"]] = None
        if "group" in values:
            groups.setdefault(values["group"], {})[event.place] = None
    words = f" {_upper_first('; '.join(lines))}." if lines else ""
    words += "".join(f" {_upper_first(group)}: {'; '.join(places)}." for group, places in sorted(groups.items()))
    return [("parts", words)] if words else []


def _upper_first(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
