"""What holds for the events of every plan, tried on planned random cases."""

from functools import lru_cache

import pytest

from service.domain.burn_wound import ZERO
from service.evidence.library import load_evidence
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.schedule.dressings import schedule_care
from service.schedule.theatre_list import make_theatre_list
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
SEEDS = (0, 1, 4, 6, 7, 10, 13)


@lru_cache
def planned(seed):
    case = random_case(seed)
    return case, plan_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)


@pytest.mark.parametrize("seed", SEEDS)
def test_windows_names_and_order(seed):
    case, plan = planned(seed)
    events = schedule_care(case, plan, EVIDENCE, PREFERENCES).events
    assert events
    assert all(0 <= e.earliest_day <= e.day <= e.latest_day for e in events)
    identities = [(e.kind, e.subject_key, e.ordinal) for e in events]
    assert len(set(identities)) == len(identities)
    assert [e.day for e in events] == sorted(e.day for e in events)
    assert events == schedule_care(case, plan, EVIDENCE, PREFERENCES).events


@pytest.mark.parametrize("seed", SEEDS)
def test_lists_hold_what_the_plan_holds(seed):
    case, plan = planned(seed)
    for session in plan.sessions:
        listed = make_theatre_list(case, plan, session, EVIDENCE, PREFERENCES)
        today = [p for p in plan.placements if p.day == session.day]
        assert sum(count for _, count in listed.carriers) == sum(p.plates or 0 for p in today)
        harvested = sum((h.area_cm2 for h in plan.harvests if h.day == session.day), ZERO)
        assert sum((line.area.value for line in listed.harvests), ZERO) == harvested
        left = sum((leftover.area_cm2 for leftover in listed.leftovers), ZERO)
        usable = harvested * (1 - EVIDENCE.value("handling-loss"))
        assert left <= usable - sum((p.skin_cm2 for p in today), ZERO) < left + 4
        for q in listed.quantities:
            assert q.low is None or q.low <= q.value <= q.high
