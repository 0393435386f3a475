"""Rule of fixed decisions: what the caller has decided is in the plan as decided."""

from __future__ import annotations

from collections.abc import Iterator

from service.domain.case import Act, FixedDecision
from service.domain.donor_site import Harvest
from service.domain.rule import Rule
from service.domain.session import Excision, Placement
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


def fixed_decision(review: PlanUnderReview) -> Iterator[Violation]:
    """Each act that is decided happens on its region, all of it on the day and by the method decided."""
    keeps = {Act.PLACE: _keeps_placement, Act.EXCISE: _keeps_excision, Act.HARVEST: _keeps_harvest}
    for decision in review.case.request.fixed_decisions:
        if not keeps[decision.act](review, decision):
            subject = f"{decision.act}-{_region_key(decision)}"
            yield Violation(Rule.FIXED_DECISION, subject, _decided_day(review, decision))


def _keeps_placement(review: PlanUnderReview, decision: FixedDecision) -> bool:
    placements: list[Placement] = [
        placement for wound in review.region_wounds[_region_key(decision)]
        for placement in review.firm_on[wound.wound_id]]
    is_by_method = all(decision.method in (None, p.method) for p in placements)
    return bool(placements) and is_by_method and _all_on_day(review, decision, placements)


def _keeps_excision(review: PlanUnderReview, decision: FixedDecision) -> bool:
    wounds = review.region_wounds[_region_key(decision)]
    if not any(wound.unexcised_cm2 > 0 for wound in wounds):
        return True
    excisions = [e for wound in wounds for e in review.excisions_on[wound.wound_id]]
    return bool(excisions) and _all_on_day(review, decision, excisions)


def _keeps_harvest(review: PlanUnderReview, decision: FixedDecision) -> bool:
    region_key = _region_key(decision)
    days = [h.day for h in review.plan.harvests if _lies_on(review, h, region_key)]
    decided = _decided_day(review, decision)
    return bool(days) and (decided is None or decided in days)


def _lies_on(review: PlanUnderReview, harvest: Harvest, region_key: str) -> bool:
    place = review.place_of_site(harvest.site_id)
    return place is not None and place.region_key == region_key


def _all_on_day(
    review: PlanUnderReview, decision: FixedDecision, acts: list[Excision] | list[Placement]
) -> bool:
    decided = _decided_day(review, decision)
    return decided is None or all(act.day == decided for act in acts)


def _decided_day(review: PlanUnderReview, decision: FixedDecision) -> int | None:
    return None if decision.day is None else review.case.day_of(decision.day)


def _region_key(decision: FixedDecision) -> str:
    """Both surfaces of the region on its side, as places name it."""
    return f"{decision.side}-{decision.region}" if decision.side else str(decision.region)
