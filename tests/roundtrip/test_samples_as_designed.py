"""Each sample is answered as the situation that it was made for asks."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import Region
from service.domain.plan import PlanOutcome
from service.domain.session import CoverKind
from service.evidence.library import load_evidence
from tests.conftest import SAMPLES
from tests.planned_samples import reply_to

#: Samples whose right answer is not a plan; ``tests/golden`` holds what it is.
WITHOUT_PLAN = ("missing-weight", "comfort-care", "contradictory-extent", "two-patients", "wrong-units")
PLANNED = sorted(p.stem for p in SAMPLES.glob("*.json") if p.stem not in WITHOUT_PLAN)


def placements(name: str):
    """Day, place and placement of every graft that is planned firmly."""
    answer = reply_to(name).answer
    places = {w.wound_id: w.place for w in answer.case.wounds}
    return [
        (answer.case.date_of(p.day), places[p.wound_id], p)
        for p in answer.plan.settled.placements if not p.is_regraft]


def codes(name: str) -> set[str]:
    return {f.code for f in reply_to(name).answer.findings}


@pytest.mark.parametrize("name", PLANNED)
def test_a_sample_is_planned(name):
    answer = reply_to(name).answer
    assert answer.plan.outcome is not PlanOutcome.NO_PLAN
    assert answer.plan.settled.firm_sessions


def test_comfort_care_gets_no_plan_and_no_task():
    reply = reply_to("comfort-care")
    assert (reply.answer.plan.outcome, reply.answer.plan.reason_no_plan) == (PlanOutcome.NO_PLAN, "comfort-care")
    types = {e["resource"]["resourceType"] for e in reply.resource["entry"]}
    assert types.isdisjoint({"CarePlan", "Task", "ServiceRequest"})


def test_lost_grafts_are_grafted_again_on_their_ready_bed():
    grafted = {place.key for _, place, _ in placements("adult-60-percent-after-session-2-poor-take")}
    assert {"anterior-trunk", "posterior-trunk", "right-lower-leg-front"} <= grafted
    assert "bed-colonised" in codes("adult-60-percent-after-session-2-poor-take")


def test_nothing_is_grafted_on_infected_beds_and_they_stay_open():
    shut = {"right-thigh-front", "right-lower-leg-front"}
    assert shut.isdisjoint({place.key for _, place, _ in placements("infected-bed")})
    still_open = {o.wound_id.split(":")[0] for o in reply_to("infected-bed").answer.plan.settled.still_open}
    assert still_open == shut
    assert {"bed-streptococcus", "bed-infected"} <= codes("infected-bed")


def test_the_bed_under_cover_is_grafted_before_its_cover_ends_or_it_is_said():
    answer = reply_to("cover-stock-given").answer
    said = {f.place for f in answer.findings if f.code == "cover-expires"}
    for wound in answer.case.wounds:
        if wound.covered_cm2:
            in_time = sum(p.area_cm2 for p in answer.plan.settled.placements
                          if p.wound_id == wound.wound_id and p.day <= wound.covered_until_day)
            assert in_time >= wound.covered_cm2 or (in_time > wound.covered_cm2 / 2 and wound.wound_id in said)


def test_temporary_cover_stays_within_its_stock():
    answer = reply_to("cover-stock-given").answer
    used = sum(c.area_cm2 for c in answer.plan.settled.covers if c.kind is CoverKind.TEMPORARY)
    assert used <= answer.case.request.cover_stock_cm2


def test_what_was_decided_is_kept_and_what_is_watched_waits():
    grafts = placements("fixed-decisions")
    answer = reply_to("fixed-decisions").answer
    left_hand = [(day, str(p.method)) for day, place, p in grafts if place.key.startswith("left-hand")]
    assert left_hand == [(date(2026, 3, 10), "sheet")]
    thigh_days = {
        answer.case.date_of(e.day) for e in answer.plan.settled.excisions if e.wound_id.startswith("left-thigh")}
    assert thigh_days == {date(2026, 3, 13)}
    assert any(h.site_id.startswith("right-thigh") for h in answer.plan.settled.harvests)
    assert min(day for day, place, _ in grafts if place.region is Region.FACE) >= date(2026, 3, 18)
    deep_partial = [e for e in answer.plan.settled.excisions if e.wound_id == "anterior-trunk:deep-partial"]
    assert min(answer.case.date_of(e.day) for e in deep_partial) >= date(2026, 3, 16)
    assert {answer.case.date_of(s.day) for s in answer.plan.settled.sessions} <= {
        d.day for d in answer.case.request.theatre_days}
    assert "fixed-decision-infeasible" not in codes("fixed-decisions")


def test_obesity_shows_both_body_surfaces():
    assert "body-surface-formulas-differ" in codes("obese-40-percent")


@pytest.mark.parametrize(("name", "limit"), [("infant-20-percent", 10), ("elderly-25-percent", 10)])
def test_sessions_stay_small_in_the_very_young_and_the_old(name, limit):
    answer = reply_to(name).answer
    for session in answer.plan.settled.sessions:
        excised = sum(e.area_cm2 for e in answer.plan.settled.excisions if e.day == session.day)
        assert answer.case.percent_tbsa(excised) <= limit


def test_without_off_loading_the_buttock_waits_for_the_front():
    grafts = placements("elderly-25-percent")
    last_front = max(day for day, place, _ in grafts if place.key == "anterior-trunk")
    buttock = min(day for day, place, _ in grafts if place.region is Region.BUTTOCK)
    assert (buttock - last_front).days >= int(load_evidence().value("protect-days"))


def test_half_a_day_after_the_injury_the_fluid_cross_check_stands_beside_the_plan():
    assert reply_to("pounds-and-inches").answer.fluid_estimate is not None
    assert reply_to("percent-of-region-input").answer.fluid_estimate is None


def test_percent_of_region_is_taken_of_the_chart():
    case = reply_to("percent-of-region-input").answer.case
    hand = sum(w.area_cm2 for w in case.wounds if w.place.key == "left-hand-back")
    assert round(case.percent_tbsa(hand), 2) == Decimal("1.25")  # the whole back of an adult hand
