"""Which weights, halved or doubled, would make another first session the better one.

The courses at hand are weighed anew. A course that becomes cheaper than the plan proves that the
weight matters; that none does proves nothing about courses that were not played, and is said so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from service.domain.alternative import FirstSession, Sensitivity, WeightEffect
from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.planning.alternatives import Course
from service.planning.objective import weighted_open_days
from service.planning.quantities import PlanningQuantities
from service.preferences.library import Preferences

#: Weights of the objective beside those of the regions; all rows of one name move together.
WEIGHTS = ("session-weight", "eschar-weight", "cover-weight", "open-donor-weight", "donor-cosmesis-scale", "scar")


def first_session(plan: SettledPlan) -> FirstSession:
    """What the first firm session of a plan does."""
    day = plan.firm_sessions[0].day if plan.firm_sessions else None
    harvests = [h for h in plan.harvests if h.day == day]
    return FirstSession(
        day=day,
        grafted=frozenset((p.wound_id, p.method) for p in plan.placements if p.day == day),
        excised=frozenset(e.wound_id for e in plan.excisions if e.day == day),
        sites=frozenset(h.site_id for h in harvests),
        harvested_cm2=sum((h.area_cm2 for h in harvests), Decimal(0)),
    )


def _differs(one: FirstSession, other: FirstSession, tolerance: Decimal) -> bool:
    """Other day, places or methods, or more or less skin than is tolerated."""
    if (one.day, one.grafted, one.excised, one.sites) != (other.day, other.grafted, other.excised, other.sites):
        return True
    return abs(one.harvested_cm2 - other.harvested_cm2) > tolerance * one.harvested_cm2


def find_sensitivity(case: GraftingCase, planned: Course, courses: Sequence[Course], evidence: Evidence,
                     preferences: Preferences) -> Sensitivity:
    """Effects of halved and doubled weights, within their ranges.

    Parameters
    ----------
    case, planned : what was planned
    courses : other plans at hand, none of which leaves more open
    evidence, preferences : numbers and weights
    """
    plan, figures = planned
    tolerance = preferences.value("first-session-harvest-tolerance")
    recommended = first_session(plan)
    rivals = sorted((c for c in courses if c[1].objective_days >= figures.objective_days
                     and _differs(recommended, first_session(c[0]), tolerance)),
                    key=lambda c: (c[1].objective_days, c[1].session_days))
    compared = [course for course, _ in rivals[:preferences.integer("nearest-courses")]]
    changes = list(_changes(case, preferences))
    effects = []
    for weight, is_doubled, overrides in changes if compared else ():
        changed = PlanningQuantities(case, evidence, preferences.with_overrides(overrides))
        best = min(compared, key=lambda c, q=changed: weighted_open_days(q, c))
        if weighted_open_days(changed, best) < weighted_open_days(changed, plan):
            effects.append(WeightEffect(weight, is_doubled, first_session(best)))
    return Sensitivity(recommended, tuple(effects), len({w for w, *_ in changes}), len(compared),
                       is_complete=len(compared) == len(rivals))


def _changes(case: GraftingCase, preferences: Preferences) -> Iterator[tuple[str, bool, tuple]]:
    """Each weight that the case has a use for, half and double, cut to its range."""
    regions = dict.fromkeys(wound.place.region for wound in case.wounds)
    names = [(name, "") for name in WEIGHTS] + [(f"weight-{case.weight_set}", region) for region in regions]
    for name, region in names:
        rows = [row for row in preferences if row.name == name and region in ("", row.applies_to)]
        for is_doubled in (False, True):
            overrides = tuple((row.key, _changed(row, preferences, is_doubled)) for row in rows)
            if any(value != preferences.value(row.name, row.applies_to)
                   for row, (_, value) in zip(rows, overrides, strict=True)):
                yield f"{name}/{region}" if region else name, is_doubled, overrides


def _changed(row, preferences: Preferences, is_doubled: bool) -> Decimal:
    value = preferences.value(row.name, row.applies_to)
    return min(row.high, max(row.low, value * 2 if is_doubled else value / 2))
