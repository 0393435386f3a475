"""Task: one dated event with its window, its numbers and what must be settled before."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest

from service.domain.dressing import ActPart, EventKind, Quantity
from service.domain.graft import GraftMethod, Thickness
from service.evidence.library import load_evidence
from service.fhir.write_frame import codings_of_concept
from service.fhir.write_plan import write_plan_bundle
from service.wording.findings import word_code
from tests.unit.fhir_out.answers import (
    AS_OF,
    DONOR,
    EVENTS,
    GRAFT,
    SCALP,
    SETTINGS,
    THIGH,
    D,
    answer,
    plan,
    read_result,
)
from tests.unit.fhir_out.bundles import coded, resources

CM2 = {"unit": "cm²", "system": "http://unitsofmeasure.org", "code": "cm2"}


def bundle(**request_changes):
    return write_plan_bundle(answer(**request_changes), read_result(), SETTINGS)


def harvest(made=None):
    (task,) = coded(made or bundle(), "Task", "harvest-skin")
    return task


def test_identifier_is_subject_kind_and_ordinal():
    values = [t["identifier"][0]["value"] for t in coded(bundle(), "Task", "change-outer-dressing")]
    assert values[0].endswith(f"/{GRAFT}/change-outer-dressing/1")


def test_code_has_words_and_description_says_what_to_do():
    task = harvest()
    assert task["code"]["text"] == "Harvest 851 cm² of skin: right thigh, front"
    assert task["description"].startswith("Harvest 851 cm² of thin skin")


def test_numbers_leave_with_value_interval_and_unit():
    inputs = [(i["type"]["text"], i) for i in harvest()["input"]]
    area = [i for text, i in inputs if text == "harvest area"]
    assert area[0]["valueQuantity"] == {"value": D("850.3"), **CM2}
    assert area[1]["valueRange"] == {"low": {"value": D("700.0"), **CM2}, "high": {"value": D("990.10"), **CM2}}


def test_a_count_without_spread_has_no_range():
    plates = [i for i in harvest()["input"] if i["type"]["text"] == "plates"]
    assert [sorted(i.keys() - {"type"}) for i in plates] == [["valueQuantity"]]


def inputs_of(task, code):
    return [i for i in task["input"] if code in [c["code"] for c in i["type"].get("coding", ())]]


def test_what_is_done_at_each_place_is_coded_and_not_counted_into_the_totals():
    """Two harvests in one Task: the total under one code, the parts under another."""
    areas = (Quantity("harvest-area", D("500.3"), D("400.0"), D("600.0"), "cm2", ()),
             Quantity("harvest-area", D("350.0"), D("300.0"), D("390.0"), "cm2", ()))
    parts = (ActPart(DONOR, (areas[0],), None, Thickness.THIN, 2), ActPart(SCALP, (areas[1],), None, Thickness.THIN, 1))
    event = replace(EVENTS[0], parts=parts)
    task = harvest(write_plan_bundle(answer(events=(event,)), read_result(), SETTINGS))
    total, part = inputs_of(task, "harvest-area"), inputs_of(task, "harvest-area-at-place")
    assert [i["valueQuantity"]["value"] for i in total if "valueQuantity" in i] == [D("850.3")]
    assert [i["valueQuantity"]["value"] for i in part if "valueQuantity" in i] == [D("500.3"), D("350.0")]
    assert part[0]["type"]["text"] == "harvest area: right thigh, front"
    places = [[c["code"] for c in i["valueCodeableConcept"]["coding"]] for i in inputs_of(task, "at-place")]
    assert places == [["thigh", "right", "front"], ["scalp", "back"]]
    assert [i["valueCodeableConcept"]["coding"][0]["code"] for i in inputs_of(task, "skin-thickness")] == ["thin"] * 2
    assert [i["valueInteger"] for i in inputs_of(task, "harvest-number")] == [2, 1]
    order = [i["type"]["coding"][0]["code"] for i in task["input"] if ": " in i["type"]["text"]]
    assert order == ["at-place", "skin-thickness", "harvest-number", *["harvest-area-at-place"] * 2] * 2


def test_a_graft_names_its_method_by_code():
    part = ActPart(THIGH, (Quantity("graft-area", D("9.0"), None, None, "cm2", ()),), GraftMethod.ISLAND_1_4,
                   Thickness.THIN)
    made = write_plan_bundle(answer(events=(replace(EVENTS[1], parts=(part,)),)), read_result(), SETTINGS)
    (task,) = coded(made, "Task", "place-graft")
    (method,) = inputs_of(task, "graft-method")
    assert method["valueCodeableConcept"]["coding"][0]["code"] == "island-1-4"
    assert method["type"]["text"] == "graft method: left thigh, front"


@pytest.mark.parametrize("concept", [
    *(f"thickness/{thickness}" for thickness in Thickness),
    *(f"graft-method-with-ratio/{method}" for method in GraftMethod),
    *(f"quantity/{name}-at-place" for name in (
        "harvest-area", "skin-placed", "graft-area", "excised-area", "cover-area", "plates", "carriers")),
])
def test_what_stands_at_a_place_has_a_code(concept):
    assert codings_of_concept(SETTINGS.canonical_base, concept)


def test_evidence_is_named_once_each():
    evidence = [i["valueString"] for i in harvest()["input"] if "valueString" in i]
    assert [text.split(":")[0] for text in evidence] == [
        "achieved-expansion-ratio/meshed-1-2", "handling-loss/any", "plate-side-mm/any"]


def test_a_ward_task_names_the_evidence_of_its_window():
    event = replace(EVENTS[2], sources=("first-look-days/meshed", "dressing-interval-days/meshed"))
    (task,) = coded(write_plan_bundle(answer(events=(event,)), read_result(), SETTINGS), "Task",
                    "change-outer-dressing")
    assert [i["valueString"].split(":")[0] for i in inputs_of(task, "evidence")] == [
        "first-look-days/meshed", "dressing-interval-days/meshed"]


def test_evidence_from_memory_says_so():
    handling_loss = load_evidence().row("handling-loss")
    assert handling_loss.read_as == "M"
    assert f"handling-loss/any: {handling_loss.source} (M)" in [i.get("valueString") for i in harvest()["input"]]


def test_preconditions_are_coded_and_worded():
    (concept,) = [i["valueCodeableConcept"] for i in harvest()["input"] if "valueCodeableConcept" in i]
    assert concept["coding"][0]["code"] == "fitness-not-recorded"
    assert concept["text"] == word_code("fitness-not-recorded")


def test_window_is_in_days_and_the_due_day_lies_in_it():
    (first, *_) = coded(bundle(), "Task", "change-outer-dressing")
    assert first["restriction"] == {"period": {"start": "2026-03-04", "end": "2026-03-06"}}


@pytest.mark.parametrize("offset_hours", [-12, -5, 0, 9, 14])
def test_window_does_not_shift_with_the_offset_of_the_request(offset_hours):
    as_of = AS_OF.astimezone(timezone(timedelta(hours=offset_hours)))
    task = harvest(bundle(as_of=as_of))
    assert task["restriction"]["period"] == {"start": "2026-03-03", "end": "2026-03-03"}
    assert datetime.fromisoformat(task["authoredOn"]) == AS_OF


@pytest.mark.parametrize(("task_days", "count"), [(14, 3), (13, 2), (90, 5), (1, 0)])
def test_tasks_reach_as_far_as_the_caller_asked(task_days, count):
    made = bundle(task_days=task_days)
    assert len(coded(made, "Task", "change-outer-dressing")) == count
    (series,) = coded(made, "ServiceRequest", "change-outer-dressing")
    assert len(series["occurrenceTiming"]["event"]) == 5


def test_focus_is_the_session_in_theatre_and_the_series_on_the_ward():
    made = bundle()
    requests = {e["fullUrl"]: e["resource"] for e in made["entry"] if e["resource"]["resourceType"] == "ServiceRequest"}
    for task in resources(made, "Task"):
        focus = requests[task["focus"]["reference"]]
        code = task["code"]["coding"][0]["code"]
        in_theatre = code in ("harvest-skin", "place-graft")
        assert focus["code"]["coding"][0]["code"] == ("theatre-session" if in_theatre else code)


def test_priority_patient_author_and_performer():
    (task,) = coded(bundle(), "Task", "place-graft")
    assert task["priority"] == "urgent"
    assert task["for"]["reference"].endswith("/Patient/r0")
    assert task["requester"]["type"] == "Device"
    assert task["performerType"][0]["text"] == "Burn theatre team"


def notes_of(task: dict) -> list[str]:
    return [note["text"] for note in task.get("note", ())]


def test_an_act_in_theatre_says_why_its_session_is_as_it_is():
    excision = replace(EVENTS[1], kind=EventKind.EXCISE_WOUND)
    made = write_plan_bundle(answer(events=(*EVENTS, excision)), read_result(), SETTINGS)
    told = {code: notes_of(coded(made, "Task", code)[0]) for code in ("excise-wound", "harvest-skin", "place-graft")}
    held_back = "Held back by the area that one session may excise or graft."
    assert told["excise-wound"] == [held_back]
    assert told["harvest-skin"] == [
        held_back, "The next 100 cm² of donor skin in this session would save, less the more of it there is: "
        "right thigh, front 6.2 %TBSA-days; scalp 4.5 %TBSA-days."]
    assert told["place-graft"] == [
        held_back, "Meshed 1:1.5 instead of meshed 1:2 would make closure and scar 19.9 %TBSA-days better for each "
        "100 cm² more skin: front of trunk 102 cm², 21.4 %TBSA-days; left thigh, over joint 12 cm², 1.1 %TBSA-days."]


def test_a_session_that_nothing_explains_and_the_ward_have_no_note():
    in_second = tuple(replace(event, session=2) for event in EVENTS[:2])
    in_contingent = tuple(replace(event, session=3) for event in EVENTS[:2])
    unexplained = plan(method_changes=(), skin_prices=())
    for events in (in_second, in_contingent, EVENTS[2:]):
        made = write_plan_bundle(answer(unexplained, events=events), read_result(), SETTINGS)
        assert resources(made, "Task") and not [task for task in resources(made, "Task") if "note" in task]


def test_every_kind_of_event_has_a_code():
    assert [k for k in EventKind if not codings_of_concept(SETTINGS.canonical_base, f"task/{k}")] == []
