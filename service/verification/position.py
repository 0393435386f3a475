"""Rules of lying: how the patient lies in theatre, and on what afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from service.domain.body_region import Place, Position
from service.domain.rule import Rule
from service.domain.session import CoverKind, Session
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


def position(review: PlanUnderReview) -> Iterator[Violation]:
    """1 ≤ positions ≤ limit; each place worked on is reached from one of the session's positions."""
    for session in review.plan.sessions:
        if not 1 <= len(session.positions) <= review.case.limits.positions:
            yield Violation(Rule.POSITION, f"session-{session.ordinal}", session.day)
        for subject, place in _places_worked_on(review, session):
            if not place.reached & set(session.positions):
                yield Violation(Rule.POSITION, subject, session.day)


def _places_worked_on(review: PlanUnderReview, session: Session) -> Iterator[tuple[str, Place]]:
    plan = review.plan
    temporary = (cover for cover in plan.covers if cover.kind is CoverKind.TEMPORARY)
    for act in (*plan.excisions, *plan.placements, *temporary):
        place = review.place_of_wound(act.wound_id)
        if place and act.day == session.day:
            yield act.wound_id, place
    for harvest in plan.harvests:
        place = review.place_of_site(harvest.site_id)
        if place and harvest.day == session.day:
            yield harvest.site_id, place


def bearing_surface(review: PlanUnderReview) -> Iterator[Violation]:
    """Without off-loading, grafts that need opposite lying lie at least the protect days apart.

    Grafts that the patient already has count; two of them against each other are no fault of the plan.
    """
    if review.case.off_loading:
        return
    protect_days = review.number("protect-days")
    lain_on = {lying: _grafts_lain_on(review, lying) for lying in Position}
    for (wound_id, day, is_planned), (_, other_day, other_is_planned) in product(
            lain_on[Position.SUPINE], lain_on[Position.PRONE]):
        if abs(day - other_day) < protect_days and (is_planned or other_is_planned):
            yield Violation(Rule.BEARING_SURFACE, wound_id, max(day, other_day))


def _grafts_lain_on(review: PlanUnderReview, lying: Position) -> list[tuple[str, int, bool]]:
    """Wound, day and whether planned, of the grafts on which the weight rests in this position."""
    wounds = [wound for wound in review.case.wounds if wound.place.loaded_in is lying]
    planned = [(w.wound_id, p.day, True) for w in wounds for p in review.placements_on[w.wound_id]]
    return planned + [(w.wound_id, graft.placed_day, False) for w in wounds for graft in w.placed]
