"""From a settled plan to dated events: what theatre, ward and surgeon do on which day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from service.domain.body_region import Place, all_places
from service.domain.case import GraftingCase
from service.domain.dressing import DISTURBING, CareEvent, CareSchedule, EventKind
from service.domain.forecast import CourseForecast
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.schedule.cover_checks import cover_check_events, template_events
from service.schedule.cover_orders import cover_order_events
from service.schedule.donor_dressings import DonorCare
from service.schedule.donor_parcels import HarvestedParcel, number_parcels
from service.schedule.graft_aftercare import Aftercare
from service.schedule.graft_dressings import GraftCare
from service.schedule.grafts import Graft, number_grafts
from service.schedule.infected_beds import INFECTED, inspect_bed_events
from service.schedule.merging import choose_days
from service.schedule.preconditions import precondition_events
from service.schedule.reviews import review_events
from service.schedule.rounds import join_rounds
from service.schedule.theatre_days import theatre_days_of
from service.schedule.theatre_events import (
    cover_events,
    excision_events,
    harvest_events,
    placement_event,
)

_KIND_ORDER = {kind: number for number, kind in enumerate(EventKind)}
_PLACES = {place.key: place for place in all_places()}


def schedule_care(
    case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences,
    forecast: CourseForecast | None = None,
) -> CareSchedule:
    """Every event that follows from a plan, from the as-of day on, merged inside the windows.

    Firm sessions give events in theatre and the dressings after them; so do grafts and donor
    sites already on the patient. A contingent session gives none: the inspection of the
    grafts that it depends on says so.

    Parameters
    ----------
    case : GraftingCase
    plan : SettledPlan
    evidence : Evidence
        Rows of ``dressings.csv``, ``take.csv``, ``site_configuration.csv`` and others. [d]
    preferences : Preferences
        The quantiles that planning uses, and whether negative pressure is used.
    forecast : CourseForecast, optional
        Intervals of skin and plates from simulated courses; without it those of the sources.

    Returns
    -------
    CareSchedule
        Events by day, then in the order of the kinds, then by subject: the same for the same
        input; and the days with a disturbance, merged and not.
    """
    grafts = number_grafts(case, plan)
    parcels = number_parcels(case, plan, evidence, preferences)
    ward = _Ward(case, plan, evidence, preferences, grafts, parcels)
    usual = ward.events({}, frozenset())
    merged = min(
        (_into_theatre(ward.events(days, busy), plan) for days, busy in ward.choices(usual)),
        key=lambda events: len(_disturbed_days(events)),
    )
    events = [*_theatre_acts(case, plan, evidence, preferences, grafts, parcels, forecast), *merged]
    events = join_rounds(events, case)
    events += review_events(events)
    return CareSchedule(tuple(sorted(events, key=_order)), len(_disturbed_days(merged)), len(_disturbed_days(usual)))


class _Ward:
    """Everything outside theatre, for any choice of days."""

    def __init__(self, case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences,
                 grafts: tuple[Graft, ...], parcels: tuple[HarvestedParcel, ...]) -> None:
        self._case, self._plan, self._evidence = case, plan, evidence
        self._grafts = [GraftCare(g, case, plan, evidence, preferences) for g in grafts]
        self._donors = [DonorCare(p, plan, evidence) for p in parcels]
        self._aftercare = [
            Aftercare(g, case, plan, evidence) for g in grafts if g.wound.bed_state not in INFECTED]

    def events(self, days: Mapping[str, int], busy_days: frozenset[int]) -> list[CareEvent]:
        events: list[CareEvent] = []
        for graft in self._grafts:
            events += graft.events(days, busy_days)
        for part in (*self._donors, *self._aftercare):
            events += part.events(days)
        events += cover_check_events(self._case, self._plan, self._evidence)
        events += template_events(self._case, self._plan, self._evidence)
        events += inspect_bed_events(self._case)
        return events

    def choices(self, usual: Iterable[CareEvent]) -> Iterator[tuple[dict[str, int], frozenset[int]]]:
        """Days for all that may move: merged on the ward too, into theatre only, or left.

        Merging counts a daily change as fixed, which a moved reading may end earlier, so the
        result is compared and not trusted.
        """
        movables = [m for part in (*self._grafts, *self._donors, *self._aftercare) for m in part.movables()]
        kept = frozenset(
            e.day for e in _into_theatre(usual, self._plan)
            if e.kind is EventKind.CHANGE_OUTER_DRESSING and e.earliest_day == e.latest_day
            and not e.is_done_in_theatre)
        reach = int(self._evidence.value("theatre-merge-days"))
        starts = self._starts()
        days = starts | choose_days(movables, kept, reach)
        sessions = frozenset(s.day for s in self._plan.firm_sessions)
        yield days, kept | sessions | frozenset(days.values())
        stay = [replace(m, ward=replace(m.ward, earliest=m.ward.day, latest=m.ward.day)) for m in movables]
        yield starts | choose_days(stay, kept, reach), frozenset()
        yield starts, frozenset()

    def _starts(self) -> dict[str, int]:
        """Walking and compression disturb no dressing: each kind on as few days as its windows allow."""
        starts = [m for part in self._aftercare for m in part.starts()]
        kinds = {m.key.rpartition(":")[2] for m in starts}
        return {
            key: day
            for kind in sorted(kinds)
            for key, day in choose_days([m for m in starts if m.key.endswith(kind)], frozenset(), 0).items()
        }


def _theatre_acts(
    case: GraftingCase,
    plan: SettledPlan,
    evidence: Evidence,
    preferences: Preferences,
    grafts: tuple[Graft, ...],
    parcels: tuple[HarvestedParcel, ...],
    forecast: CourseForecast | None,
) -> Iterator[CareEvent]:
    for session in plan.firm_sessions:
        yield from excision_events(session, case, plan)
        yield from cover_events(session, case, plan)
    for parcel in parcels:
        if parcel.harvest is not None:
            yield from harvest_events(parcel, case, plan, evidence, preferences, forecast)
    for graft in grafts:
        if graft.placement is not None:
            yield placement_event(graft, evidence, preferences, forecast)
    yield from precondition_events(case, plan)
    yield from cover_order_events(case, plan, evidence)


def _into_theatre(events: Iterable[CareEvent], plan: SettledPlan) -> list[CareEvent]:
    """What opens a dressing on the day of a session that reaches its place is done in that session."""
    ordinals = {s.day: s.ordinal for s in plan.firm_sessions}
    return [
        replace(e, session=ordinals[e.day])
        if e.kind in DISTURBING and e.day in theatre_days_of(_place_of(e), plan, e.earliest_day - 1)
        else e
        for e in events
    ]


def _place_of(event: CareEvent) -> Place:
    """Grafts, wounds and parcels begin with the key of their place."""
    return _PLACES[event.subject_key.partition(":")[0]]


def _disturbed_days(events: Iterable[CareEvent]) -> set[int]:
    return {e.day for e in events if e.kind in DISTURBING and not e.is_done_in_theatre}


def _order(event: CareEvent) -> tuple:
    return event.day, _KIND_ORDER[event.kind], event.subject_key, event.ordinal
