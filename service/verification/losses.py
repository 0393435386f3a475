"""Rule of losses: what is expected to fail has skin in reserve, or is said to have none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from service.domain.burn_wound import BurnWound
from service.domain.graft import GraftMethod
from service.domain.rule import Rule
from service.domain.session import Placement
from service.verification.exact import exact, round_up_to_tenth, total_area
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


@dataclass(frozen=True)
class ExpectedLoss:
    """Part of one graft that is expected to fail, known from its read day. [cm²]"""

    read_day: Fraction
    grafted_cm2: Fraction
    lost_cm2: Fraction


def failed_grafts_come_back(review: PlanUnderReview) -> Iterator[Violation]:
    """Σ regrafts + unreserved = loss of a region where it counts, else 0; Σ regrafts ≤ loss read."""
    rule = Rule.FAILED_GRAFTS_COME_BACK
    for left in review.plan.unreserved:
        if left.region_key not in review.region_wounds:
            yield Violation(rule, left.region_key)
    for region_key, wounds in review.region_wounds.items():
        losses = [loss for wound in wounds for loss in _losses_of(review, wound)]
        regrafts = [
            p for wound in wounds for p in review.placements_on[wound.wound_id] if p.is_regraft]
        unreserved = total_area(u for u in review.plan.unreserved if u.region_key == region_key)
        if total_area(regrafts) + unreserved != _loss_to_reserve(review, losses):
            yield Violation(rule, region_key)
        for day in _days_regrafted_too_early(losses, regrafts):
            yield Violation(rule, region_key, day)


def _losses_of(review: PlanUnderReview, wound: BurnWound) -> Iterator[ExpectedLoss]:
    """Expected losses of the grafts planned on a wound and of those on it that are not read."""
    for placement in review.firm_on[wound.wound_id]:
        yield _loss(review, wound, placement.day, placement.method, exact(placement.area_cm2))
    for graft in wound.placed:
        if graft.take_fraction is None:
            yield _loss(review, wound, graft.placed_day, graft.method, exact(graft.area_cm2))


def _loss(
    review: PlanUnderReview, wound: BurnWound, day: int, method: GraftMethod, grafted_cm2: Fraction
) -> ExpectedLoss:
    lost_cm2 = (1 - review.expected_take(method, wound)) * grafted_cm2
    return ExpectedLoss(day + review.number("read-day", method.kind.value), grafted_cm2, lost_cm2)


def _loss_to_reserve(review: PlanUnderReview, losses: list[ExpectedLoss]) -> Fraction:
    """Loss of a region in printable steps, or 0 where it is small enough to heal by dressing. [cm²]"""
    lost = sum((loss.lost_cm2 for loss in losses), Fraction(0))
    grafted = sum((loss.grafted_cm2 for loss in losses), Fraction(0))
    counts = (
        lost >= review.cm2_of_percent_tbsa(review.preference("regraft-percent"))
        and lost >= review.preference("regraft-fraction") * grafted)
    return round_up_to_tenth(lost) if counts else Fraction(0)


def _days_regrafted_too_early(losses: list[ExpectedLoss], regrafts: list[Placement]) -> Iterator[int]:
    for day in {regraft.day for regraft in regrafts}:
        regrafted = total_area(r for r in regrafts if r.day <= day)
        lost = sum((loss.lost_cm2 for loss in losses if loss.read_day <= day), Fraction(0))
        if regrafted > round_up_to_tenth(lost):
            yield day
