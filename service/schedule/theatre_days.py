"""Which visits to theatre a place on the body can be reached in."""

from __future__ import annotations

from service.domain.body_region import Place
from service.domain.plan import SettledPlan


def theatre_days_of(place: Place, plan: SettledPlan, after_day: int) -> frozenset[int]:
    """Days of firm sessions after ``after_day`` in which the patient lies so that the place is reached."""
    return frozenset(
        s.day for s in plan.firm_sessions if s.day > after_day and place.reached & frozenset(s.positions)
    )
