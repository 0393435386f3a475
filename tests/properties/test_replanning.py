"""A plan that was carried out is re-planned from the true state: nothing is done twice, areas balance."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from random import Random

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region, Side, Surface
from service.domain.burn_wound import Depth
from service.evidence.library import load_evidence
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.verification.verify import verify_plan
from tests.recorded_course import as_of, read_due_grafts, record_session, recorded_cm2, see_donors_healed
from tests.records import burn, place, record, request

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
TAKES = [Decimal(t) for t in ("1", "0.95", "0.9", "0.8", "0.6")]
BURNS = (
    burn(place(Region.ANTERIOR_TRUNK), "11"), burn(place(Region.POSTERIOR_TRUNK), "9", Depth.DEEP_PARTIAL),
    burn(place(Region.THIGH, Side.LEFT, Surface.FRONT), "4"),
    burn(place(Region.THIGH, Side.LEFT, Surface.BACK), "3"),
    burn(place(Region.LOWER_LEG, Side.LEFT, Surface.FRONT), "3.2"),
    burn(place(Region.HAND, Side.LEFT, Surface.BACK), "1.2"),
    burn(place(Region.FOREARM, Side.LEFT, Surface.FRONT), "1.4"), burn(place(Region.FACE), "1.1"),
)


def plan_record(burn_record, when_request):
    case = assess_case(burn_record, when_request, EVIDENCE, PREFERENCES)
    plan = plan_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)
    assert verify_plan(case, plan, EVIDENCE, PREFERENCES) == ()
    return case, plan


def carry_out(burn_record, when_request, take_of=None):
    """Do the next session as planned; the record and the request of the day after."""
    case, plan = plan_record(burn_record, when_request)
    if not plan.firm_sessions:
        return case, plan, None, None
    session = plan.firm_sessions[0]
    done = record_session(case, plan, session, EVIDENCE)
    tomorrow = case.date_of(session.day) + timedelta(days=1)
    next_request = as_of(when_request, tomorrow)
    seen = see_donors_healed(assess_case(done, next_request, EVIDENCE, PREFERENCES), done, tomorrow)
    return case, plan, read_due_grafts(seen, tomorrow, EVIDENCE, take_of), next_request


def total_cm2(case, where):
    """Burned area of a place that needs a graft, rounded as the case rounds it."""
    return sum((e.percent_tbsa * case.body_surface_m2 * 100 for e in case.record.extents if e.place == where),
               Decimal(0))


def balance(case, where):
    """Open + under grafts not read + taken + small loss dressed, less the burn: nothing lost or twice. [cm²]"""
    wounds = [w for w in case.wounds if w.place == where]
    open_now = sum((w.area_cm2 for w in wounds), Decimal(0))
    placed = [p for p in case.record.placements if p.place == where]
    held = sum((p.area_cm2 * (1 if p.take_fraction is None else p.take_fraction) for p in placed), Decimal(0))
    dressed = sum((w.dressed_cm2 for w in wounds), Decimal(0))
    return open_now + held + dressed - total_cm2(case, where)


@pytest.mark.parametrize("stock", [Decimal(0), Decimal(12000)])
def test_nothing_done_is_planned_twice(stock):
    first_case, first, after, later = carry_out(record(*BURNS), request(cover_stock_cm2=stock))
    case, second = plan_record(after, later)
    wounds = {w.wound_id: w.place for w in first_case.wounds}
    for where in {w.place for w in first_case.wounds}:
        planned = sum((p.area_cm2 for p in second.placements if wounds.get(p.wound_id) == where and not p.is_regraft),
                      Decimal(0))
        assert recorded_cm2(after.placements, where) + planned <= total_cm2(case, where) + 1
        excised = sum((e.area_cm2 for e in second.excisions if wounds.get(e.wound_id) == where), Decimal(0))
        assert recorded_cm2(after.excisions, where) + excised <= total_cm2(case, where) + 1


def test_areas_balance_over_ten_replans():
    burn_record, when = record(*BURNS), request()
    replans = 0
    for _ in range(10):
        case, plan, burn_record, when = carry_out(burn_record, when)
        for where in {e.place for e in case.record.extents}:
            assert abs(balance(case, where)) <= 1, where.key
        replans += 1
        if when is None:
            break  # nothing is left to graft
    assert replans >= 5
    assert len(case.record.placements) > len(BURNS)


def test_harvested_skin_is_booked_once():
    burn_record, when = record(*BURNS), request()
    for _ in range(4):
        case, plan, burn_record, when = carry_out(burn_record, when)
        for site in case.donor_sites:
            taken = recorded_cm2(case.record.harvests, site.place)
            counted = sum((p.area_cm2 * p.harvest_count for p in site.parcels), Decimal(0))
            assert counted == taken


def test_finished_course_plans_nothing():
    """One small burn, grafted, read as fully taken: the next plan has no session."""
    case, plan, after, later = carry_out(record(burn(place(Region.ANTERIOR_TRUNK), "3")), request())
    taken = replace(after, placements=tuple(
        replace(p, take_fraction=Decimal(1), take_day=p.day) for p in after.placements))
    again, nothing = plan_record(taken, as_of(later, case.date_of(10)))
    assert nothing.sessions == ()
    assert nothing.still_open == ()


@pytest.mark.parametrize("seed", range(6))
def test_no_session_is_asked_for_a_crumb(seed):
    """Whatever the takes, a session grafts the smallest piece at least, or a region that was never grafted."""
    drawn = Random(seed)
    burn_record, when = record(*BURNS, *(replace(b, depth=Depth.DEEP_PARTIAL) for b in BURNS[2:])), request()
    for _ in range(10):
        case, plan, burn_record, when = carry_out(burn_record, when, take_of=lambda _: drawn.choice(TAKES))
        if when is None:
            break
        day = plan.firm_sessions[0].day
        grafted_cm2 = sum(p.area_cm2 for p in plan.placements if p.day == day)
        never_grafted = any(p.day == day and not w.placed
                            for p in plan.placements for w in case.wounds if w.wound_id == p.wound_id)
        smallest_cm2 = PREFERENCES.value("smallest-piece") * case.body_surface_m2 * 100
        assert grafted_cm2 >= smallest_cm2 or never_grafted
