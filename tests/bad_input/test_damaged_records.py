"""A damaged record ends in a result or in faults of the catalogue, never in anything else."""

from __future__ import annotations

import copy
from decimal import Decimal
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.errors import InvalidCase
from service.fhir.json_text import dump
from service.fhir.operation_outcome import write_fault_outcome
from service.fhir.read_case import examine_request
from service.fhir.read_text import write_read_text
from tests.builders import CANONICAL, loaded

SAMPLE = loaded(
    (Path(__file__).parents[2] / "shared" / "samples" / "adult-60-percent-after-session-1.json").read_bytes())
TEXTS = ["", "final", "2026-03-03", "%", "http://unitsofmeasure.org", "Patient/x", "#x", "urn:uuid:1", "thigh"]
SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(-10, 10**12), st.sampled_from(TEXTS), st.text(max_size=8),
    st.decimals(allow_nan=False, allow_infinity=False, places=2, min_value=-10**6, max_value=10**6))
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(
        st.sampled_from(["value", "coding", "code", "reference", "extension", "resourceType"]), inner, max_size=2),
    max_leaves=4)


def places_in(node: object, path: tuple = ()) -> list[tuple]:
    members = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [place for key, member in members for place in [(*path, key), *places_in(member, (*path, key))]]


PLACES = places_in(SAMPLE)


def damaged(place: tuple, value: object, is_removed: bool) -> object:
    record = copy.deepcopy(SAMPLE)
    holder = record
    for key in place[:-1]:
        holder = holder[key]
    if is_removed:
        del holder[place[-1]]
    else:
        holder[place[-1]] = value
    return record


def is_writable(value: object) -> bool:
    try:
        dump({"value": value})
    except (TypeError, ValueError):
        return False
    return True


@settings(max_examples=120)
@given(st.sampled_from(PLACES), VALUES.filter(is_writable), st.booleans())
def test_a_record_damaged_in_one_place(place, value, is_removed):
    body = dump(damaged(place, value, is_removed))
    try:
        result = examine_request(body)
    except InvalidCase as refused:
        assert write_fault_outcome(refused.faults, CANONICAL)["issue"]
    else:
        assert (result.record is None) == bool(result.faults or result.missing)
        assert write_read_text(result)


def test_the_undamaged_record_is_read():
    assert examine_request(dump(SAMPLE)).record is not None
    assert Decimal("0.25") in {harvest.thickness_mm for harvest in examine_request(dump(SAMPLE)).record.harvests}
