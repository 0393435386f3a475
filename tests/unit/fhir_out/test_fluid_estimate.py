"""The fluid cross-check in the answer: one labelled Observation, and nowhere else."""

from decimal import Decimal

import pytest

from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests.builders import body_of, bundle, burn, burn_wound, local, measured, parameters, patient, stated
from tests.unit.fhir_out.bundles import coded, only, references, resources, walk

PARTS = build_parts(Settings())
ONSET = "2026-03-04T06:00:00+01:00"  # two hours before the moment of the answer
LABEL = "not an order: titrate to urine output"


def reply(onset=ONSET, *wounds, **parameter):
    seen = "2026-03-04"
    entries = [
        patient(), burn(onset), measured("weight", 70, seen=seen), measured("height", 175, seen=seen),
        measured("haemoglobin", 13, seen=seen)]
    shown = wounds or (
        burn_wound("anterior-trunk", 13, seen=seen), burn_wound("posterior-trunk", 12, seen=seen),
        burn_wound("left thigh front", 4, "superficial", seen=seen))
    return answer_plan_request(PARTS, body_of(parameters(bundle(*entries, *shown), **parameter)))


def estimates(made):
    return coded(made.resource, "Observation", "computed-fluid-estimate")


def components(observation):
    return {part["code"]["coding"][0]["code"]: part.get("valueQuantity") or part["valueRange"]
            for part in observation["component"]}


def test_there_is_one_observation_with_its_label():
    (found,) = estimates(reply())
    assert found["status"] == "preliminary"
    assert LABEL in found["code"]["text"] and LABEL in found["note"][0]["text"]
    assert "valueQuantity" not in found


def test_its_numbers_are_a_band_with_units():
    (found,) = estimates(reply())
    parts = components(found)
    assert [parts[f"fluid-volume-{f}"]["value"] for f in ("low", "middle", "high", "observed-mean")] == [
        3500, 5250, 7000, 9100]
    keeping, catching = parts["fluid-rate-keeping-pace"], parts["fluid-rate-catching-up"]
    assert (keeping["low"]["value"], keeping["high"]["value"]) == (Decimal("218.8"), Decimal("437.5"))
    assert (catching["low"]["value"], catching["high"]["value"]) == (Decimal("291.7"), Decimal("583.3"))
    assert keeping["low"]["code"] == "mL/h" and parts["fluid-volume-low"]["code"] == "mL"
    assert "fluid-maintenance" not in parts


def test_every_row_that_it_rests_on_is_cited():
    (found,) = estimates(reply())
    cited = " ".join(note["text"] for note in found["note"])
    for row_id in ("fluid-per-kg-percent/low", "fluid-hours/whole", "urine-target-per-kg-hour/adult"):
        assert f"Source: {row_id}: " in cited


def test_it_is_computed_from_weight_and_extents():
    (found,) = estimates(reply())
    assert len(found["derivedFrom"]) == 4


@pytest.mark.parametrize("onset", ["2026-03-04", "2026-03-03", "2026-03-03T07:59:00+01:00"])
def test_there_is_none_without_the_hour_or_after_a_day(onset):
    made = reply(onset)
    assert estimates(made) == []
    assert "Fluids in the first day" not in made.text
    assert "fluid-cross-check" not in {finding.code for finding in made.answer.findings}


def test_no_task_request_or_forecast_speaks_of_it():
    made = reply().resource
    kinds = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment")
    for resource in (one for kind in kinds for one in resources(made, kind)):
        assert not any("fluid" in str(value).lower() or "mL/h" in str(value) for _, value in walk(resource))
    (found,) = estimates(reply())
    address = next(e["fullUrl"] for e in made["entry"] if e["resource"].get("identifier") == found["identifier"])
    pointing = [r for r in made["entry"] if address in references(r["resource"])]
    assert [r["resource"]["resourceType"] for r in pointing] == ["Provenance"]


def test_what_may_be_posted_leaves_it_out():
    made = reply(answer=("Code", "transaction"))
    assert made.resource["type"] == "transaction"
    assert estimates(made) == []


def test_a_finding_and_a_block_of_the_text_say_what_it_is():
    made = reply()
    (issue,) = coded(made.resource, "DetectedIssue", "fluid-cross-check")
    assert issue["severity"] == "low" and "not an order" in issue["detail"]
    assert LABEL in made.text
    assert all(len(line) <= 80 for line in made.text.splitlines())


def test_comfort_care_gets_none():
    intent = stated("treatment-intent", seen="2026-03-04", valueCodeableConcept=local("comfort"))
    made = reply(ONSET, burn_wound("anterior-trunk", 13, seen="2026-03-04"), intent)
    assert made.answer.fluid_estimate is None and estimates(made) == []
    assert only(made.resource, "GuidanceResponse")["reasonCode"][1]["coding"][0]["code"] == "comfort-care"
