"""Skin that will probably be left over is decided before the harvest, and both errors have their price."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.case import SkinLimitAge
from service.evidence.library import load_evidence
from service.schedule.leftover_skin import likely_surplus
from service.wording.theatre_list import word_surplus
from tests.simulation.forecasts import course_forecast, session_forecast
from tests.unit.schedule.plans import hand_made_case, hand_made_plan

EVIDENCE = load_evidence()


def surplus(*, next_day: int | None = None, forecast=None, **case_changes):
    """Of the first session, with a second one on a day or none."""
    plan = hand_made_plan()
    first = plan.sessions[0]
    later = () if next_day is None else (replace(first, ordinal=2, day=first.day + next_day),)
    plan = replace(plan, sessions=(first, *later), excisions=(), placements=tuple(
        p for p in plan.placements if p.day == first.day))
    case = hand_made_case(**case_changes)
    case = replace(case, wounds=tuple(replace(w, excised_cm2=Decimal(0), covered_cm2=Decimal(0)) for w in case.wounds))
    return likely_surplus(case, plan, first, EVIDENCE, forecast or course_forecast())


@pytest.mark.parametrize(("next_day", "fate"), [
    (None, "leftover-not-harvested"), (2, "leftover-stored"), (7, "leftover-stored"), (8, "leftover-not-harvested")])
def test_surplus_is_stored_only_for_a_session_within_the_planned_days(next_day, fate):
    assert surplus(next_day=next_day).fate == fate


def test_the_old_get_it_back_on_the_donor_site():
    assert surplus(next_day=2, age_band=SkinLimitAge.OLD).fate == "leftover-on-donor-site"


def test_open_wound_of_the_same_session_comes_first():
    plan, case = hand_made_plan(), hand_made_case()
    case = replace(case, wounds=tuple(replace(w, excised_cm2=w.area_cm2 * 2) for w in case.wounds))
    found = likely_surplus(case, plan, plan.sessions[0], EVIDENCE, course_forecast())
    assert found.fate == "leftover-on-open-wound"


def test_nothing_is_said_where_nothing_is_left_over_or_simulated():
    none_left = course_forecast(session_forecasts=(session_forecast(too_much_cm2=Decimal(0)),))
    assert surplus(forecast=none_left) is None
    assert likely_surplus(hand_made_case(), hand_made_plan(), hand_made_plan().sessions[0], EVIDENCE, None) is None


def test_the_words_name_the_cost_and_what_becomes_of_it():
    stored = word_surplus(surplus(next_day=2), EVIDENCE)
    assert stored == (
        "In about 7 of 10 simulated courses about 40 cm² is too much, and the donor wound larger than it need be: "
        "store it cold and labelled, at most 7 days, never after 10.")
    assert "take 330 cm² first, and the rest only when the grafts lie" in word_surplus(surplus(), EVIDENCE)
