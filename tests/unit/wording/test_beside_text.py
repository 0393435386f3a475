"""Other plans and other weights, in a surgeon's words."""

from dataclasses import replace
from decimal import Decimal

from service.domain.alternative import Alternative, BesidePlan, FirstSession, Goal, Sensitivity, WeightEffect
from service.domain.course_figures import CourseFigures, SiteHarvest
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan
from service.planning.sensitivity import WEIGHTS
from service.wording.beside_text import word_alternatives, word_sensitivity, write_beside
from service.wording.catalogue import load_table
from tests.unit.schedule.plans import hand_made_answer, hand_made_case

PLAN = CourseFigures((1, 3), (SiteHarvest(1, "scalp", Decimal("1000.4")),), (), 30, Decimal(0), Decimal("50.0"),
                     Decimal("1000.0"))
FIRST = FirstSession(1, frozenset({("left-thigh-front:full-thickness", GraftMethod.MESHED_1_2)}), frozenset(),
                     frozenset({"scalp"}), Decimal(400))


def answer_with(beside: BesidePlan | None):
    answer = hand_made_answer(hand_made_case())
    return replace(answer, plan=replace(answer.plan, beside=beside))


def test_nothing_beside_a_plan_has_no_section():
    assert write_beside(answer_with(None)) == []
    assert write_beside(answer_with(BesidePlan(PLAN))) == []


def test_an_alternative_is_one_line_with_its_cost():
    figures = replace(PLAN, session_days=(1,), closure_day=32, scar_days=Decimal("61.2"),
                      harvests=(SiteHarvest(1, "scalp", Decimal("899.9")),), objective_days=Decimal("1210.5"))
    alternative = Alternative((Goal.FEWEST_SESSIONS, Goal.MOST_SKIN_KEPT), SettledPlan(), figures)
    answer = answer_with(BesidePlan(PLAN, (alternative,)))
    closed = answer.case.date_of(32).isoformat()
    (line,) = word_alternatives(answer)
    assert line.startswith(f"Fewest sessions, most donor skin kept: 1 session instead of 2; closed on {closed}")
    assert line.endswith("2 days later; 101 cm² less skin taken; scar 61.2 instead of 50.0 %TBSA-days; "
                         "210.5 %TBSA-days worse by these weights.")


def test_weights_with_the_same_effect_are_one_sentence():
    other = FirstSession(2, frozenset({("right-thigh-front:full-thickness", GraftMethod.MESHED_1_3)}), frozenset(),
                         frozenset({"scalp", "left-buttock"}), Decimal("600.5"))
    effects = (WeightEffect("session-weight", False, other), WeightEffect("weight-life/hand", False, other),
               WeightEffect("weight-life/neck", False, other), WeightEffect("scar", True, other))
    answer = answer_with(BesidePlan(PLAN, (), Sensitivity(FIRST, effects, 9, 3, is_complete=False)))
    sentence, extent = word_sensitivity(answer)
    assert sentence.startswith("If one more session or an open day of the hand or the neck counted half, or the scar "
                               "of expanded grafts counted double, another first session would be the better one: on ")
    assert sentence.endswith("601 cm² of skin instead of 400 cm²; also grafts on the right thigh, front; no graft on "
                             "the left thigh, front; with meshed 1:3; without meshed 1:2; "
                             "skin also from the left buttock.")
    assert extent == ("Tried: 9 weights, each halved and doubled, against 3 other courses that came nearest; "
                      "others were not compared.")


def test_no_effect_is_said_with_how_far_it_was_tried():
    none = answer_with(BesidePlan(PLAN, (), Sensitivity(FIRST, (), 9, 1, is_complete=True)))
    assert word_sensitivity(none) == [
        "No weight, halved or doubled, makes another first session the better one.",
        "Tried: 9 weights, each halved and doubled, against 1 other course."]
    nothing = answer_with(BesidePlan(PLAN, (), Sensitivity(FIRST, (), 9, 0, is_complete=True)))
    assert "no weight could be tried" in word_sensitivity(nothing)[0]


def test_every_goal_and_weight_has_words():
    assert set(load_table("goals")) == set(Goal)
    assert set(load_table("weights")) == set(WEIGHTS)
