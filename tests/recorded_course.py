"""Turn a planned session into what the record would say once it was done as planned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from service.domain.body_region import Place
from service.domain.case import (
    BurnRecord,
    CoverRecord,
    ExcisionRecord,
    GraftingCase,
    PlacementRecord,
    PlanRequest,
)
from service.domain.donor_site import DonorState, DonorStateRecord, HarvestRecord
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, Session
from service.evidence.library import Evidence


def _place_of(case: GraftingCase, wound_id: str) -> Place:
    return next(w.place for w in case.wounds if w.wound_id == wound_id)


def record_session(case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence) -> BurnRecord:
    """The record with one session done exactly as planned."""
    when, name = case.date_of(session.day), f"session-{case.date_of(session.day)}"
    sites = {s.site_id: s.place for s in case.donor_sites}
    mm = {row.applies_to: (row.low + row.high) / 2 if row.high else row.value for row in evidence.rows("thickness-mm")}
    record = case.record
    return replace(
        record,
        excisions=(*record.excisions, *(
            ExcisionRecord(_place_of(case, e.wound_id), when, e.area_cm2, f"{name}-excision-{e.wound_id}")
            for e in plan.excisions if e.day == session.day)),
        harvests=(*record.harvests, *(
            HarvestRecord(sites[h.site_id], when, h.area_cm2, mm[h.thickness], f"{name}-harvest-{i}")
            for i, h in enumerate(plan.harvests) if h.day == session.day)),
        placements=(*record.placements, *(
            PlacementRecord(_place_of(case, p.wound_id), when, p.area_cm2, p.method, f"{name}-placement-{i}")
            for i, p in enumerate(plan.placements) if p.day == session.day)),
        covers=(*record.covers, *(
            CoverRecord(_place_of(case, c.wound_id), when, c.area_cm2, f"{name}-cover-{i}")
            for i, c in enumerate(plan.covers) if c.day == session.day and c.kind is CoverKind.TEMPORARY)),
    )


def read_due_grafts(record: BurnRecord, today: date, evidence: Evidence,
                    take_of: Callable[[PlacementRecord], Decimal] | None = None) -> BurnRecord:
    """Every graft past its read day gets a take, read on that day: the expected one, or ``take_of`` it."""
    def read(placed: PlacementRecord) -> PlacementRecord:
        due = placed.day + timedelta(days=int(evidence.value("read-day", placed.method.kind)))
        if placed.take_fraction is not None or due > today:
            return placed
        take = evidence.value("take", placed.method.kind) if take_of is None else take_of(placed)
        return replace(placed, take_fraction=take, take_day=due)

    return replace(record, placements=tuple(read(p) for p in record.placements))


def see_donors_healed(case: GraftingCase, record: BurnRecord, today: date) -> BurnRecord:
    """Every site whose last harvest is expected to have healed by today is recorded as healed."""
    states = []
    for site in case.donor_sites:
        days = [p.healed_day for p in site.parcels if p.harvest_count]
        if days and case.date_of(max(days)) <= today:
            states.append(DonorStateRecord(site.place, DonorState.HEALED, today, f"seen-{today}-{site.site_id}"))
    kept = [s for s in record.donor_states if s.place not in {n.place for n in states}]
    return replace(record, donor_states=(*kept, *states))


def as_of(request: PlanRequest, day: date) -> PlanRequest:
    """The same request on another day, with the cover that is left to be stated anew."""
    return replace(request, as_of=request.as_of.replace(year=day.year, month=day.month, day=day.day))


def recorded_cm2(records, place: Place) -> Decimal:
    return sum((r.area_cm2 for r in records if r.place == place), Decimal(0))
