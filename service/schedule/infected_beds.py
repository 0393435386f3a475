"""Infected beds: their cover comes off at once and the bed is inspected, nothing is begun there."""

from __future__ import annotations

from collections.abc import Iterator

from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind
from service.wording.places import place_in_words

INFECTED = frozenset({BedState.INFECTED, BedState.STREPTOCOCCUS})


def inspect_bed_events(case: GraftingCase) -> Iterator[CareEvent]:
    """One urgent look today at each wound whose bed is recorded as infected and still open."""
    for wound in case.wounds:
        if wound.bed_state in INFECTED and wound.area_cm2:
            yield CareEvent(
                EventKind.INSPECT_BED, wound.wound_id, 1, 0, 0, 0, None, place_in_words(wound.place.key),
                priority="urgent", values=(("group", _what_to_do(wound)),),
                series=f"{wound.wound_id}:{EventKind.INSPECT_BED}",
            )


def _what_to_do(wound: BurnWound) -> str:
    state = "streptococcus" if wound.bed_state is BedState.STREPTOCOCCUS else "infected"
    return f"{state}, the temporary cover comes off" if wound.covered_cm2 else state


def streptococcus_beds(case: GraftingCase) -> tuple[str, ...]:
    """Open places with streptococcus, in words."""
    found = {w.place.key for w in case.wounds if w.bed_state is BedState.STREPTOCOCCUS and w.area_cm2}
    return tuple(place_in_words(key) for key in sorted(found))
