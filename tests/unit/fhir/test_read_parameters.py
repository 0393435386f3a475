"""Parameters: what is not stated stays not stated."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import Region, Side
from service.domain.case import Act, FixedDecision, KeepFor, TheatreDay
from service.domain.graft import GraftMethod
from service.fhir.read_case import examine_request
from tests import builders as make
from tests.unit.fhir.reading import errors, notes


def request_of(*sent: dict):
    return result_of(*sent).request


def result_of(*sent: dict):
    record = make.record(make.burn_wound())
    record["parameter"] += sent
    return examine_request(make.body_of(record))


def test_nothing_stated():
    request = request_of()
    assert (request.cover_stock_cm2, request.transfusion_units, request.session_minutes_limit) == (None,) * 3
    assert (request.theatre_days, request.keep_for, request.fixed_decisions) == ((), (), ())
    assert request.methods_available == frozenset(GraftMethod)
    assert (request.task_days, request.answer, request.search_seconds) == (14, "collection", 2)
    assert request.seed is None


def test_plain_values():
    request = request_of(
        {"name": "time-zone", "valueString": "Europe/Zurich"},
        {"name": "cover-stock", "valueQuantity": make.quantity("0.3", "m2")},
        {"name": "transfusion-units", "valueInteger": 0},
        {"name": "session-area-limit", "valueDecimal": Decimal("12.5")},
        {"name": "session-minutes-limit", "valueDecimal": 180},
        {"name": "method-available", "valueCode": "sheet"},
        {"name": "method-available", "valueCode": "meshed-1-1.5"},
        {"name": "task-days", "valueInteger": 7},
        {"name": "answer", "valueCode": "transaction"},
        {"name": "seconds", "valueDecimal": Decimal("0.5")},
        {"name": "seed", "valueInteger": 7},
    )
    assert (request.time_zone, request.cover_stock_cm2, request.transfusion_units) == ("Europe/Zurich", 3000, 0)
    assert (request.session_area_limit_percent_tbsa, request.session_minutes_limit) == (Decimal("12.5"), 180)
    assert request.methods_available == {GraftMethod.SHEET, GraftMethod.MESHED_1_1_5}
    assert (request.task_days, request.answer, request.search_seconds) == (7, "transaction", Decimal("0.5"))
    assert request.seed == 7
    assert str(request.as_of.tzinfo) == "Europe/Zurich"


def test_values_with_parts():
    request = request_of(
        make.grouped("theatre-day", date=("Date", "2026-03-06"), minutes=("Integer", 200)),
        make.grouped("keep-for", region=("Code", "face"), area=("Quantity", make.quantity(500, "cm2"))),
        make.grouped("fixed-decision", act=("Code", "place"), region=("Code", "hand"), side=("Code", "left"),
                     method=("Code", "sheet"), date=("Date", "2026-03-10")),
        make.grouped("preference", name=("String", "rest-days"), value=("Decimal", 3)),
    )
    assert request.theatre_days == (TheatreDay(date(2026, 3, 6), 200, None),)
    assert request.keep_for == (KeepFor(Region.FACE, Decimal(500)),)
    assert request.fixed_decisions == (
        FixedDecision(Act.PLACE, Region.HAND, Side.LEFT, date(2026, 3, 10), GraftMethod.SHEET),)
    assert request.preferences == (("rest-days", 3),)


@pytest.mark.parametrize(("sent", "error_id"), [
    ({"name": "transfusion-units", "valueInteger": -1}, "parameter-range"),
    ({"name": "transfusion-units", "valueInteger": Decimal("2.5")}, "parameter-value"),
    ({"name": "transfusion-units", "valueString": "two"}, "parameter-value"),
    ({"name": "transfusion-units", "valueInteger": "2"}, "not-a-number"),
    ({"name": "theatre-day", "valueDate": "2026-03-06"}, "parameter-value"),
    (make.grouped("theatre-day", minutes=("Integer", 200)), "parameter-required"),
    (make.grouped("theatre-day", date=("Date", "2026-03")), "day-needed"),
    (make.grouped("fixed-decision", act=("Code", "place"), region=("Code", "face"),
                  method=("Code", "island-1-9")), "method-not-for-region"),
    ({"name": "time-zone", "valueString": "../../etc/passwd"}, "time-zone-unknown"),
    ({"name": "time-zone", "valueString": ""}, "time-zone-unknown"),
    ({"name": "time-zone", "valueString": "Europe"}, "time-zone-unknown"),
    ({"name": "answer", "valueCode": "batch"}, "parameter-code"),
    ({"name": 7, "valueCode": "batch"}, "parameter-unknown"),
    ({"valueCode": "batch"}, "parameter-unknown"),
])
def test_what_is_refused(sent, error_id):
    assert errors(result_of(sent)) == [error_id]


def test_a_parameter_of_somebody_else_is_ignored_and_said():
    assert notes(result_of({"name": "x-trace", "valueString": "1"})) == ["parameter-ignored"]
