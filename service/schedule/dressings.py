"""From a settled plan to dated events: what theatre, ward and surgeon do on which day."""

from __future__ import annotations

from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.schedule.cover_orders import cover_order_events
from service.schedule.donor_dressings import donor_events
from service.schedule.donor_parcels import number_parcels
from service.schedule.graft_dressings import GraftCare
from service.schedule.grafts import number_grafts
from service.schedule.preconditions import precondition_events
from service.schedule.reviews import review_events
from service.schedule.theatre_events import (
    cover_events,
    excision_events,
    harvest_events,
    placement_event,
)

_KIND_ORDER = {kind: number for number, kind in enumerate(EventKind)}


def schedule_events(
    case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences
) -> tuple[CareEvent, ...]:
    """Every event that follows from a plan, from the as-of day on.

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
        The quantiles that planning uses.

    Returns
    -------
    tuple of CareEvent
        By day, then in the order of the kinds, then by subject: the same for the same input.
    """
    events: list[CareEvent] = []
    for session in plan.firm_sessions:
        events += excision_events(session, case, plan)
        events += cover_events(session, case, plan)
    for parcel in number_parcels(case, plan, evidence, preferences):
        if parcel.harvest is not None:
            events += harvest_events(parcel, case, plan, evidence, preferences)
        events += donor_events(parcel, evidence)
    for graft in number_grafts(case, plan):
        if graft.placement is not None:
            events.append(placement_event(graft, evidence, preferences))
        events += GraftCare(graft, case, plan, evidence).events()
    events += precondition_events(case, plan)
    events += cover_order_events(case, plan, evidence)
    events += review_events(events)
    return tuple(sorted(events, key=_order))


def _order(event: CareEvent) -> tuple:
    return event.day, _KIND_ORDER[event.kind], event.subject_key, event.ordinal
