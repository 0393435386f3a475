"""Conditions of a what-if: read by name, and refused where they contradict each other."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import Region, Side
from service.domain.case import Act, FixedDecision
from service.domain.graft import GraftMethod
from service.domain.what_if import WhatIf
from service.fhir.read_case import examine_request
from tests import builders as make
from tests.unit.fhir.reading import errors


def result_of(*conditions: dict, **more):
    record = make.record(make.burn_wound())
    record["parameter"].append({"name": "what-if", "part": list(conditions)})
    record["parameter"] += [{"name": name, **value} for name, value in more.items()]
    return examine_request(make.body_of(record))


def site(name: str, region: str, side: str | None = None, surface: str | None = None) -> dict:
    parts = {"region": region, "side": side, "surface": surface}
    return {"name": name, "part": [{"name": k, "valueCode": v} for k, v in parts.items() if v]}


def test_nothing_asked():
    assert examine_request(make.body_of(make.record(make.burn_wound()))).request.what_if is None


def test_several_conditions_hold_together():
    result = result_of(
        site("exclude-site", "thigh", "left"), site("exclude-site", "thigh", "right", "front"),
        site("free-site", "scalp"),
        {"name": "drop-day", "valueDate": "2026-03-05"}, {"name": "drop-day", "valueDate": "2026-03-06"},
        {"name": "cover-stock", "valueQuantity": make.quantity("0.2", "m2")},
        {"name": "transfusion-units", "valueInteger": 0},
        {"name": "session-area-limit", "valueDecimal": Decimal("12.5")},
        {"name": "session-minutes-limit", "valueDecimal": 150},
        {"name": "method-unavailable", "valueCode": "meshed-1-2"},
        {"name": "ratio-unavailable", "valueCode": "1-3"},
        make.grouped("fixed-decision", act=("Code", "place"), region=("Code", "hand"), side=("Code", "left"),
                     method=("Code", "sheet"), date=("Date", "2026-03-10")),
    )
    assert errors(result) == []
    assert result.request.what_if == WhatIf(
        excluded_sites=("left-thigh", "right-thigh-front"),
        freed_sites=("scalp",),
        dropped_days=(date(2026, 3, 5), date(2026, 3, 6)),
        cover_stock_cm2=Decimal(2000),
        transfusion_units=0,
        session_area_limit_percent_tbsa=Decimal("12.5"),
        session_minutes_limit=Decimal(150),
        methods_unavailable=frozenset({GraftMethod.MESHED_1_2, GraftMethod.MESHED_1_3, GraftMethod.ISLAND_1_3}),
        fixed_decisions=(FixedDecision(Act.PLACE, Region.HAND, Side.LEFT, date(2026, 3, 10), GraftMethod.SHEET),),
    )


def test_a_sheet_has_no_ratio_that_could_run_out():
    unavailable = result_of({"name": "ratio-unavailable", "valueCode": "1-1"}).request.what_if.methods_unavailable
    assert unavailable == {GraftMethod.MESHED_1_1}


@pytest.mark.parametrize(("conditions", "error"), [
    ([], "what-if-empty"),
    ([site("exclude-site", "scalp"), site("free-site", "scalp")], "what-if-contradicts"),
    ([site("exclude-site", "thigh", "left"), site("free-site", "thigh", "left", "back")], "what-if-contradicts"),
    ([{"name": "drop-day", "valueDate": "2026-03-10"},
      make.grouped("fixed-decision", act=("Code", "excise"), region=("Code", "thigh"), side=("Code", "left"),
                   date=("Date", "2026-03-10"))], "what-if-contradicts"),
    ([{"name": "ratio-unavailable", "valueCode": "1-2"},
      make.grouped("fixed-decision", act=("Code", "place"), region=("Code", "thigh"), side=("Code", "left"),
                   method=("Code", "meshed-1-2"))], "what-if-contradicts"),
    ([site("exclude-site", "hand", "left")], "what-if-no-donor-site"),
    ([site("exclude-site", "thigh")], "side-missing"),
    ([site("free-site", "scalp", "left")], "side-not-expected"),
    ([site("free-site", "buttock", "left", "front")], "surface-not-expected"),
    ([{"name": "cover-stock", "valueQuantity": make.quantity(1, "cm2")}] * 2, "parameter-twice"),
    ([{"name": "close-theatre", "valueBoolean": True}], "parameter-unknown"),
])
def test_what_does_not_fit_together_is_refused(conditions, error):
    assert errors(result_of(*conditions)) == [error]


def test_what_is_posted_never_carries_a_what_if():
    result = result_of({"name": "transfusion-units", "valueInteger": 4}, answer={"valueCode": "transaction"})
    assert errors(result) == ["what-if-in-transaction"]
