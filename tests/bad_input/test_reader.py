"""Each line of the catalogue ends in its status, its error id and its place, and repeats no value."""

from __future__ import annotations

import json
from time import perf_counter

import pytest

from service.domain.errors import InvalidCase
from service.fhir.faults import http_status_of
from service.fhir.operation_outcome import write_fault_outcome
from service.fhir.read_case import read_request
from tests.bad_input.catalogue import CATALOGUE, DEEP, BadInput
from tests.builders import CANONICAL


def outcome_of(body: bytes) -> tuple[int, dict]:
    with pytest.raises(InvalidCase) as refused:
        read_request(body)
    return http_status_of(refused.value.faults), write_fault_outcome(refused.value.faults, CANONICAL)


@pytest.mark.parametrize("line", CATALOGUE, ids=lambda line: line.name)
def test_a_line_of_the_catalogue(line: BadInput):
    status, outcome = outcome_of(line.body())
    found = {(i["details"]["coding"][0]["code"], i["code"], *i.get("expression", [""])) for i in outcome["issue"]}
    assert (line.error_id, line.issue_code, line.expression) in found
    assert status == line.status
    assert all(issue["diagnostics"] for issue in outcome["issue"])
    assert "(not stated)" not in json.dumps(outcome)
    assert not line.planted or line.planted not in json.dumps(outcome, ensure_ascii=False)


def test_a_deep_body_is_refused_at_once():
    started = perf_counter()
    outcome_of(DEEP)
    assert perf_counter() - started < 1
