"""The acts of a session as short lines, the same in the narrative and in the ServiceRequest."""

from __future__ import annotations

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.dressing import Quantity
from service.domain.plan import GraftPlan, SettledPlan
from service.domain.session import Placement, Session
from service.fhir.write_evidence import cite_evidence
from service.fhir.write_quantity import COUNT, print_unit
from service.wording.dates import date_in_words
from service.wording.methods import method_in_words
from service.wording.notes_text import word_variant
from service.wording.places import place_in_words
from service.wording.reasons import word_why
from service.wording.rounding import count_in_words, interval, need_cm2, number_in_words, round_need_up


def write_acts(case: GraftingCase, plan: SettledPlan, session: Session) -> list[str]:
    """Excise, harvest, place, cover: in the order of work, with the areas as they are planned."""
    day = session.day
    return [
        *(
            f"Excise {need_cm2(e.area_cm2)}: {place_in_words(e.wound_id)}"
            for e in plan.excisions if e.day == day
        ),
        *(
            f"Harvest {need_cm2(h.area_cm2)}, {h.thickness}: {place_in_words(h.site_id)} "
            f"(harvest number {h.harvest_number})"
            for h in plan.harvests if h.day == day
        ),
        *(_write_placement(p) for p in plan.placements if p.day == day),
        *(
            f"{c.kind.capitalize()} cover {need_cm2(c.area_cm2)} "
            f"until {date_in_words(case.date_of(c.until_day))}: {place_in_words(c.wound_id)}"
            for c in plan.covers if c.day == day
        ),
    ]


def _write_placement(placement: Placement) -> str:
    plates = f" ({count_in_words(placement.plates)} plates)" if placement.plates else ""
    return (
        f"{'Regraft' if placement.is_regraft else 'Graft'} {need_cm2(placement.area_cm2)}, "
        f"{method_in_words(placement.method)} from {need_cm2(placement.skin_cm2)} of skin{plates}: "
        f"{place_in_words(placement.wound_id)}"
    )


def word_variants(answer: PlanAnswer) -> list[str]:
    """The plan under the other answer to each open question, a sentence each."""
    return [word_variant(answer, variant) for variant in answer.plan.variants]


def write_number(quantity: Quantity) -> str:
    """``blood loss: 700 (500-800) mL; evidence blood-loss-per-cm2/excision-adult: farny-2018``."""
    value = number_in_words(round_need_up(quantity.value))
    spread = interval(quantity.low, quantity.high)
    unit = "" if quantity.unit == COUNT else print_unit(quantity.unit)
    words = " ".join(part for part in (value, spread, unit) if part)
    evidence = f"; evidence {', '.join(map(cite_evidence, quantity.sources))}" if quantity.sources else ""
    return f"{quantity.name.replace('-', ' ')}: {words}{evidence}"


def name_session(session: Session) -> str:
    """``Session 2``, or ``Possible session 3`` for one that is held only if grafts are lost."""
    return f"{'Possible session' if session.is_contingent else 'Session'} {session.ordinal}"


def write_session_note(plan: GraftPlan, session: Session) -> str:
    """Positions, time, blood, what held the session back, and why it is as it is."""
    parts = [
        f"Positions: {', then '.join(session.positions)}.",
        f"About {session.procedure_minutes} minutes of surgery (estimate).",
        f"Blood loss up to {session.blood_loss_ml} mL (cautious end); "
        f"units to have ready: {session.units_to_have_ready}.",
    ]
    if session.is_contingent:
        parts.insert(0, "Only if grafts are lost; the skin for it is held in reserve.")
    return " ".join([*parts, *word_why(plan, session)])
