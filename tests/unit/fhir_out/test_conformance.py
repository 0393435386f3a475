"""What the service says about itself agrees with itself and with the tables behind it."""

import csv
from pathlib import Path

import pytest

from service.domain.dressing import EventKind
from service.domain.plan import PlanOutcome
from service.fhir.canonical import code_system_url
from service.fhir.export_conformance import conformance_resources, export_conformance
from service.fhir.json_text import read_json
from service.fhir.write_capability import write_capability_statement, write_versions
from service.fhir.write_frame import codings_of_concept
from service.fhir.write_operation_definition import OPERATIONS, PARAMETERS, canonical_of
from service.fhir.write_plan import write_plan_bundle
from service.wording.catalogue import load_table
from tests.unit.fhir_out.answers import BASE, FINDINGS, SETTINGS, answer, read_result
from tests.unit.fhir_out.bundles import walk

EXPORTED = Path(__file__).resolve().parents[3] / "openapi" / "fhir"


@pytest.fixture(scope="module")
def resources():
    return conformance_resources(BASE)


def of_type(resources, resource_type):
    return [r for r in resources if r["resourceType"] == resource_type]


def plan_grafts(resources):
    return next(r for r in resources if r["id"] == "plan-grafts")


def test_urls_and_files_are_unique(resources):
    assert len({r["url"] for r in resources}) == len(resources)
    assert len({(r["resourceType"], r["id"]) for r in resources}) == len(resources)


def test_capabilities_name_every_operation_by_its_definition(resources):
    (statement,) = of_type(resources, "CapabilityStatement")
    defined = {r["url"] for r in of_type(resources, "OperationDefinition")}
    named = {operation["definition"] for operation in statement["rest"][0]["operation"]}
    assert named == defined == {canonical_of(BASE, operation) for operation in OPERATIONS}


def test_capabilities_name_the_types_that_can_be_read():
    statement = write_capability_statement(BASE, "1", read_types=("CodeSystem",), security="Not checked.")
    (rest,) = statement["rest"]
    assert [r["type"] for r in rest["resource"]] == ["CodeSystem"]
    assert rest["security"]["description"] == "Not checked."
    assert "resource" not in write_capability_statement(BASE, "1")["rest"][0]


def test_versions():
    assert [(p["name"], p["valueCode"]) for p in write_versions()["parameter"]] == [
        ("version", "4.0"), ("default", "4.0")]


def paths_of(stated: list[dict], parent: str = ""):
    for one in stated:
        yield parent + one["name"]
        yield from paths_of(one.get("part", []), f"{parent}{one['name']}.")


def test_parameters_of_the_operation_are_those_of_the_table(resources):
    with PARAMETERS.open() as handle:
        rows = list(csv.DictReader(handle))
    stated = [p for p in plan_grafts(resources)["parameter"] if p["use"] == "in"]
    assert [p["name"] for p in stated] == list(dict.fromkeys(row["name"] for row in rows))
    assert list(paths_of(stated)) == [".".join(filter(None, (row["name"], row["part"]))) for row in rows]


def test_one_resource_parameter_only_so_that_a_bare_bundle_is_a_legal_body(resources):
    stated = plan_grafts(resources)["parameter"]
    assert [p["name"] for p in stated if p["use"] == "in" and p.get("type") == "Bundle"] == ["bundle"]
    assert [(p["name"], p["type"]) for p in stated if p["use"] == "out"] == [("return", "Bundle")]


def test_every_value_set_that_is_named_exists(resources):
    value_sets = {r["url"] for r in of_type(resources, "ValueSet")}
    named = {value for r in resources for name, value in walk(r) if name == "valueSet" and isinstance(value, str)}
    assert named - value_sets == set()


def test_every_local_code_that_goes_out_is_in_the_code_system(resources):
    (system,) = [r for r in of_type(resources, "CodeSystem") if r["url"] == code_system_url(BASE)]
    known = {concept["code"]: concept["display"] for concept in system["concept"]}
    bundle = write_plan_bundle(answer(), read_result(), SETTINGS)
    codings = [c for name, value in walk(bundle) if name == "coding" for c in value]
    local = [c for c in codings if c["system"] == system["url"]]
    assert local and all(known[c["code"]] == c["display"] for c in local)


@pytest.mark.parametrize("concept", [
    *(f"task/{kind}" for kind in EventKind),
    *(f"plan-outcome/{outcome}" for outcome in PlanOutcome),
    *(f"finding/{code}" for code in sorted({*load_table("findings"), *(f.code for f in FINDINGS)})),
])
def test_every_code_of_a_closed_list_is_in_the_code_map(concept):
    assert codings_of_concept(BASE, concept)


def test_export_writes_one_file_a_resource(tmp_path, resources):
    export_conformance(tmp_path, BASE)
    written = {path.name: read_json(path.read_bytes()) for path in tmp_path.iterdir()}
    assert written == {f"{r['resourceType']}-{r['id']}.json": r for r in resources}


def test_the_exported_files_are_up_to_date(tmp_path):
    """Renew with ``python -m service.fhir.export_conformance openapi/fhir``."""
    export_conformance(tmp_path)
    fresh = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert {path.name: path.read_bytes() for path in EXPORTED.iterdir()} == fresh
