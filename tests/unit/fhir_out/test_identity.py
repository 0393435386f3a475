"""Identity: stable under re-planning, safe in a search, different for different things."""

from uuid import UUID

import pytest

from service.fhir.identity import identifier_system, identify

BASE = "https://burns.example/fhir"


def test_identifier_names_patient_subject_kind_and_ordinal():
    identity = identify(BASE, "p1", "left-thigh-front:full-thickness:graft:2", "inspect-graft", 3)
    assert identity.identifier == {
        "system": identifier_system(BASE),
        "value": "p1/left-thigh-front:full-thickness:graft:2/inspect-graft/3",
    }


def test_full_url_is_a_version_5_uuid_of_the_identifier():
    first = identify(BASE, "p1", "scalp", "harvest-skin")
    again = identify(BASE, "p1", "scalp", "harvest-skin")
    assert first.full_url == again.full_url
    assert UUID(first.full_url.removeprefix("urn:uuid:")).version == 5


@pytest.mark.parametrize("other", [
    ("p2", "scalp", "harvest-skin", 1),
    ("p1", "face", "harvest-skin", 1),
    ("p1", "scalp", "prepare-donor-site", 1),
    ("p1", "scalp", "harvest-skin", 2),
])
def test_each_part_makes_another_identity(other):
    assert identify(BASE, *other).full_url != identify(BASE, "p1", "scalp", "harvest-skin", 1).full_url


def test_another_deployment_makes_another_identity():
    here, there = (identify(base, "p1", "scalp", "harvest-skin") for base in (BASE, "https://b.example/fhir"))
    assert here.full_url != there.full_url


def test_signs_with_a_meaning_in_a_search_are_escaped():
    identity = identify(BASE, "a|b,c$d&e f", "scalp", "harvest-skin")
    assert identity.if_none_exist.startswith(f"identifier={identifier_system(BASE)}|")
    assert not set("|,$& \\") & set(identity.identifier["value"])
    assert not set("|,$& \\") & set(identity.if_none_exist.split("|")[1])
