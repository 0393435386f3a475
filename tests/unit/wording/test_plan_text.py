"""The text answer: 80 columns, nothing unfilled, everything a reviewer needs."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from service.domain.burn_wound import BurnExtent, Depth
from service.domain.finding import Finding, Severity
from service.domain.plan import LedgerEntry, PlanOutcome, Reason, SettledPlan, Variant
from service.evidence.library import load_evidence
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.wording.catalogue import NOT_STATED
from service.wording.events import event_description, event_title
from service.wording.languages import Words, languages
from service.wording.plan_header import word_age
from service.wording.plan_text import write_data_required_text, write_plan_text
from service.wording.text_table import WIDTH, Column, table
from tests.random_cases import random_case
from tests.unit.schedule.plans import TRUNK, hand_made_answer, hand_made_case, hand_made_plan


def assert_fits(text):
    assert text.endswith("\n")
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert NOT_STATED not in text


def section(text, title):
    """Lines of one section, up to the next empty line before a title."""
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith(title))
    rest = lines[start + 2:]
    end = next((i for i, line in enumerate(rest) if line and set(line) == {"-"}), len(rest) + 1)
    return "\n".join(rest[:end - 1])


@pytest.mark.parametrize("past", [False, True])
def test_hand_made_answer_fits(past):
    assert_fits(write_plan_text(hand_made_answer(hand_made_case(past=past))))


@pytest.mark.parametrize("seed", [0, 1, 4, 6, 7, 10])
def test_random_answers_fit(seed):
    case = random_case(seed)
    plan = plan_by_rule_of_thumb(case, load_evidence(), load_preferences())
    answer = hand_made_answer(case, plan)
    assert_fits(write_plan_text(answer))
    for event in answer.events:
        words = f"{event_title(event)} {event_description(event)}"
        assert NOT_STATED not in words, event.kind
        assert "  " not in words, event.kind


def test_session_says_when_and_how():
    text = write_plan_text(hand_made_answer())
    assert "Session 1: 2031-03-05 Wed, day 5 after injury, supine" in text
    block = section(text, "Session 1")
    for words in ("about 180 min", "1,900 mL", "Red-cell units to have ready: 6", "islands 1:4",
                  "19 at 1:4, and 2 spare", "360 cm² (330-388)", "Confirm before it:", "Held back by the area"):
        assert words in block


def test_possible_session_is_not_worded_as_planned():
    block = section(write_plan_text(hand_made_answer()), "Possible session 3")
    assert "Only if grafts fail." in block
    assert "Order of work" not in block


def test_calendar_holds_the_ward_and_not_the_theatre():
    calendar = section(write_plan_text(hand_made_answer()), "Ward calendar")
    assert "2031-03-11 Tue  Read graft" in calendar
    assert "Plan again" in calendar
    assert "Excise" not in calendar
    assert "2031-03-23" not in calendar


def test_ledger_shows_the_days_of_sessions():
    ledger = section(write_plan_text(hand_made_answer()), "Donor skin in reserve")
    assert "2031-03-05" in ledger
    assert "779 (21)" in ledger


def test_understood_extents_stand_in_front():
    case = hand_made_case()
    extent = BurnExtent(TRUNK, Depth.FULL_THICKNESS, Decimal("6.5"), None, date(2031, 3, 1), "Observation/1")
    case = replace(case, record=replace(case.record, extents=(extent,)))
    understood = section(write_plan_text(hand_made_answer(case)), "Understood")
    line = next(line for line in understood.splitlines() if line.startswith("front of trunk"))
    assert line.split("  ")[-1].strip() == "1,200 cm²"
    assert "6.5 %TBSA" in line


def test_harvests_of_one_site_and_thickness_are_one_row_with_both_numbers():
    plan = hand_made_plan()
    small = replace(plan.harvests[0], area_cm2=Decimal("5.0"))
    rest = replace(small, area_cm2=Decimal("355.0"), harvest_number=2)
    text = write_plan_text(hand_made_answer(plan=replace(plan, harvests=(small, rest, *plan.harvests[1:]))))
    assert_fits(text)
    block = section(text, "Session 1")
    assert re.search(r"thin +360 cm² .* no\. 1 \(5 cm²\)\n.*and no\. 2\n", block)
    assert "no. 1 (" not in section(write_plan_text(hand_made_answer()), "Session 1")


def test_findings_by_severity_with_what_to_do():
    findings = (
        Finding("face-waits", Severity.LOW, place="face"),
        Finding("bed-infected", Severity.HIGH, place="left-thigh-front"),
        Finding("bed-infected", Severity.HIGH, place="left-hand-back"),
    )
    answer = replace(hand_made_answer(), findings=findings)
    block = section(write_plan_text(answer), "Findings")
    assert block.index("HIGH: Infected wound bed") < block.index("LOW: Face is grafted later")
    assert block.count("Infected wound bed") == 1
    assert "left thigh, front; left hand, back" in block
    assert "To do:" in block


def test_findings_that_differ_only_in_their_number_are_one():
    findings = (
        Finding("units-to-have-ready", Severity.MODERATE, (("units", "4"),), session=1),
        Finding("session-over-warning-minutes", Severity.MODERATE, (("minutes", "212"),), session=1),
        Finding("units-to-have-ready", Severity.MODERATE, (("units", "10"),), session=4),
        Finding("session-over-warning-minutes", Severity.MODERATE, (("minutes", "190"),), session=3),
        Finding("loss-not-reserved", Severity.MODERATE, (("area_cm2", "12"),), place="left-thigh"),
        Finding("loss-not-reserved", Severity.MODERATE, (("area_cm2", "9"),), place="right-thigh"),
        Finding("skin-left-over", Severity.LOW, (("area_cm2", "30"),), session=1),
        Finding("skin-left-over", Severity.LOW, (("area_cm2", "30"),), session=2),
    )
    block = section(write_plan_text(replace(hand_made_answer(), findings=findings)), "Findings")
    assert [block.count(code) for code in ("Red-cell units to have ready", "Long session", "No skin kept", "Where:")] \
        == [1, 1, 1, 4]
    for words in ("blood loss: 4 to 10.", "Where: session 1: 4; session 4: 10.",
                  "take 190 to 212 minutes", "Where: session 1: 212 min; session 3: 190 min.",
                  "Where: left thigh: 12 cm²; right thigh: 9 cm².", "Where: session 1; session 2."):
        assert words in block


def test_findings_that_differ_in_words_stay_apart():
    values = [(("act", "place"), ("rule", rule)) for rule in ("session-blood", "session-area")]
    findings = tuple(Finding("fixed-decision-infeasible", Severity.HIGH, v, "left-thigh") for v in values)
    block = section(write_plan_text(replace(hand_made_answer(), findings=findings)), "Findings")
    assert block.count("A fixed decision cannot be kept") == 2


def test_alternatives_and_reasons_are_worded():
    variant = Variant("depth-indeterminate", "closes", hand_made_plan(), 40)
    answer = hand_made_answer(variants=(variant,), reasons=(
        Reason("expansion-level", (("method", "islands 1:4"),)),))
    text = write_plan_text(answer)
    assert "closes by itself, by our simplified rule: 2" in section(text, "If an open question")
    assert section(text, "Session 1").count("the area that one session may excise or graft") == 1
    assert "widest expansion is islands 1:4, where" in section(text, "Outcome").replace("\n", " ")


def test_ledger_holds_a_state_until_it_changes():
    ledger = tuple(
        LedgerEntry(day, "right-thigh-front", Decimal(usable), Decimal(800 - usable), Decimal(0))
        for day, usable in ((0, 800), (1, 300), (19, 800)))
    block = section(write_plan_text(hand_made_answer(ledger=ledger)), "Donor skin in reserve")
    row = next(line for line in block.splitlines() if line.startswith("right thigh, front"))
    assert row.split() == ["right", "thigh,", "front", "800", "300", "(500)", "800", "800"]


def test_a_decision_that_cannot_be_kept_names_its_rule():
    values = (("act", "place"), ("rule", "infected-bed"))
    finding = Finding("fixed-decision-infeasible", Severity.HIGH, values, "left-hand")
    answer = hand_made_answer(plan=SettledPlan(), outcome=PlanOutcome.NO_PLAN,
                              reason_no_plan="fixed-decision-infeasible", closures=(), ledger=())
    text = write_plan_text(replace(answer, findings=(finding,)))
    assert_fits(text)
    outcome = section(text, "Outcome").replace("\n", " ")
    assert "Left hand: A decision that was fixed beforehand (graft) cannot be kept." in outcome
    assert "infected beds, which are not grafted" in outcome


def test_numbers_from_memory_are_marked():
    sources = section(write_plan_text(hand_made_answer()), "Sources")
    assert "taught-figure (M):" in sources
    assert "kamolz-2013: achieved-expansion-ratio/island-1-4" in sources


def no_plan_text(code):
    answer = hand_made_answer(plan=SettledPlan(), outcome=PlanOutcome.NO_PLAN, reason_no_plan=code,
                              closures=(), ledger=())
    values = (("act", "place"), ("rule", "theatre-day"))
    text = write_plan_text(replace(answer, findings=(Finding(code, Severity.HIGH, values, "left-thigh"),)))
    assert_fits(text)
    assert "Session" not in text
    return text


def test_no_plan_says_why_and_stops():
    text = no_plan_text("fixed-decision-infeasible")
    assert "No plan is made." in section(text, "Outcome")


def test_comfort_care_is_one_sentence_without_wounds_or_areas():
    text = no_plan_text("comfort-care")
    assert "The recorded intent of treatment is comfort: no plan is made." in text
    assert "Understood" not in text
    assert "cm²" not in text


def test_missing_data_are_listed_once():
    text = write_data_required_text(["Weight of the patient.", "Day of injury.", "Weight of the patient."])
    assert_fits(text)
    assert text.count("Weight of the patient.") == 1
    assert "Not a medical device as shipped." in text


def test_a_table_that_is_too_wide_is_refused():
    with pytest.raises(ValueError, match="characters"):
        table([Column("a", 50), Column("b", 40)], [])


def test_long_cells_stay_in_their_column():
    assert table([Column("Where", 10), Column("cm²", 4, True)], [("left thigh front", "12")]) == [
        "Where        cm²", "----------  ----", "left thigh    12", "front"]


def test_cover_in_stock_is_reserved_and_not_ordered_in_the_calendar():
    calendar = section(write_plan_text(hand_made_answer()), "Ward calendar")
    assert "Reserve cover" in calendar
    assert "Order cover" not in calendar


@pytest.mark.parametrize("years, code, said", [
    ("41.68", "en", "41.7 years"), ("2", "en", "2.0 years"), ("1.99", "en", "23 months"), ("0.1", "en", "1 month"),
    ("0.7", "de", "8 Monate"), ("0.1", "de", "1 Monat"), ("3.1", "de", "3.1 Jahre")])
def test_an_age_below_two_years_is_told_in_completed_months(years, code, said):
    assert word_age(Decimal(years), Words(languages()[code])) == said
