"""What the service emits, judged by three independent validators and the invariants they lack."""

from copy import deepcopy

import pytest

from service.domain.errors import Fault
from service.fhir.export_conformance import conformance_resources
from service.fhir.json_text import dump
from service.fhir.operation_outcome import write_fault_outcome
from service.fhir.read_result import Missing
from service.fhir.write_capability import write_versions
from service.fhir.write_data_required import write_data_required_bundle
from service.fhir.write_plan import write_plan_bundle
from service.fhir.write_read_report import write_read_report
from tests.contract.validators import accepted, is_accepted, judge, require_validators
from tests.unit.fhir_out.answers import BASE, SETTINGS, answer, no_plan, read_result

FAULT = Fault("unit-unknown", "Bundle.entry[3].resource.value", (("allowed", "kg, g"),))


def emitted() -> dict[str, dict]:
    """One resource of every kind of answer, by name."""
    missing = read_result(record=None, missing=(Missing("weight"), Missing("birth-date")))
    bundles = {
        f"{form}-{'restful' if restful else 'urn'}": write_plan_bundle(
            answer(answer=form), read_result(restful=restful), SETTINGS)
        for form in ("collection", "transaction")
        for restful in (True, False)
    }
    return {
        **bundles,
        "no-plan": write_plan_bundle(no_plan("not-enough-skin"), read_result(), SETTINGS),
        "comfort-care": write_plan_bundle(no_plan("comfort-care"), read_result(), SETTINGS),
        "data-required": write_data_required_bundle(missing, SETTINGS),
        "read-report": write_read_report(read_result(faults=(FAULT,), missing=(Missing("weight"),)), SETTINGS),
        "faults": write_fault_outcome((FAULT,), BASE),
        "versions": write_versions(),
        **{f"{r['resourceType']}-{r['id']}": r for r in conformance_resources(BASE)},
    }


def save(folder, resources: dict[str, dict]) -> None:
    for name, resource in resources.items():
        (folder / f"{name}.json").write_bytes(dump(resource))


@pytest.fixture(scope="module")
def messages(tmp_path_factory):
    require_validators()
    folder = tmp_path_factory.mktemp("emitted")
    save(folder, emitted())
    return judge(folder)


def test_everything_emitted_is_sound(messages):
    assert [message for message in messages if not is_accepted(message)] == []


def test_every_accepted_message_still_occurs(messages):
    """A reason that is no longer needed must go."""
    unused = [
        rule for rule in accepted()
        if not any(m["tool"] == rule["tool"] and rule["message"] in m["message"] for m in messages)
    ]
    assert unused == []


def _first(bundle: dict, resource_type: str) -> dict:
    return next(e["resource"] for e in bundle["entry"] if e["resource"]["resourceType"] == resource_type)


def _without_status(bundle):
    del _first(bundle, "CarePlan")["status"]


def _unknown_status(bundle):
    _first(bundle, "Task")["status"] = "planned"


def _two_values(bundle):
    _first(bundle, "Observation")["valueString"] = "1.8"


def _impossible_date(bundle):
    _first(bundle, "Task")["restriction"]["period"]["end"] = "2026-02-31"


def _reversed_period(bundle):
    _first(bundle, "Task")["restriction"]["period"]["end"] = "2026-01-01"


def _unknown_element(bundle):
    _first(bundle, "Task")["requestedPeriod"] = {"start": "2026-03-03"}


def _bad_unit(bundle):
    _first(bundle, "Observation")["valueQuantity"]["code"] = "cm^2"


def _unit_without_code(bundle):
    del _first(bundle, "Observation")["valueQuantity"]["code"]


def _script(bundle):
    narrative = _first(bundle, "CarePlan")["text"]
    narrative["div"] = narrative["div"].replace("<p>", "<script>1</script><p>", 1)


def _detail_beside_reference(bundle):
    _first(bundle, "CarePlan")["activity"][0]["detail"] = {"status": "not-started"}


def _same_full_url(bundle):
    bundle["entry"][1]["fullUrl"] = bundle["entry"][0]["fullUrl"]


def _request_in_collection(bundle):
    bundle["entry"][0]["request"] = {"method": "POST", "url": "CarePlan"}


def _null(bundle):
    _first(bundle, "Task")["note"] = None


def _invented_probability(bundle):
    _first(bundle, "RiskAssessment")["prediction"][0]["probabilityDecimal"] = 50


def _order_detail_without_code(bundle):
    del _first(bundle, "ServiceRequest")["code"]


BREAKS = (
    _without_status, _unknown_status, _two_values, _impossible_date, _reversed_period, _unknown_element,
    _bad_unit, _unit_without_code, _script, _detail_beside_reference, _same_full_url, _request_in_collection,
    _null, _invented_probability, _order_detail_without_code,
)


@pytest.fixture(scope="module")
def caught(tmp_path_factory):
    """Names of the files in which the validators found something."""
    require_validators()
    folder = tmp_path_factory.mktemp("broken")
    sound = write_plan_bundle(answer(), read_result(), SETTINGS)
    for breaks in BREAKS:
        broken = deepcopy(sound)
        breaks(broken)
        save(folder, {breaks.__name__: broken})
    return {message["file"] for message in judge(folder) if not is_accepted(message)}


@pytest.mark.parametrize("breaks", BREAKS, ids=lambda breaks: breaks.__name__.strip("_"))
def test_a_broken_resource_is_caught(breaks, caught):
    assert f"{breaks.__name__}.json" in caught
