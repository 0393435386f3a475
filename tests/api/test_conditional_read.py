"""Conformance resources carry a tag, and are not sent again to who holds them."""

import pytest

from service.api.conformance import RESOURCE_TYPES


def addresses(client) -> list[str]:
    read = [
        f"/fhir/{entry['resource']['resourceType']}/{entry['resource']['id']}"
        for resource_type in RESOURCE_TYPES for entry in client.get(f"/fhir/{resource_type}").json()["entry"]
    ]
    return ["/fhir/metadata", *read]


def test_each_is_tagged_and_no_two_tags_are_the_same(client):
    read = addresses(client)
    tags = {client.get(address).headers["etag"] for address in read}
    assert len(tags) == len(read) > len(RESOURCE_TYPES)
    assert all(tag.startswith('W/"') and tag.endswith('"') for tag in tags)


@pytest.mark.parametrize("address", ["/fhir/metadata", "/fhir/PlanDefinition/staged-grafting"])
def test_who_holds_it_is_told_so_without_a_body(client, address):
    tag = client.get(address).headers["etag"]
    for held in (tag, tag.removeprefix("W/"), f'"other", {tag}', "*"):
        answer = client.get(address, headers={"If-None-Match": held})
        assert (answer.status_code, answer.content, answer.headers["etag"]) == (304, b"", tag)


def test_who_holds_another_gets_it(client):
    answer = client.get("/fhir/metadata", headers={"If-None-Match": 'W/"another"'})
    assert answer.status_code == 200
    assert answer.json()["resourceType"] == "CapabilityStatement"


def test_indented_or_not_it_is_the_same(client):
    plain, pretty = (client.get(f"/fhir/metadata{query}") for query in ("", "?_pretty=true"))
    assert plain.headers["etag"] == pretty.headers["etag"]


def test_a_plan_has_no_tag_and_is_kept_nowhere(client, first_plan_body):
    answer = client.post(
        "/fhir/$plan-grafts", content=first_plan_body, headers={"Content-Type": "application/fhir+json"})
    assert "etag" not in answer.headers
    assert answer.headers["cache-control"] == "no-store"
