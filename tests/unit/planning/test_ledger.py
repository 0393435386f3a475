"""The donor ledger: three parts that add up, and days on which they change."""

from decimal import Decimal

from service.domain.graft import Thickness
from service.evidence.library import load_evidence
from service.planning.ledger import donor_ledger
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from tests.random_cases import random_case


def ledger_of(seed):
    case = random_case(seed)
    preferences = load_preferences().with_overrides(case.preference_overrides)
    plan = plan_by_rule_of_thumb(case, load_evidence(), preferences)
    quantities = PlanningQuantities(case, load_evidence(), preferences)
    return case, plan, quantities, donor_ledger(quantities, plan)


def test_parts_add_up_to_the_site_and_none_is_negative():
    for seed in range(12):
        case, _, _, ledger = ledger_of(seed)
        area = {s.site_id: s.area_cm2 for s in case.donor_sites}
        for entry in ledger:
            assert entry.usable_cm2 + entry.healing_cm2 + entry.spent_cm2 == area[entry.site_id]
            assert min(entry.usable_cm2, entry.healing_cm2, entry.spent_cm2) >= 0


def test_a_harvest_heals_after_its_days_and_not_before():
    case, plan, quantities, ledger = ledger_of(0)
    harvest = plan.harvests[0]
    site = next(s for s in case.donor_sites if s.site_id == harvest.site_id)
    days = quantities.healing_days(site.place, Thickness(harvest.thickness), harvest.harvest_number)
    mine = {e.day: e for e in ledger if e.site_id == harvest.site_id}
    assert mine[harvest.day].healing_cm2 > 0
    if harvest.harvest_number < site.harvests_allowed:
        assert mine[harvest.day + days].healing_cm2 < mine[harvest.day].healing_cm2 or len(
            [h for h in plan.harvests if h.site_id == harvest.site_id]) > 1


def test_last_allowed_harvest_is_spent():
    for seed in range(12):
        case, plan, _, ledger = ledger_of(seed)
        for site in case.donor_sites:
            last = sum((h.area_cm2 for h in plan.harvests if h.site_id == site.site_id
                        and h.harvest_number == site.harvests_allowed), Decimal(0))
            before = sum((p.area_cm2 for p in site.parcels if p.harvest_count >= site.harvests_allowed), Decimal(0))
            assert [e.spent_cm2 for e in ledger if e.site_id == site.site_id][-1] == last + before
