"""The case under other conditions: each condition where it belongs, and none that says nothing."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.assessment.what_if import assess_what_if
from service.domain.body_region import Region, Side, Surface
from service.domain.case import Act, FixedDecision, TheatreDay
from service.domain.donor_site import DonorState, DonorStateRecord, HarvestRecord
from service.domain.errors import InvalidCase
from service.domain.graft import GraftMethod
from service.domain.what_if import WhatIf
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests import records as make

TRUNK = make.place(Region.ANTERIOR_TRUNK)
LEFT_THIGH = make.place(Region.THIGH, Side.LEFT, Surface.FRONT)
REQUEST = make.request()
TODAY = REQUEST.as_of.date()


def case_under(asked: WhatIf, record=None, **wishes):
    record = record or make.record(make.burn(TRUNK, "9"))
    request = replace(REQUEST, what_if=asked, **wishes)
    grounds = load_evidence(), load_preferences()
    return assess_what_if(record, request, assess_case(record, request, *grounds), *grounds)


def sites_of(case) -> set[str]:
    return {site.site_id for site in case.donor_sites}


def refusals(asked: WhatIf, **wishes) -> set[tuple[str, str]]:
    with pytest.raises(InvalidCase) as refused:
        case_under(asked, **wishes)
    return {(fault.error_id, dict(fault.values)["condition"]) for fault in refused.value.faults}


def test_an_excluded_region_gives_no_skin_on_any_surface():
    case = case_under(WhatIf(excluded_sites=("left-thigh", "scalp")))
    assert not {"left-thigh-front", "left-thigh-back", "scalp"} & sites_of(case)
    assert "right-thigh-front" in sites_of(case)


def test_one_surface_can_be_excluded_alone():
    case = case_under(WhatIf(excluded_sites=("left-thigh-front",)))
    assert "left-thigh-front" not in sites_of(case) and "left-thigh-back" in sites_of(case)


def test_a_freed_site_is_neither_excluded_nor_healing_and_keeps_its_usable_share():
    day = TODAY - timedelta(days=4)
    excluded = DonorStateRecord(LEFT_THIGH, DonorState.EXCLUDED, day, "Observation/1", usable_share=Decimal("0.5"))
    record = make.record(make.burn(TRUNK, "9"), donor_states=(excluded,), harvests=(
        HarvestRecord(LEFT_THIGH, day - timedelta(days=2), Decimal(100), Decimal("0.2"), "Procedure/1"),))
    freed = case_under(WhatIf(freed_sites=("left-thigh-front",)), record)
    (site,) = [s for s in freed.donor_sites if s.place == LEFT_THIGH]
    (whole,) = [s for s in case_under(WhatIf(excluded_sites=("scalp",))).donor_sites if s.place == LEFT_THIGH]
    assert abs(site.area_cm2 - whole.area_cm2 / 2) <= Decimal("0.1")
    assert all(parcel.healed_recorded for parcel in site.parcels)
    assert sorted(parcel.harvest_count for parcel in site.parcels) == [0, 1]


def test_a_day_is_dropped_from_every_day_or_from_those_stated():
    day = TODAY + timedelta(days=3)
    every = case_under(WhatIf(dropped_days=(day,))).request.theatre_days
    assert day not in {t.day for t in every} and len(every) == load_preferences().integer("horizon-days")
    stated = (TheatreDay(day), TheatreDay(day + timedelta(days=4), 200))
    left = case_under(WhatIf(dropped_days=(day,)), theatre_days=stated).request.theatre_days
    assert left == stated[1:]


def test_amounts_limits_methods_and_decisions():
    decision = FixedDecision(Act.PLACE, Region.ANTERIOR_TRUNK, None, None, GraftMethod.MESHED_1_2)
    case = case_under(WhatIf(
        cover_stock_cm2=Decimal(900), transfusion_units=3, session_area_limit_percent_tbsa=Decimal(7),
        session_minutes_limit=Decimal(100), methods_unavailable=frozenset({GraftMethod.MESHED_1_1}),
        fixed_decisions=(decision,)))
    assert (case.request.cover_stock_cm2, case.request.transfusion_units) == (900, 3)
    assert case.limits.procedure_minutes == 100
    assert case.percent_tbsa(case.limits.grafted_cm2) <= 7
    assert GraftMethod.MESHED_1_1 not in case.request.methods_available
    assert case.request.fixed_decisions == (decision,) and case.request.what_if is None


@pytest.mark.parametrize(("asked", "wishes", "refused"), [
    (WhatIf(excluded_sites=("anterior-trunk",), freed_sites=("scalp",)), {}, {"free-site"}),
    (WhatIf(dropped_days=(TODAY - timedelta(days=1),)), {}, {"drop-day"}),
    (WhatIf(dropped_days=(TODAY + timedelta(days=2),)), {"theatre_days": (TheatreDay(TODAY + timedelta(days=3)),)},
     {"drop-day"}),
    (WhatIf(cover_stock_cm2=Decimal(5)), {"cover_stock_cm2": Decimal(5)}, {"cover-stock"}),
    (WhatIf(session_area_limit_percent_tbsa=Decimal(5)), {"session_area_limit_percent_tbsa": Decimal(5)},
     {"session-area-limit"}),
    (WhatIf(methods_unavailable=frozenset({GraftMethod.SHEET})),
     {"methods_available": frozenset({GraftMethod.MESHED_1_1})}, {"method-unavailable"}),
])
def test_a_condition_that_changes_nothing_is_refused(asked, wishes, refused):
    assert refusals(asked, **wishes) == {("what-if-changes-nothing", name) for name in refused}


def test_neither_the_last_theatre_day_nor_the_last_method_can_go():
    day = TODAY + timedelta(days=3)
    asked = WhatIf(dropped_days=(day,), methods_unavailable=frozenset(GraftMethod))
    assert refusals(asked, theatre_days=(TheatreDay(day),)) == {
        ("what-if-leaves-nothing", "drop-day"), ("what-if-leaves-nothing", "method-unavailable")}
