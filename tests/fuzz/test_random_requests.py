"""Whatever is sent ends in an answer or in faults of the catalogue, in time; never in a fault of ours."""

from __future__ import annotations

from time import perf_counter

from hypothesis import given

from service.api.errors import describe_error
from service.domain.errors import InvalidCase
from service.fhir.json_text import dump
from service.settings import Settings
from service.wiring import answer_plan_request, answer_read_request, build_parts
from tests.fuzz.case_count import share
from tests.fuzz.from_samples import changed_bytes, changed_samples
from tests.fuzz.from_tables import requests

PARTS = build_parts(Settings())
MOST_SECONDS = 20  # on a machine that does other things
#: Of the requests made from the tables so many are planned at least: else they say little.
FEWEST_PLANNED = 0.08


def answered(body: bytes) -> int:
    """The status that a body ends in; it is read, planned when it can be, and its answer written whole."""
    started = perf_counter()
    try:
        reading = answer_read_request(PARTS, body)
        assert reading.text and dump(reading.resource)
        if reading.read.faults:
            raise InvalidCase(reading.read.faults)
        reply = answer_plan_request(PARTS, body)
        assert reply.text and dump(reply.resource)
        status = 200
    except InvalidCase as refused:
        status, outcome, _ = describe_error(refused, PARTS.settings.canonical_base)
        assert outcome["issue"] and all(issue["diagnostics"] for issue in outcome["issue"])
        assert status in (400, 413, 422)
    assert perf_counter() - started < MOST_SECONDS
    return status


def test_requests_made_from_the_tables():
    statuses: list[int] = []

    @share(40)
    @given(requests())
    def ask(body: bytes) -> None:
        statuses.append(answered(body))

    ask()
    assert statuses.count(200) / len(statuses) > FEWEST_PLANNED


@share(25)
@given(changed_samples())
def test_samples_changed_in_their_structure(body):
    answered(body)


@share(35)
@given(changed_bytes())
def test_samples_changed_in_their_bytes(body):
    answered(body)
