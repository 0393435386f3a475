"""Plans replayed day by day: the objective is what the days add up to, and skin is never taken too early."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

import pytest

from service.domain.body_region import Place, Region, Side, Surface
from service.domain.burn_wound import BurnWound, Depth
from service.domain.case import SessionLimits
from service.domain.donor_site import DonorParcel, DonorSite
from service.planning.ledger import donor_ledger
from service.planning.objective import weighted_open_days
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from tests.random_cases import grafting_case
from tests.reference.donor_strips import SkinNotThere, take_strips
from tests.reference.planned import EVIDENCE, PREFERENCES, random_names, synthetic_names, thumb_plan
from tests.reference.replay import Replay

NAMES = random_names() + synthetic_names()


@lru_cache(maxsize=512)
def replay_of(name: str) -> Replay:
    return Replay(*thumb_plan(name), EVIDENCE, PREFERENCES)


@pytest.mark.parametrize("name", NAMES)
def test_the_objective_is_what_the_days_add_up_to(name):
    case, plan = thumb_plan(name)
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    assert replay_of(name).objective_days() == weighted_open_days(quantities, plan)


@pytest.mark.parametrize("name", NAMES)
def test_no_strip_of_skin_is_taken_before_it_has_healed_nor_too_often(name):
    case, plan = thumb_plan(name)
    strips = take_strips(case, plan, EVIDENCE, PREFERENCES)
    for site in case.donor_sites:
        assert sum(strip.area_cm2 for strip in strips[site.site_id]) == site.area_cm2


@pytest.mark.parametrize("name", synthetic_names())
def test_every_day_adds_up(name):
    case, plan = thumb_plan(name)
    replay = replay_of(name)
    days = replay.days
    open_at_first = replay.percent(sum((w.area_cm2 for w in case.wounds), Decimal(0)))
    assert days[0].open_percent == open_at_first
    assert all(later.open_percent <= earlier.open_percent for earlier, later in zip(days, days[1:], strict=False))
    assert all(later.unexcised_percent <= earlier.unexcised_percent
               for earlier, later in zip(days, days[1:], strict=False))
    skin = replay.percent(sum((s.area_cm2 for s in case.donor_sites), Decimal(0)))
    assert all(0 <= day.healing_donor_percent <= skin for day in days)
    stock = replay.percent(case.request.cover_stock_cm2 or Decimal(0))
    assert all(day.covered_percent <= stock for day in days)
    last = days[case.horizon_day - 1]
    assert last.open_percent >= replay.percent(plan.open_cm2)


@pytest.mark.parametrize("name", synthetic_names()[::5])
def test_the_donor_ledger_that_is_shown_is_what_the_strips_say(name):
    """Skin that heals after the last harvest: spent where it may not be taken again."""
    case, plan = thumb_plan(name)
    strips = take_strips(case, plan, EVIDENCE, PREFERENCES)
    ledger = donor_ledger(PlanningQuantities(case, EVIDENCE, PREFERENCES), plan)
    for site in case.donor_sites:
        shown = [entry for entry in ledger if entry.site_id == site.site_id][-1]
        spent = sum((s.area_cm2 for s in strips[site.site_id] if s.taken_count >= site.harvests_allowed), Decimal(0))
        assert (shown.spent_cm2, shown.healing_cm2) == (spent, 0)


def one_thigh():
    """A burn of 3 %TBSA on one thigh and skin enough on the other: one session, no loss to reserve for."""
    left, right = (Place(Region.THIGH, side, Surface.FRONT) for side in Side)
    skin = Decimal(800)
    return grafting_case(
        (BurnWound(f"{left.key}:full-thickness", left, Depth.FULL_THICKNESS, False, Decimal(540)),),
        (DonorSite(right.key, right, skin, 2, (DonorParcel(skin),)),),
        limits=SessionLimits(Decimal(3600), Decimal(3600), Decimal(2500), 240, 2, 2))


def test_a_later_session_costs_what_its_days_cost():
    """One day later for the only graft: weight × area more, for what is lost waits as much longer; and more eschar."""
    case = one_thigh()
    plan = plan_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)
    assert len(plan.sessions) == 1
    before = Replay(case, plan, EVIDENCE, PREFERENCES).cost_by_term()
    later = replace(
        plan, **{kind: tuple(replace(act, day=act.day + 1) for act in getattr(plan, kind))
                 for kind in ("sessions", "excisions", "harvests", "placements")})
    replay = Replay(case, later, EVIDENCE, PREFERENCES)
    after = replay.cost_by_term()
    waiting = sum((replay.percent(p.area_cm2)
                   * Fraction(PREFERENCES.value(f"weight-{case.weight_set}", replay.wounds[p.wound_id].place.region))
                   for p in plan.placements), Fraction(0))
    assert after["open"] - before["open"] == waiting
    assert after["eschar"] > before["eschar"]
    assert {term for term in before if before[term] != after[term]} == {"open", "eschar"}


def test_skin_that_is_not_there_is_noticed():
    case, plan = thumb_plan(synthetic_names()[0])
    first = plan.harvests[0]
    again = replace(plan, harvests=(*plan.harvests, replace(first, day=first.day + 1, harvest_number=2)))
    with pytest.raises(SkinNotThere):
        take_strips(case, again, EVIDENCE, PREFERENCES)
