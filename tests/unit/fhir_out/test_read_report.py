"""The dry run's report: complete, in the shape its operation states, without patient values."""

from service.domain.errors import Fault
from service.fhir.export_conformance import conformance_resources
from service.fhir.read_result import Missing
from service.fhir.write_read_report import write_read_report
from tests.unit.fhir_out.answers import SERVER, SETTINGS, read_result

FAULT = Fault("unit-unknown", "Bundle.entry[3].resource.value", (("allowed", "kg, g"),))
NOTE = Fault("superseded", "Bundle.entry[4].resource")


def report(**changes):
    return write_read_report(read_result(**changes), SETTINGS)["parameter"]


def items(parameters, name):
    return [
        {part["name"]: next(v for k, v in part.items() if k.startswith("value")) for part in p["part"]}
        for p in parameters if p["name"] == name
    ]


def test_a_record_that_suffices_can_be_planned():
    assert report()[0] == {"name": "can-plan", "valueBoolean": True}


def test_faults_and_gaps_prevent_a_plan():
    for changes in ({"faults": (FAULT,)}, {"missing": (Missing("weight"),)}):
        assert report(**changes)[0]["valueBoolean"] is False


def test_what_was_understood_refers_to_the_resource():
    first = items(report(), "understood")[0]
    assert first == {"record": {"reference": f"{SERVER}/Condition/r1"}, "profile": "burn"}


def test_what_was_set_aside_is_named_with_the_reason():
    (aside,) = items(report(), "set-aside")
    assert (aside["expression"], aside["type"], aside["reason"]) == (
        "Bundle.entry[9].resource", "Encounter", "resource-not-used")


def test_what_is_missing_or_wrong_or_noted():
    made = report(faults=(FAULT,), notes=(NOTE,), missing=(Missing("weight"), Missing("area", "Bundle.entry[2]")))
    assert [m.get("expression") for m in items(made, "missing")] == [None, "Bundle.entry[2]"]
    (wrong,) = items(made, "wrong")
    assert wrong["error"] == "unit-unknown" and wrong["text"] and "kg, g" in wrong["repair"]
    assert [note["error"] for note in items(made, "note")] == ["superseded"]


def test_the_operation_states_every_part_of_the_report():
    definition = next(r for r in conformance_resources("https://b.example") if r["id"] == "read-burn-record")
    outputs = [p for p in definition["parameter"] if p["use"] == "out"]
    stated = {p["name"]: {part["name"] for part in p.get("part", ())} for p in outputs}
    made = report(faults=(FAULT,), notes=(NOTE,), missing=(Missing("area", "Bundle.entry[2]"),))
    given = {p["name"]: {part["name"] for part in p.get("part", ())} for p in made}
    assert given == stated
