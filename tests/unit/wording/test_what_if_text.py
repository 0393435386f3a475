"""What if, in words: conditions, difference and table say what the figures say."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from service.domain.body_region import Region, Side
from service.domain.case import Act, FixedDecision
from service.domain.course_figures import CourseFigures, SiteHarvest
from service.domain.finding import Finding, Severity
from service.domain.graft import GraftMethod
from service.domain.plan import GraftPlan, PlanOutcome, SettledPlan
from service.domain.what_if import WhatIf, WhatIfAnswer
from service.wording.what_if_text import NOTICE, compare_rows, word_conditions, word_difference, write_what_if
from tests.unit.schedule.plans import hand_made_answer, hand_made_case

ASKED = WhatIf(excluded_sites=("scalp",))
PLAN = CourseFigures((1, 3), (SiteHarvest(1, "scalp", Decimal("100.4")), SiteHarvest(3, "left-buttock", Decimal(200))),
                     ((GraftMethod.MESHED_1_2, Decimal("500.5")),), 30, Decimal(0), Decimal(50), Decimal("1000.0"))
MADE = GraftPlan(PlanOutcome.RULE_OF_THUMB, SettledPlan())


def answer_with(figures: CourseFigures | None, *, recommended=PLAN, plan=MADE, holds_without=False):
    answer = hand_made_answer(hand_made_case())
    return replace(answer, what_if=WhatIfAnswer(ASKED, answer.case, plan, recommended, figures, holds_without))


def test_nothing_asked_nothing_said():
    assert write_what_if(hand_made_answer(hand_made_case())) == []


def test_every_condition_has_its_words():
    words = word_conditions(WhatIf(
        excluded_sites=("left-thigh",), freed_sites=("left-thigh-front",), dropped_days=(date(2031, 3, 10),),
        cover_stock_cm2=Decimal("1200.50"), transfusion_units=0, session_area_limit_percent_tbsa=Decimal("12.5"),
        session_minutes_limit=Decimal(150), methods_unavailable=frozenset({GraftMethod.ISLAND_1_6, GraftMethod.SHEET}),
        fixed_decisions=(FixedDecision(Act.PLACE, Region.HAND, Side.LEFT, None, GraftMethod.SHEET),)))
    assert words == [
        "no skin from left thigh", "skin of left thigh, front healed and free to take", "no theatre on 2031-03-10 Mon",
        "1,200.5 cm² of temporary cover in stock", "0 red-cell units available", "at most 12.5 %TBSA in a session",
        "at most 150 minutes of surgery in a session", "no sheet", "no islands 1:6",
        "decided: graft left hand by sheet"]


def test_the_difference_in_short_sentences():
    other = replace(PLAN, session_days=(2, 4, 6), closure_day=31, objective_days=Decimal("1050.5"),
                    harvests=(SiteHarvest(2, "left-buttock", Decimal("350.2")),))
    answer = answer_with(other)
    dates = [answer.case.date_of(day).isoformat() for day in (2, 31)]
    said = word_difference(answer)
    assert said[0] == "1 session more."
    assert said[1].startswith(f"First session: {dates[0]}")
    assert said[2].startswith(f"Expected closed 1 day later, on {dates[1]}")
    assert said[3] == "50 cm² more skin taken over the whole course."
    assert said[4] == "50.5 %TBSA-days worse by these weights (1,050.5 %TBSA-days instead of 1,000.0 %TBSA-days)."
    assert len(said) == 5


def test_what_stays_open_comes_before_a_day_of_closure():
    said = word_difference(answer_with(replace(PLAN, open_cm2=Decimal("99.5"), closure_day=None)))
    assert said[0].startswith("100 cm² (") and said[0].endswith("still open at the end instead of 0 cm².")
    closing = answer_with(replace(PLAN), recommended=replace(PLAN, open_cm2=Decimal(70), closure_day=None))
    assert word_difference(closing) == ["All wounds are grafted; the plan leaves 70 cm² open."]


def test_nothing_changes_without_a_table_of_the_same_twice():
    answer = answer_with(PLAN)
    assert word_difference(answer)[0].startswith("Nothing changes")
    assert compare_rows(answer.what_if) == []


def test_a_plan_that_holds_without_the_conditions_can_be_chosen():
    better = replace(PLAN, objective_days=Decimal(900))
    said = word_difference(answer_with(better, holds_without=True))
    assert any("could be chosen as it is" in words for words in said)


def test_no_plan_says_why_and_shows_no_table():
    finding = Finding("fixed-decision-infeasible", Severity.HIGH, (("act", "place"), ("rule", "theatre-day")))
    none = GraftPlan(PlanOutcome.NO_PLAN, SettledPlan(), reason_no_plan=finding.code, findings=(finding,))
    answer = answer_with(None, plan=none)
    said = word_difference(answer)
    assert said[0] == "Under these conditions no plan is made." and "the theatre days that were given" in said[1]
    assert compare_rows(answer.what_if) == []


def test_rows_stand_side_by_side_and_name_the_sites_that_differ():
    other = replace(PLAN, session_days=(1,), harvests=(SiteHarvest(1, "scalp", Decimal(90)),
                                                       SiteHarvest(1, "left-buttock", Decimal(10))))
    rows = {label.strip(): cells for label, *cells in compare_rows(answer_with(other).what_if)}
    assert rows["Sessions"] == ["2", "1"]
    assert rows["Skin taken"] == ["301 cm²", "100 cm²"]
    assert rows["Grafted: meshed 1:2"] == ["501 cm²", "501 cm²"]
    assert rows["scalp"] == ["101 cm²", "90 cm²"]
    assert rows["Session 2"][1] == "-"


def test_new_findings_are_named_and_the_notice_stands_above():
    found = replace(MADE, findings=(Finding("still-open", Severity.HIGH),))
    text = "\n".join(write_what_if(answer_with(replace(PLAN, scar_days=Decimal(51)), plan=found)))
    assert "To know then: Wound still open at the end of the plan." in text
    assert text.index(NOTICE) < text.index("Sessions")
    assert max(map(len, text.splitlines())) <= 80
