"""Notes of a session, written for the record and read back: every number is understood as it was noted."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import Place, Region, Side, Surface
from service.domain.done_session import DoneAct, DoneKind, DoneSession
from service.domain.graft import GraftMethod, methods_of_place
from service.fhir.json_text import dump
from service.fhir.read_case import read_request
from service.fhir.write_done_session import write_done_session
from tests.builders import CANONICAL, body_of, bundle, burn_wound, needed, parameters

DAY = date(2026, 3, 5)
THIGH = Place(Region.THIGH, Side.LEFT, Surface.FRONT)
CALF = Place(Region.LOWER_LEG, Side.RIGHT, Surface.BACK)
BACK = Place(Region.POSTERIOR_TRUNK, None, Surface.BACK)
DONE = DoneSession(DAY, (
    DoneAct(DoneKind.EXCISION, THIGH, Decimal("402.5")),
    DoneAct(DoneKind.HARVEST, CALF, Decimal("160"), thickness_mm=Decimal("0.2")),
    DoneAct(DoneKind.HARVEST, BACK, Decimal("90")),
    DoneAct(DoneKind.PLACEMENT, THIGH, Decimal("300"), GraftMethod.ISLAND_1_4),
    DoneAct(DoneKind.PLACEMENT, THIGH, Decimal("80"), GraftMethod.MESHED_1_1_5),
    DoneAct(DoneKind.COVER, THIGH, Decimal("22.5")),
))


def record_with(done: DoneSession):
    """A burned thigh, with the notes sent along in the Bundle of the record."""
    request = parameters(
        bundle(*needed(), burn_wound()), as_of=("Instant", "2026-03-07T08:00:00+01:00"))
    record = next(part["resource"] for part in request["parameter"] if part["name"] == "bundle")
    patient = next(e for e in record["entry"] if e["resource"]["resourceType"] == "Patient")
    subject = {"reference": patient["fullUrl"]}
    record["entry"] += write_done_session(done, subject, CANONICAL)["entry"]
    return read_request(body_of(request), as_of=None, site_time_zone="UTC", canonical_base=CANONICAL)


def test_every_act_is_understood_as_noted():
    read = record_with(DONE)
    assert not read.missing and not read.faults and not read.set_aside
    record = read.record
    assert [(e.place, e.day, e.area_cm2) for e in record.excisions] == [(THIGH, DAY, Decimal("402.5"))]
    assert {(h.place, h.area_cm2, h.thickness_mm) for h in record.harvests} == {
        (CALF, Decimal(160), Decimal("0.2")), (BACK, Decimal(90), None)}
    assert {(p.place, p.area_cm2, p.method) for p in record.placements} == {
        (THIGH, Decimal(300), GraftMethod.ISLAND_1_4), (THIGH, Decimal(80), GraftMethod.MESHED_1_1_5)}
    assert [(c.place, c.area_cm2) for c in record.covers] == [(THIGH, Decimal("22.5"))]


@pytest.mark.parametrize("method", GraftMethod)
def test_every_method_is_written_and_read(method):
    place = next(p for p in (THIGH, Place(Region.HAND, Side.LEFT, Surface.BACK))
                 if method in methods_of_place(p, over_joint=False))
    read = record_with(DoneSession(DAY, (DoneAct(DoneKind.PLACEMENT, place, Decimal(10), method),)))
    assert [p.method for p in read.record.placements] == [method]


def test_the_same_notes_give_the_same_bytes_and_others_other_addresses():
    subject = {"reference": "Patient/1"}
    first = write_done_session(DONE, subject, CANONICAL)
    assert dump(first) == dump(write_done_session(DONE, subject, CANONICAL))
    addresses = [entry["fullUrl"] for entry in first["entry"]]
    assert len(set(addresses)) == len(addresses)


def test_nothing_is_marked_as_written_by_the_service():
    text = dump(write_done_session(DONE, {"reference": "Patient/1"}, CANONICAL)).decode()
    assert CANONICAL + "/identifier" not in text
    assert "performer" not in text and "asserter" not in text
