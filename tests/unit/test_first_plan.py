"""Who has little time gets the plan itself: the same sessions, without what is made beside it."""

from decimal import Decimal

from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests.conftest import FIRST_PLAN

PARTS = build_parts(Settings())


def test_below_half_a_second_the_plan_stands_alone():
    first = answer_plan_request(PARTS, FIRST_PLAN.read_bytes(), seconds=Decimal("0.2")).answer.plan
    whole = answer_plan_request(PARTS, FIRST_PLAN.read_bytes(), seconds=Decimal("0.5")).answer.plan
    assert first.settled.firm_sessions and not first.variants
    assert first.forecast is None and first.beside is None
    assert whole.forecast is not None and whole.beside is not None and whole.variants
