"""The samples that integrators copy are read without a fault."""

from pathlib import Path

import pytest

from service.fhir.read_case import read_request

SAMPLES = Path(__file__).parents[3] / "shared" / "samples"
COMPLETE = sorted(path.name for path in SAMPLES.glob("*.json") if path.name != "missing-weight.json")


@pytest.mark.parametrize("name", COMPLETE)
def test_a_complete_sample_gives_a_record_without_notes(name):
    result = read_request((SAMPLES / name).read_bytes())
    assert result.record is not None
    assert (result.missing, result.notes, result.faults) == ((), (), ())
    assert result.request.time_zone == "Europe/Zurich"


def test_the_sample_without_weight_names_the_weight_and_gives_no_record():
    result = read_request((SAMPLES / "missing-weight.json").read_bytes())
    assert result.record is None
    assert [missing.datum for missing in result.missing] == ["weight"]


def test_the_history_sample_links_takes_to_their_grafts():
    record = read_request((SAMPLES / "adult-60-percent-after-session-1.json").read_bytes()).record
    takes = {str(p.place.key): p.take_fraction for p in record.placements}
    assert {key: str(value) for key, value in takes.items()} == {
        "anterior-trunk": "0.88", "right-thigh-front": "0.93", "right-lower-leg-front": "None"}
    assert len(record.excisions) == 3 and len(record.harvests) == 3 and len(record.covers) == 3
