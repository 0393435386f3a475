"""Rules of one session: how much wound, blood and time it may take."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from service.domain.case import SkinLimitAge
from service.domain.rule import Rule
from service.domain.session import Excision, Session
from service.verification.exact import exact, total_area
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation

CHILD_BANDS = frozenset({SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD})


def session_area(review: PlanUnderReview) -> Iterator[Violation]:
    """Σ excised ≤ excision limit and Σ placed ≤ grafting limit, in every session."""
    limits = review.case.limits
    for session in review.plan.sessions:
        excised = total_area(e for e in review.plan.excisions if e.day == session.day)
        placed = total_area(p for p in review.plan.placements if p.day == session.day)
        if excised > exact(limits.excised_cm2) or placed > exact(limits.grafted_cm2):
            yield _violation(Rule.SESSION_AREA, session)


def session_blood(review: PlanUnderReview) -> Iterator[Violation]:
    """Loss per excised × excised + loss per harvested × harvested ≤ blood limit, and ≤ the loss stated."""
    for session in review.plan.sessions:
        loss_ml = _blood_loss_ml(review, session)
        if loss_ml > exact(review.case.limits.blood_ml) or loss_ml > session.blood_loss_ml:
            yield _violation(Rule.SESSION_BLOOD, session)


def _blood_loss_ml(review: PlanUnderReview, session: Session) -> Fraction:
    """Blood lost in the session at the cautious end of the evidence. [mL]"""
    excised = [e for e in review.plan.excisions if e.day == session.day]
    on_limbs = [e for e in excised if _is_under_tourniquet(review, e)]
    elsewhere = [e for e in excised if not _is_under_tourniquet(review, e)]
    harvested = total_area(h for h in review.plan.harvests if h.day == session.day)
    age = "child" if review.case.age_band in CHILD_BANDS else "adult"
    return (_loss_ml_per_cm2(review, f"excision-{age}") * total_area(elsewhere)
            + _loss_ml_per_cm2(review, "limb-with-tourniquet") * total_area(on_limbs)
            + _loss_ml_per_cm2(review, f"harvest-{age}") * harvested)


def _is_under_tourniquet(review: PlanUnderReview, excision: Excision) -> bool:
    """A limb, and the caller states that limbs are operated on under a tourniquet."""
    place = review.place_of_wound(excision.wound_id)
    return bool(review.case.request.limb_tourniquet) and place is not None and place.facts.is_limb


def _loss_ml_per_cm2(review: PlanUnderReview, act_and_age: str) -> Fraction:
    """High end of the row; a row without a range is fixed and stands for itself. [mL/cm²]"""
    row = review.evidence.row("blood-loss-per-cm2", act_and_age)
    return exact(row.value if row.high is None else row.high)


def session_minutes(review: PlanUnderReview) -> Iterator[Violation]:
    """Fixed + per % operated + turns + special areas ≤ minutes limit, and ≤ the minutes stated."""
    for session in review.plan.sessions:
        minutes = _procedure_minutes(review, session)
        if minutes > review.case.limits.procedure_minutes or minutes > session.procedure_minutes:
            yield _violation(Rule.SESSION_MINUTES, session)


def _procedure_minutes(review: PlanUnderReview, session: Session) -> Fraction:
    percent_cm2 = review.cm2_of_percent_tbsa(Fraction(1))
    acts = (*review.plan.excisions, *review.plan.placements)
    operated_ids = {act.wound_id for act in acts if act.day == session.day} & set(review.wounds)
    operated_cm2 = sum((_operated_cm2(review, wound_id, session.day) for wound_id in operated_ids), Fraction(0))
    places = {review.wounds[wound_id].place for wound_id in operated_ids}
    special_regions = {place.region_key for place in places if place.facts.is_special}
    return (
        review.number("theatre-minutes", "fixed")
        + review.number("theatre-minutes", "per-percent") * operated_cm2 / percent_cm2
        + review.number("theatre-minutes", "turn") * max(len(session.positions) - 1, 0)
        + review.number("theatre-minutes", "special-area") * len(special_regions))


def _operated_cm2(review: PlanUnderReview, wound_id: str, day: int) -> Fraction:
    """A wound that is excised and grafted in one session is counted once. [cm²]"""
    excised = total_area(e for e in review.excisions_on[wound_id] if e.day == day)
    placed = total_area(p for p in review.placements_on[wound_id] if p.day == day)
    return max(excised, placed)


def _violation(rule: Rule, session: Session) -> Violation:
    return Violation(rule, f"session-{session.ordinal}", session.day)
