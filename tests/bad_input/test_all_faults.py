"""All faults are told at once: each once, in the order of their places, and no more than help."""

from __future__ import annotations

import re

import pytest

from service.domain.body_region import all_places
from service.fhir.faults import MOST_FAULTS, sorted_faults
from service.fhir.read_case import examine_request
from service.fhir.read_text import write_read_text
from tests import builders as make
from tests.bad_input.syntax_lines import surface_of

PLAN = "/fhir/$plan-grafts"
FHIR = {"Content-Type": "application/fhir+json"}


def wrong_everywhere(count: int) -> bytes:
    """Wounds of which each one has a unit that nobody knows."""
    places = [f"{p.side or ''} {p.region} {surface_of(p)}" for p in all_places()]
    wounds = [make.burn_wound(places[n % len(places)]) | {"valueQuantity": make.quantity(n + 1, "furlong")}
              for n in range(count)]
    return make.body_of(make.record(*wounds))


def entry_numbers(outcome: dict) -> list[int]:
    return [int(re.search(r"entry\[(\d+)\]", issue["expression"][0])[1]) for issue in outcome["issue"]]


@pytest.mark.parametrize("count", [1, 12, MOST_FAULTS, MOST_FAULTS + 30])
def test_faults_are_sorted_by_place_and_capped(client, count):
    answer = client.post(PLAN, content=wrong_everywhere(count), headers=FHIR)
    assert answer.status_code == 422
    assert entry_numbers(answer.json()) == list(range(5, 5 + min(count, MOST_FAULTS)))


def test_faults_of_every_kind_are_told_together(client):
    body = make.body_of(make.record(
        make.burn_wound(seen="2027-01-01"), make.burn_wound("thigh front"), make.burn_wound(depth="boiled"),
        make.burn_wound("left thigh back", seen="2026-02-30")))
    answer = client.post(PLAN, content=body, headers=FHIR)
    assert answer.status_code == 400  # unreadable goes before contradictory
    told = [issue["details"]["coding"][0]["code"] for issue in answer.json()["issue"]]
    assert told == ["date-in-future", "side-missing", "code-unknown", "date-invalid"]


def test_the_same_faults_are_read_as_words():
    result = examine_request(wrong_everywhere(3))
    words = " ".join(write_read_text(result).split())
    assert len(result.faults) == 3
    for fault in result.faults:
        assert f"{fault.expression}: The unit is not one of those read here. Use one of: %. [unit-unknown]" in words


def test_a_fault_told_twice_is_told_once():
    result = examine_request(wrong_everywhere(1))
    assert sorted_faults([*result.faults, *result.faults]) == result.faults
