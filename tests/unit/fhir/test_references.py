"""References are resolved inside the Bundle, never guessed, never fetched."""

import pytest

from service.fhir.read_log import ReadLog
from service.fhir.references import Entry, ReferenceIndex

SERVER = "https://record.example/fhir"
URN = "urn:uuid:0d3a9c1e-5b7a-4a53-9d51-0a4f4a1b7c11"


def entry(index: int, full_url: str | None, **resource) -> Entry:
    return Entry(f"entry[{index}]", f"Bundle.entry[{index}].resource", full_url, {
        "resourceType": "Procedure", **resource})


SERVED = entry(0, f"{SERVER}/Procedure/a", id="a")
NAMED = entry(1, URN, id="b", identifier=[{"system": "https://record.example/ops", "value": "7"}])
BARE = entry(2, None, id="c")
TWIN = entry(3, "urn:uuid:1", id="d")
OTHER_TWIN = entry(4, "urn:uuid:2", id="d")
HOLDER = entry(5, f"{SERVER}/Observation/x")
LOOSE_HOLDER = entry(6, "urn:uuid:3")
INDEX = ReferenceIndex((SERVED, NAMED, BARE, TWIN, OTHER_TWIN, HOLDER, LOOSE_HOLDER))


@pytest.mark.parametrize(("holder", "reference", "target", "is_fallback"), [
    (HOLDER, {"reference": f"{SERVER}/Procedure/a"}, SERVED, False),
    (HOLDER, {"reference": "Procedure/a"}, SERVED, False),
    (HOLDER, {"reference": "Procedure/a/_history/3"}, SERVED, False),
    (HOLDER, {"reference": URN}, NAMED, False),
    (LOOSE_HOLDER, {"reference": "Procedure/a"}, SERVED, True),
    (HOLDER, {"reference": "Procedure/c"}, BARE, True),
    (HOLDER, {"identifier": {"system": "https://record.example/ops", "value": "7"}}, NAMED, False),
])
def test_a_reference_leads_to_its_entry(holder, reference, target, is_fallback):
    log = ReadLog()
    assert INDEX.resolve(holder, reference, "x", log) is target
    assert (len(log.notes) == 1) is is_fallback and log.faults == []


@pytest.mark.parametrize(("reference", "error_id"), [
    ({"reference": "Procedure/d"}, "reference-ambiguous"),
    ({"reference": "Procedure/z"}, "reference-not-found"),
    ({"reference": "http://10.0.0.7/Procedure/a"}, "reference-not-found"),
    ({"reference": "#a"}, "reference-contained"),
    ({"display": "the last one"}, "reference-not-found"),
])
def test_a_reference_that_leads_nowhere_is_a_fault(reference, error_id):
    log = ReadLog()
    assert INDEX.resolve(HOLDER, reference, "x", log) is None
    assert [fault.error_id for fault in log.faults] == [error_id]
