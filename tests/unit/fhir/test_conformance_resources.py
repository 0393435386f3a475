"""Conformance resources are valid and say what the parser does."""

import pytest
from fhir.resources.R4B import get_fhir_model_class

from service.fhir.conformance_resources import write_terminology_and_profiles
from service.fhir.tables import input_profiles
from tests.builders import CANONICAL, LOCAL

RESOURCES = write_terminology_and_profiles(CANONICAL, "1.0.0")
BY_URL = {resource["url"]: resource for resource in RESOURCES}


@pytest.mark.parametrize("resource", RESOURCES, ids=lambda r: f"{r['resourceType']}/{r['id']}")
def test_a_conformance_resource_is_valid(resource):
    get_fhir_model_class(resource["resourceType"]).model_validate(resource)


def test_each_has_an_address_of_its_own():
    assert len(BY_URL) == len(RESOURCES)


def test_codes_of_the_code_system_are_unique_and_counted():
    concepts = BY_URL[LOCAL]["concept"]
    assert len({concept["code"] for concept in concepts}) == len(concepts) == BY_URL[LOCAL]["count"]


def test_value_sets_hold_codes_of_the_code_system_only():
    known = {concept["code"] for concept in BY_URL[LOCAL]["concept"]}
    for resource in RESOURCES:
        if resource["resourceType"] == "ValueSet":
            include, = resource["compose"]["include"]
            assert include["system"] == LOCAL
            assert {concept["code"] for concept in include["concept"]} <= known


def test_every_input_has_its_profile_and_every_binding_its_value_set():
    for code in input_profiles():
        profile = BY_URL[f"{CANONICAL}/StructureDefinition/{code}"]
        for element in profile["differential"]["element"]:
            assert "binding" not in element or element["binding"]["valueSet"] in BY_URL


def test_the_extent_asks_for_depth_and_surface():
    elements = BY_URL[f"{CANONICAL}/StructureDefinition/burn-extent"]["differential"]["element"]
    slices = {element["sliceName"] for element in elements if "sliceName" in element}
    assert slices == {"burn-depth", "surface", "over-joint", "watch-until"}
