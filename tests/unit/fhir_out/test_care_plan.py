"""CarePlan: activities by reference only, a narrative that a browser and a person can read."""

import re
from xml.etree import ElementTree

import pytest

from service.domain.finding import Finding, Severity
from service.domain.plan import PlanOutcome
from service.fhir.write_plan import write_plan_bundle
from service.wording.findings import word_code
from tests.unit.fhir_out.answers import SERVER, SETTINGS, TRUNK_ID, D, answer, plan, read_result
from tests.unit.fhir_out.bundles import only, resources

ALLOWED_TAGS = {"div", "p", "b", "ul", "li"}
XHTML = "{http://www.w3.org/1999/xhtml}"


def care_plan(made=None):
    return only(write_plan_bundle(made or answer(), read_result(), SETTINGS), "CarePlan")


def test_activities_are_references_to_every_task_and_to_nothing_else():
    bundle = write_plan_bundle(answer(), read_result(), SETTINGS)
    tasks = [e["fullUrl"] for e in bundle["entry"] if e["resource"]["resourceType"] == "Task"]
    activities = only(bundle, "CarePlan")["activity"]
    assert activities == [{"reference": {"reference": url}} for url in tasks]


def test_tasks_do_not_point_back():
    bundle = write_plan_bundle(answer(), read_result(), SETTINGS)
    assert all("basedOn" not in task for task in resources(bundle, "Task"))


def test_author_is_the_service_and_conditions_are_addressed():
    resource = care_plan()
    assert resource["author"]["type"] == "Device" and "reference" not in resource["author"]
    assert resource["addresses"] == [{"reference": f"{SERVER}/Condition/r1"}]


@pytest.mark.parametrize(("closure_day", "end"), [(40, "2026-04-11"), (None, "2026-05-31")])
def test_period_runs_from_today_to_closure_or_to_the_horizon(closure_day, end):
    assert care_plan(answer(plan(closure_day=closure_day)))["period"] == {"start": "2026-03-02", "end": end}


@pytest.mark.parametrize(("outcome", "gap", "words"), [
    (PlanOutcome.RULE_OF_THUMB, None, ["Rule-of-thumb", "No bound is proven"]),
    (PlanOutcome.BEST_FOUND, D("0.0312"), ["Best plan found", "Best within 3.2 %", "21.5 %TBSA-days"]),
])
def test_notes_say_how_good_the_plan_is(outcome, gap, words):
    bound = None if gap is None else D("300.0")
    note = care_plan(answer(plan(outcome=outcome, gap=gap, bound_days=bound)))["note"][0]["text"]
    assert all(word in note for word in [*words, "321.5 %TBSA-days"])


def test_notes_carry_versions_and_hashes():
    notes = " ".join(note["text"] for note in care_plan()["note"])
    assert "2026.1" in notes and "b" * 64 in notes and "c" * 64 in notes


def test_narrative_is_plain_xhtml():
    narrative = care_plan()["text"]
    root = ElementTree.fromstring(narrative["div"])
    assert narrative["status"] == "generated"
    assert root.tag == f"{XHTML}div"
    assert {element.tag.removeprefix(XHTML) for element in root.iter()} == ALLOWED_TAGS
    assert all(not element.attrib for element in root.iter())


def test_narrative_tells_the_essential_plan():
    text = " ".join(ElementTree.fromstring(care_plan()["text"]["div"]).itertext())
    for expected in (
        "2026-03-03", "2026-03-22", "Excise 1,500 cm²", "Harvest 851 cm²", "meshed 1:2", "16 plates",
        "Possible session 3", "Not every wound is expected to close", "811 cm²",
        word_code("allergy-not-recorded"), "clinician reviews",
    ):
        assert expected in text


def test_the_other_answer_to_an_open_question_is_told_with_its_quantity():
    resource = care_plan()
    told = "2 sessions, skin taken 1,211 cm², of it 851 cm² in the first session"
    assert told in resource["text"]["div"]
    assert any(told in note["text"] for note in resource["note"])


def test_what_was_asked_for_is_said_back_in_one_note():
    asked = answer(cover_stock_cm2=D("700.50"), transfusion_units=4)
    assert "Asked for: Temporary cover in stock: 700.5 cm². Red-cell units available: 4." in [
        note["text"] for note in care_plan(asked)["note"]]
    assert not [note for note in care_plan()["note"] if note["text"].startswith("Asked for")]


def test_narrative_leaves_out_findings_of_low_severity():
    assert word_code("scalp-share-low-end") not in care_plan()["text"]["div"]


def test_narrative_escapes_what_it_is_given():
    hostile = Finding("session-over-soft-area", Severity.HIGH, (("percent_tbsa", "<script>1</script>&"),))
    div = care_plan(answer(findings=(hostile,)))["text"]["div"]
    assert "<script" not in div and re.search(r"&lt;script&gt;1&lt;/script&gt;&amp;", div)


def test_a_plan_without_tasks_has_no_activity():
    assert "activity" not in care_plan(answer(events=()))


def test_wound_names_are_in_words():
    assert TRUNK_ID not in care_plan()["text"]["div"]
