"""Which number of the evidence, at an end of its range, would make another first session the planned one.

One number at a time, planned anew by the rule of thumb: a count of numbers, never a time, says how
many are tried, so that the same request gives the same answer.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from service.domain.alternative import FirstSession
from service.domain.case import GraftingCase
from service.domain.forecast import ParameterEffect, ParameterSensitivity
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan
from service.evidence.donor_healing import healing_row
from service.evidence.library import Evidence, EvidenceRow
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.planning.sensitivity import first_session
from service.preferences.library import Preferences

_RATIO, _FIXED = "achieved-expansion-ratio", "fixed"
_UNEXPANDED = (GraftMethod.SHEET, GraftMethod.MESHED_1_1)


def find_parameter_effects(case: GraftingCase, plan: SettledPlan, evidence: Evidence,
                           preferences: Preferences) -> ParameterSensitivity:
    """Try the numbers that the plan rests on most, each at both ends of its range.

    Parameters
    ----------
    case, plan : what was planned
    evidence : Evidence
        The rows that were planned with.
    preferences : Preferences
        ``parameters-tried``: how many numbers.
    """
    rows = list(islice(_rows_of_plan(case, plan, evidence), preferences.integer("parameters-tried")))
    if not rows:
        return ParameterSensitivity((), None, ())
    usual = first_session(plan_by_rule_of_thumb(case, evidence, preferences))
    effects = []
    for row in rows:
        for end in (row.low, row.high):
            changed = evidence.with_rows(held_at(same, end) for same in _together(row, evidence))
            other = first_session(plan_by_rule_of_thumb(case, changed, preferences))
            if starts_otherwise(usual, other):
                effects.append(ParameterEffect(row.row_id, end, row.value, row.unit, other))
    return ParameterSensitivity(tuple(row.row_id for row in rows), usual, tuple(effects))


def _together(row: EvidenceRow, evidence: Evidence) -> list[EvidenceRow]:
    """Rows that are one number: skin that is not expanded stretches alike as a sheet and meshed 1:1."""
    if row.parameter == _RATIO and row.applies_to in _UNEXPANDED:
        return [evidence.row(_RATIO, method) for method in _UNEXPANDED]
    return [row]


def held_at(row: EvidenceRow, value) -> EvidenceRow:
    """The row as if its value were known."""
    return replace(row, value=value, low=None, high=None, distribution=_FIXED)


def starts_otherwise(one: FirstSession, other: FirstSession) -> bool:
    """Another day, other places, methods or donor sites; more or less skin alone is the interval's matter."""
    return (one.day, one.grafted, one.excised, one.sites) != (other.day, other.grafted, other.excised, other.sites)


def _rows_of_plan(case: GraftingCase, plan: SettledPlan, evidence: Evidence) -> Iterator[EvidenceRow]:
    """Expansion and healing of what is grafted and harvested most, in turn; then shape and handling."""
    grafted, harvested = Counter(), Counter()
    places = {site.site_id: site.place for site in case.donor_sites}
    for placement in plan.placements:
        if not placement.is_regraft:
            grafted[placement.method] += placement.area_cm2
    for harvest in plan.harvests:
        harvested[healing_row(places[harvest.site_id], harvest.thickness, case.age_band)] += harvest.area_cm2
    ratios = [evidence.row(_RATIO, method) for method, _ in _most_first(grafted)]
    healing = [evidence.row("donor-healing-days", applies_to) for applies_to, _ in _most_first(harvested)]
    everywhere = [evidence.row("shape-factor", "concave"), evidence.row("handling-loss")]
    ranked = [*ratios[:1], *healing[:1], *everywhere, *ratios[1:], *healing[1:]]
    yield from (row for row in ranked if row.low is not None)


def _most_first(areas: Counter) -> list:
    return sorted(areas.items(), key=lambda item: (-item[1], item[0]))
