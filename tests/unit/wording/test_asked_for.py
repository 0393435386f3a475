"""Every wish of the request is said back, in its own numbers; what was not stated is not."""

from dataclasses import fields, replace
from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import Region, Side
from service.domain.burn_wound import BurnExtent, Depth
from service.domain.case import Act, FixedDecision, KeepFor, PlanRequest, TheatreDay
from service.domain.graft import GraftMethod
from service.domain.plan import PlanOutcome
from service.wording.asked_for import word_asked_for
from service.wording.plan_text import write_plan_text
from tests.random_cases import plan_request
from tests.unit.schedule.plans import TRUNK, hand_made_answer, hand_made_case

DAY = date(2031, 3, 10)
WISHES = {
    "theatre_days": (
        (TheatreDay(DAY, 240, 1), TheatreDay(date(2031, 3, 12), None, 2), TheatreDay(date(2031, 3, 14))),
        "Theatre only on: 2031-03-10 Mon (240 min, 1 position); 2031-03-12 Wed (2 positions); 2031-03-14 Fri."),
    "methods_available": (
        frozenset({GraftMethod.MESHED_1_1_5, GraftMethod.SHEET}), "Only these methods: sheet; meshed 1:1.5."),
    "keep_for": ((KeepFor(Region.FACE, Decimal("360.0")),), "Skin kept for the face: 360 cm²."),
    "cover_stock_cm2": (Decimal("2400.5"), "Temporary cover in stock: 2,400.5 cm²."),
    "transfusion_units": (0, "Red-cell units available: 0."),
    "limb_tourniquet": (False, "Limbs are operated on without a tourniquet."),
    "session_area_limit_percent_tbsa": (Decimal("15"), "At most 15 %TBSA in a session."),
    "session_minutes_limit": (Decimal("180"), "At most 180 minutes of surgery in a session."),
    "fixed_decisions": (
        (FixedDecision(Act.PLACE, Region.HAND, Side.LEFT, DAY, GraftMethod.SHEET),),
        "Decided and kept: graft left hand by sheet on 2031-03-10 Mon."),
    "preferences": (
        (("rest-days", Decimal(4)), ("weight-function/face", Decimal("7.50"))),
        "Preference overridden: rest days 4 days instead of 2 days. "
        "Preference overridden: weight function, face 7.5 instead of 6."),
    "carrier_stock": (((Decimal(4), 20), (Decimal(9), 5)), "Carriers in stock: 20 at 1:4; 5 at 1:9."),
}
#: They shape the answer, not the plan; a what-if has a section of its own.
NOT_WISHES = {"as_of", "time_zone", "task_days", "answer", "search_seconds", "what_if", "seed"}


def asked(answer):
    return " ".join(word_asked_for(answer))


@pytest.mark.parametrize("name", WISHES)
def test_a_wish_is_said_back_and_nothing_else(name):
    value, words = WISHES[name]
    request = replace(plan_request(), cover_stock_cm2=None)
    answer = hand_made_answer(hand_made_case(request=replace(request, **{name: value})))
    assert asked(answer) == words


def test_no_part_of_a_request_is_forgotten():
    assert {field.name for field in fields(PlanRequest)} == {*WISHES, *NOT_WISHES}


def test_a_watched_burn_is_named_with_its_day():
    extent = BurnExtent(TRUNK, Depth.DEEP_PARTIAL, Decimal(3), None, DAY, "Observation/1", watch_until=DAY)
    case = hand_made_case(request=replace(plan_request(), cover_stock_cm2=None))
    case = replace(case, record=replace(case.record, extents=(extent,)))
    assert asked(hand_made_answer(case)) == "Watched until 2031-03-10 Mon: front of trunk."


def test_without_a_plan_no_decision_counts_as_kept():
    request = replace(plan_request(), fixed_decisions=(FixedDecision(Act.HARVEST, Region.SCALP, None),))
    answer = hand_made_answer(hand_made_case(request=request), outcome=PlanOutcome.NO_PLAN)
    assert "Decided: take skin from scalp." in asked(answer)


def test_the_text_lists_the_wishes_and_has_no_empty_block():
    request = replace(plan_request(), cover_stock_cm2=None)
    assert "Asked for" not in write_plan_text(hand_made_answer(hand_made_case(request=request)))
    text = write_plan_text(hand_made_answer(hand_made_case(request=replace(request, transfusion_units=3))))
    assert "Asked for\n---------\n  Red-cell units available: 3.\n" in text
