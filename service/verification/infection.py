"""Rule of infection: no graft on a bed that would destroy it."""

from __future__ import annotations

from collections.abc import Iterator

from service.domain.burn_wound import BedState
from service.domain.rule import Rule
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation

FORBIDS_GRAFTS = frozenset({BedState.STREPTOCOCCUS, BedState.INFECTED})


def infected_bed(review: PlanUnderReview) -> Iterator[Violation]:
    """No placement on a wound whose bed is infected or carries streptococcus."""
    for wound in review.case.wounds:
        if wound.bed_state in FORBIDS_GRAFTS:
            for placement in review.placements_on[wound.wound_id]:
                yield Violation(Rule.INFECTED_BED, wound.wound_id, placement.day)
