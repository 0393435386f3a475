"""The acts of a firm session as events: preparation, excision, harvest, grafts, cover."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import groupby

from service.domain.body_region import Place
from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import CoverRecord, ExcisionRecord, GraftingCase
from service.domain.dressing import ActPart, CareEvent, EventKind, Quantity
from service.domain.forecast import CourseForecast
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, CoverPlacement, Excision, Session
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.schedule.donor_parcels import HarvestedParcel, asks_for_healing
from service.schedule.grafts import Graft
from service.schedule.quantities import graft_forecast, harvest_quantity, plate_quantities, skin_quantity
from service.wording.methods import method_in_words
from service.wording.places import place_in_words
from service.wording.rounding import count_in_words, need_cm2

_COVER_WORDS = {CoverKind.TEMPORARY: "temporary cover", CoverKind.OVERLAY: "overlay"}


def harvest_events(
    parcel: HarvestedParcel,
    case: GraftingCase,
    plan: SettledPlan,
    evidence: Evidence,
    preferences: Preferences,
    forecast: CourseForecast | None = None,
) -> Iterator[CareEvent]:
    """Preparing the donor site the day before, and the harvest itself."""
    harvest = parcel.harvest
    lead = evidence.row("donor-preparation-lead-days")
    before = max(harvest.day - int(lead.value), 0)
    place = place_in_words(parcel.site.site_id)
    yield CareEvent(
        EventKind.PREPARE_DONOR_SITE, parcel.key, 1, before, before, harvest.day, parcel.session, place,
        sources=(lead.row_id,))
    quantity = harvest_quantity(harvest, case, plan, evidence, preferences, forecast)
    made = f"{need_cm2(quantity.value)}, {harvest.thickness}, harvest number {harvest.harvest_number}"
    yield CareEvent(
        EventKind.HARVEST_SKIN,
        parcel.key,
        1,
        harvest.day,
        harvest.day,
        harvest.day,
        parcel.session,
        place,
        quantities=(quantity,),
        parts=(ActPart(parcel.site.place, (quantity,), None, harvest.thickness, harvest.harvest_number),),
        preconditions=("donor-healing-not-recorded",) if asks_for_healing(harvest, case, plan) else (),
        values=(
            ("thickness", harvest.thickness.value),
            ("line", f"{place}: {made}"),
        ),
    )


def placement_event(graft: Graft, evidence: Evidence, preferences: Preferences,
                    forecast: CourseForecast | None = None) -> CareEvent:
    """The graft of one wound by one method."""
    placement = graft.placement
    found = graft_forecast(placement, graft.session, forecast)
    words = f"{place_in_words(graft.wound.wound_id)}: {need_cm2(placement.area_cm2)}"
    made_of = f"{method_in_words(placement.method)} from {need_cm2(placement.skin_cm2)}"
    plates = f", {count_in_words(placement.plates)} plates on as many carriers" if placement.plates else ""
    quantities = (
        Quantity("graft-area", placement.area_cm2, None, None, "cm2", ()),
        skin_quantity(placement, evidence, preferences, found),
        *plate_quantities(placement, evidence, preferences, found),
    )
    return CareEvent(
        EventKind.PLACE_GRAFT,
        graft.key,
        1,
        graft.placed_day,
        graft.placed_day,
        graft.placed_day,
        graft.session,
        place_in_words(graft.wound.place.key),
        quantities=quantities,
        parts=(ActPart(graft.wound.place, quantities, placement.method, placement.skin_class.thickness),),
        preconditions=_bed_questions(graft.wound),
        values=(("line", f"{words} with {made_of}{plates}"),),
    )


def _bed_questions(wound: BurnWound) -> tuple[str, ...]:
    if wound.bed_state is None:
        return ("bed-state-not-recorded",)
    return ("bed-colonised",) if wound.bed_state is BedState.COLONISED else ()


def excision_events(session: Session, case: GraftingCase, plan: SettledPlan) -> Iterator[CareEvent]:
    """One event for each place that is excised, all its wounds together, as it will be recorded."""
    for place, acts in _by_place(plan.excisions, case):
        today = [act for act in acts if act.day == session.day]
        if today:
            yield _excision_event(session, case, place, acts, today)


def _excision_event(
    session: Session, case: GraftingCase, place: Place, acts: list[Excision], today: list[Excision]
) -> CareEvent:
    area = sum((act.area_cm2 for act in today), Decimal(0))
    quantity = Quantity("excised-area", area, None, None, "cm2", ())
    parts = "; ".join(f"{place_in_words(act.wound_id)}: {need_cm2(act.area_cm2)}" for act in today)
    return CareEvent(
        EventKind.EXCISE_WOUND,
        place.key,
        _ordinal(case.record.excisions, place, acts, session.day),
        session.day,
        session.day,
        session.day,
        session.ordinal,
        place_in_words(place.key),
        quantities=(quantity,),
        parts=(ActPart(place, (quantity,)),),
        values=(("line", parts),),
    )


def cover_events(session: Session, case: GraftingCase, plan: SettledPlan) -> Iterator[CareEvent]:
    """One event for each place that is covered, temporary cover and overlay together."""
    for place, acts in _by_place(plan.covers, case):
        today = [act for act in acts if act.day == session.day]
        if today:
            yield _cover_event(session, case, place, acts, today)


def _cover_event(
    session: Session,
    case: GraftingCase,
    place: Place,
    acts: list[CoverPlacement],
    today: list[CoverPlacement],
) -> CareEvent:
    area = sum((act.area_cm2 for act in today), Decimal(0))
    quantity = Quantity("cover-area", area, None, None, "cm2", ("cover-life/any",))
    kinds = " and ".join(_COVER_WORDS[kind] for kind in CoverKind if any(act.kind is kind for act in today))
    return CareEvent(
        EventKind.PLACE_COVER,
        place.key,
        _ordinal(case.record.covers, place, acts, session.day),
        session.day,
        session.day,
        session.day,
        session.ordinal,
        place_in_words(place.key),
        quantities=(quantity,),
        parts=(ActPart(place, (quantity,)),),
        values=(
            ("kind", kinds),
            ("life", str(min(act.until_day for act in today) - session.day)),
            ("line", f"{place_in_words(place.key)}: {need_cm2(area)} of {kinds}"),
        ),
    )


def _by_place(acts: tuple, case: GraftingCase) -> Iterator[tuple[Place, list]]:
    places = {w.wound_id: w.place for w in case.wounds}
    ordered = sorted(acts, key=lambda act: (places[act.wound_id].key, act.day, act.wound_id))
    for _, group in groupby(ordered, key=lambda act: places[act.wound_id].key):
        found = list(group)
        yield places[found[0].wound_id], found


def _ordinal(records: tuple[ExcisionRecord | CoverRecord, ...], place: Place, acts: list, day: int) -> int:
    """Days on which this was done here, up to this one: counted on from the record."""
    recorded = {r.day for r in records if r.place == place}
    return len(recorded) + len({act.day for act in acts if act.day <= day})
