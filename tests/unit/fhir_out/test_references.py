"""References to the caller's resources take the form that the caller's server can resolve."""

import pytest

from service.fhir.read_result import SourceRef
from service.fhir.write_plan import write_plan_bundle
from service.fhir.write_reference import refer_to_source
from tests.unit.fhir_out.answers import SERVER, SETTINGS, answer, read_result
from tests.unit.fhir_out.bundles import only, references, resources

URN = "urn:uuid:00000000-0000-4000-8000-000000000001"
IDENTIFIER = {"system": "urn:example:mrn", "value": "42"}


@pytest.mark.parametrize(("source", "relative", "expected"), [
    (SourceRef("Patient", f"{SERVER}/Patient/7", "7", None, "Patient"), False,
     {"reference": f"{SERVER}/Patient/7"}),
    (SourceRef("Patient", f"{SERVER}/Patient/7", "7", None, "Patient"), True,
     {"reference": "Patient/7"}),
    (SourceRef("Patient", URN, None, IDENTIFIER, "Patient"), False,
     {"type": "Patient", "identifier": IDENTIFIER, "display": "Patient"}),
    (SourceRef("Patient", URN, None, IDENTIFIER, "Patient"), True,
     {"type": "Patient", "identifier": IDENTIFIER, "display": "Patient"}),
    (SourceRef("Observation", URN, None, None, "Burn extent"), False,
     {"type": "Observation", "identifier": {"system": "urn:ietf:rfc:3986", "value": URN},
      "display": "Burn extent"}),
    (SourceRef("Observation", None, "7", None, "Burn extent"), False,
     {"type": "Observation", "display": "Burn extent"}),
])
def test_form_of_a_reference(source, relative, expected):
    assert refer_to_source(source, relative=relative) == expected


@pytest.mark.parametrize("restful", [True, False])
@pytest.mark.parametrize("form", ["collection", "transaction"])
def test_every_reference_resolves_in_the_bundle_or_is_the_callers(restful, form):
    bundle = write_plan_bundle(answer(answer=form), read_result(restful=restful), SETTINGS)
    inside = {entry["fullUrl"] for entry in bundle["entry"]}
    outside = {url for url in references(bundle) if url not in inside}
    if not restful:
        assert outside == set()
    else:
        prefix = "" if form == "transaction" else f"{SERVER}/"
        callers = {f"{prefix}{source.resource_type}/{source.id}" for source in read_result().sources.values()}
        assert outside and outside <= callers


@pytest.mark.parametrize("restful", [True, False])
def test_observations_are_derived_from_observations_only(restful):
    bundle = write_plan_bundle(answer(), read_result(restful=restful), SETTINGS)
    derived = [ref for o in resources(bundle, "Observation") for ref in o.get("derivedFrom", ())]
    types = {ref.get("type") or ref["reference"].split("/")[-2] for ref in derived}
    assert types == {"Observation"}


def test_procedures_are_named_as_sources_of_the_answer():
    provenance = only(write_plan_bundle(answer(), read_result(), SETTINGS), "Provenance")
    assert f"{SERVER}/Procedure/r6" in references(provenance)
