"""Laws that every plan keeps, whatever the case."""

from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest

from service.evidence.library import load_evidence
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from tests.random_cases import random_case


def plan_of(case):
    preferences = load_preferences().with_overrides(case.preference_overrides)
    return plan_by_rule_of_thumb(case, load_evidence(), preferences)


@pytest.mark.parametrize("seed", range(10))
def test_order_of_entries_changes_nothing(seed):
    case = random_case(seed)
    wounds, sites = list(case.wounds), list(case.donor_sites)
    Random(seed).shuffle(wounds)
    expected = plan_of(replace(case, wounds=tuple(sorted(wounds, key=lambda w: w.wound_id)),
                               donor_sites=tuple(sorted(sites, key=lambda s: s.site_id))))
    assert plan_of(replace(case, wounds=tuple(wounds), donor_sites=tuple(
        sorted(sites, key=lambda s: s.site_id)))) == expected


@pytest.mark.parametrize("seed", range(10))
def test_same_case_same_plan(seed):
    case = random_case(seed)
    assert plan_of(case) == plan_of(case)


@pytest.mark.parametrize("seed", range(10))
def test_every_wound_is_grafted_or_named_as_open(seed):
    case = random_case(seed)
    plan = plan_of(case)
    for wound in case.wounds:
        placed = sum((p.area_cm2 for p in plan.placements if p.wound_id == wound.wound_id and not p.is_regraft),
                     Decimal(0))
        still = sum((s.area_cm2 for s in plan.still_open if s.wound_id == wound.wound_id), Decimal(0))
        assert placed + still == wound.area_cm2
