"""Rules of the wounds: how much of each is grafted, on what bed, by what method."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from service.domain.body_region import Region
from service.domain.burn_wound import BurnWound
from service.domain.graft import methods_of_place
from service.domain.rule import Rule
from service.verification.exact import exact, total_area
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


def place_each_wound_once(review: PlanUnderReview) -> Iterator[Violation]:
    """Σ area firmly placed + area still open = area of the wound; every act names a known wound."""
    rule = Rule.PLACE_EACH_WOUND_ONCE
    plan = review.plan
    for act in (*plan.excisions, *plan.placements, *plan.covers):
        if act.wound_id not in review.wounds:
            yield Violation(rule, act.wound_id, act.day)
    for left in plan.still_open:
        if left.wound_id not in review.wounds:
            yield Violation(rule, left.wound_id)
    for wound in review.case.wounds:
        placed = total_area(review.firm_on[wound.wound_id])
        if placed + _still_open(review, wound) != exact(wound.area_cm2):
            yield Violation(rule, wound.wound_id)


def graft_on_ready_bed(review: PlanUnderReview) -> Iterator[Violation]:
    """Σ placed up to a day ≤ bed excised or ready by then; nothing before the wound may be touched."""
    for wound in review.case.wounds:
        yield from _grafts_without_bed(review, wound)
        yield from _acts_too_early(review, wound)


def _grafts_without_bed(review: PlanUnderReview, wound: BurnWound) -> Iterator[Violation]:
    rule = Rule.GRAFT_ON_READY_BED
    placements = review.firm_on[wound.wound_id]
    excisions = review.excisions_on[wound.wound_id]
    if total_area(excisions) > exact(wound.area_cm2) - exact(wound.excised_cm2):
        yield Violation(rule, wound.wound_id)
    for day in {placement.day for placement in placements}:
        placed = total_area(p for p in placements if p.day <= day)
        excised = total_area(e for e in excisions if e.day <= day)
        if placed > exact(wound.excised_cm2) + excised:
            yield Violation(rule, wound.wound_id, day)


def _acts_too_early(review: PlanUnderReview, wound: BurnWound) -> Iterator[Violation]:
    rule = Rule.GRAFT_ON_READY_BED
    excision_from, placement_from = wound.wait_until_day, wound.ready_from_day
    for excision in review.excisions_on[wound.wound_id]:
        if excision_from is not None and excision.day < excision_from:
            yield Violation(rule, wound.wound_id, excision.day)
    for placement in review.placements_on[wound.wound_id]:
        if placement_from is not None and placement.day < placement_from:
            yield Violation(rule, wound.wound_id, placement.day)
    if wound.place.region is Region.FACE:
        face_from = review.case.injury_day + review.number("face-earliest-day")
        for act in (*review.excisions_on[wound.wound_id], *review.placements_on[wound.wound_id]):
            if act.day < face_from:
                yield Violation(rule, wound.wound_id, act.day)


def method_of_region(review: PlanUnderReview) -> Iterator[Violation]:
    """The method is one that the region takes, over a joint at most 1:2, and that is available."""
    available = review.case.request.methods_available
    for wound in review.case.wounds:
        allowed = methods_of_place(wound.place, wound.over_joint) & available
        for placement in review.placements_on[wound.wound_id]:
            if placement.method not in allowed:
                yield Violation(Rule.METHOD_OF_REGION, wound.wound_id, placement.day)


def whole_region(review: PlanUnderReview) -> Iterator[Violation]:
    """A wound of face, neck or hand is placed on one day by one method with nothing open, or not."""
    for wound in review.case.wounds:
        placements = review.firm_on[wound.wound_id]
        if not wound.place.facts.is_whole or not placements:
            continue
        days_and_methods = {(p.day, p.method) for p in placements}
        if len(days_and_methods) > 1 or _still_open(review, wound) > 0:
            yield Violation(Rule.WHOLE_REGION, wound.wound_id)


def smallest_piece(review: PlanUnderReview) -> Iterator[Violation]:
    """Σ placed on a wound by one method on one day ≥ the smaller of the smallest piece and the wound."""
    smallest_cm2 = review.cm2_of_percent_tbsa(review.preference("smallest-piece"))
    for wound in review.case.wounds:
        pieces: dict[tuple, Fraction] = defaultdict(Fraction)
        for placement in review.firm_on[wound.wound_id]:
            pieces[placement.day, placement.method] += exact(placement.area_cm2)
        for (day, _), piece_cm2 in pieces.items():
            if piece_cm2 < min(smallest_cm2, exact(wound.area_cm2)):
                yield Violation(Rule.SMALLEST_PIECE, wound.wound_id, day)


def _still_open(review: PlanUnderReview, wound: BurnWound) -> Fraction:
    return total_area(left for left in review.plan.still_open if left.wound_id == wound.wound_id)
