"""Questions that the record leaves open and that must be answered before a session."""

from __future__ import annotations

from collections.abc import Iterator

from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind
from service.domain.graft import GraftKind
from service.domain.patient import AllergyAnswer
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.schedule.donor_parcels import asks_for_healing
from service.schedule.infected_beds import streptococcus_beds
from service.wording.findings import word_code
from service.wording.places import place_in_words
from service.wording.rounding import need_cm2

#: Findings on measurements that hold the next session until they are better.
_HOLDS = ("core-temperature-stop", "haemoglobin-low")


def precondition_events(case: GraftingCase, plan: SettledPlan) -> Iterator[CareEvent]:
    """One event for each open question of each firm session, due before the session begins.

    The visits that the record already holds are counted first, so that a question keeps its
    name when the sessions are numbered anew.
    """
    visits_done = len(_visits(case))
    for number, session in enumerate(plan.firm_sessions, start=1):
        for code, detail in _questions(session, number == 1, case, plan):
            day = max(session.day - 1, 0)
            yield CareEvent(
                EventKind.CONFIRM_PRECONDITION,
                f"visit:{code}",
                visits_done + number,
                day,
                min(day, session.day),
                session.day,
                session.ordinal,
                "",
                preconditions=(code,),
                values=(("question", word_code(code)), ("detail", detail)),
            )


def _visits(case: GraftingCase) -> set:
    record = case.record
    return {act.day for acts in (record.excisions, record.harvests, record.placements, record.covers) for act in acts}


def _questions(session: Session, is_first: bool, case: GraftingCase, plan: SettledPlan) -> Iterator[tuple[str, str]]:
    """Codes of the open questions, with what they are about."""
    patient = case.record.patient
    placed = [p for p in plan.placements if p.day == session.day and not p.is_regraft]
    if is_first and patient.fit_for_theatre_from is None:
        yield "fitness-not-recorded", ""
    if is_first:
        yield from ((f.code, "") for f in case.findings if f.code in _HOLDS)
    if patient.sulfonamide_allergy is AllergyAnswer.NOT_RECORDED and any(
        p.method.kind is GraftKind.ISLAND for p in placed
    ):
        yield "allergy-not-recorded", "It decides which release agent may be used on the carriers."
    beds = streptococcus_beds(case)
    if beds:
        yield "bed-streptococcus", f"Beds: {'; '.join(beds)}. Nothing is grafted there."
    unknown = {w.wound_id: w for w in case.wounds if w.bed_state is None}
    beds = sorted({place_in_words(unknown[p.wound_id].place.key) for p in placed if p.wound_id in unknown})
    if beds:
        yield "bed-state-not-recorded", f"Beds: {'; '.join(beds)}."
    if session.units_to_have_ready and case.request.transfusion_units is None:
        yield "transfusion-units-not-stated", f"Red-cell units to have ready: {session.units_to_have_ready}."
    today = [h for h in plan.harvests if h.day == session.day]
    again = sorted({place_in_words(h.site_id) for h in today if asks_for_healing(h, case, plan)})
    if again:
        yield "donor-healing-not-recorded", f"Sites: {'; '.join(again)}."
    cover = sum(c.area_cm2 for c in plan.covers if c.day == session.day)
    if cover:
        yield "cover-stock-at-hand", f"The session uses {need_cm2(cover)}."
