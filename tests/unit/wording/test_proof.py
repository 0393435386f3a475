"""How good a plan is, in words."""

from decimal import Decimal

from service.domain.plan import GraftPlan, PlanOutcome, SearchEnd, SettledPlan, SkinPrice
from service.domain.session import Session
from service.wording.proof import word_proof


def plan(**changes):
    settled = SettledPlan(sessions=(Session(1, 4, (), False, 60, 100, 0),))
    fields = {"objective_days": Decimal("100.0"), "bound_days": Decimal("98.0"), "gap": Decimal("0.0412"),
              "thumb_days": Decimal("110.0"), "thumb_open_cm2": Decimal(0), "search_end": SearchEnd.WORK}
    return GraftPlan(PlanOutcome.BEST_FOUND, settled, **{**fields, **changes})


def words(**changes):
    return " ".join(word_proof(plan(**changes)))


def test_gap_and_comparison_are_said_with_what_they_are_against():
    said = words()
    assert "Best within 4.2 % of the days that can be avoided (2.0 %TBSA-days)" in said
    assert "how sure the values are is told by their intervals" in said
    assert "Against our own simplified rule, not against usual care: 10.0 %TBSA-days fewer" in said


def test_nothing_proven_and_nothing_won_are_said():
    assert "No bound is proven." in words(gap=None, bound_days=None)
    assert "no days won" in words(thumb_days=Decimal("100.0"))


def test_a_search_that_time_ended_or_that_failed_is_never_silent():
    assert "The time allowed ended the search" in words(search_end=SearchEnd.CLOCK)
    assert "failed" in words(search_end=SearchEnd.FAULT)


def test_the_dearest_skin_is_named_with_its_session():
    said = words(skin_prices=(SkinPrice("scalp", 4, Decimal("1.5")), SkinPrice("left-thigh-front", 4, Decimal("3.5"))))
    assert "left thigh" in said and "in session 1: about 3.5 %TBSA-days" in said
