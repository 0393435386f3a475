"""Rules of cover: no excised bed lies bare, and no wide mesh without an overlay."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from service.domain.burn_wound import BurnWound
from service.domain.graft import NEEDS_OVERLAY
from service.domain.rule import Rule
from service.domain.session import CoverKind
from service.verification.exact import exact, total_area
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


def cover_excised_bed(review: PlanUnderReview) -> Iterator[Violation]:
    """Excised and not yet grafted ≤ cover alive that day; Σ cover ≤ stock, and stock not stated is none."""
    rule = Rule.COVER_EXCISED_BED
    if total_area(review.plan.covers) > exact(review.case.request.cover_stock_cm2 or 0):
        yield Violation(rule, "cover-stock")
    life_days = review.number("cover-life")
    for cover in review.plan.covers:
        if not cover.day <= cover.until_day <= cover.day + life_days:
            yield Violation(rule, cover.wound_id, cover.day)
    for wound in review.case.wounds:
        for day in _days_of_change(review, wound):
            if _newly_open(review, wound, day) > _covered(review, wound, day):
                yield Violation(rule, wound.wound_id, day)


def _days_of_change(review: PlanUnderReview, wound: BurnWound) -> set[int]:
    """Days up to the horizon on which open bed or living cover may change: between them nothing does."""
    acts = (*review.excisions_on[wound.wound_id], *review.firm_on[wound.wound_id])
    ends = {cover.until_day + 1 for cover in review.covers_on[wound.wound_id]}
    days = {act.day for act in acts} | ends
    return {day for day in days if day <= review.case.horizon_day}


def _newly_open(review: PlanUnderReview, wound: BurnWound, day: int) -> Fraction:
    """Bed that the plan has excised and not grafted by the end of the day. [cm²]

    A graft may lie on it; one that was placed before it was excised lies on other bed of the wound.
    """
    excisions, grafts = review.excisions_on[wound.wound_id], review.firm_on[wound.wound_id]
    still_open = Fraction(0)
    for acted in sorted({act.day for act in (*excisions, *grafts) if act.day <= day}):
        excised = total_area(e for e in excisions if e.day == acted)
        placed = total_area(p for p in grafts if p.day == acted)
        still_open = max(still_open + excised - placed, Fraction(0))
    return still_open


def _covered(review: PlanUnderReview, wound: BurnWound, day: int) -> Fraction:
    return total_area(
        cover for cover in review.covers_on[wound.wound_id]
        if cover.kind is CoverKind.TEMPORARY and cover.day <= day <= cover.until_day)


def overlay_on_wide_expansion(review: PlanUnderReview) -> Iterator[Violation]:
    """Area placed on a wound in a day by the widest mesh ≤ overlay laid on it that day."""
    for wound in review.case.wounds:
        wide = [p for p in review.placements_on[wound.wound_id] if p.method in NEEDS_OVERLAY]
        overlays = [c for c in review.covers_on[wound.wound_id] if c.kind is CoverKind.OVERLAY]
        for day in {placement.day for placement in wide}:
            placed = total_area(p for p in wide if p.day == day)
            if placed > total_area(c for c in overlays if c.day == day):
                yield Violation(Rule.OVERLAY_ON_WIDE_EXPANSION, wound.wound_id, day)
