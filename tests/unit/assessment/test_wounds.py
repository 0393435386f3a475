"""Wounds from extents and history: areas, joint parts, and what was already done."""

from datetime import date
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region, Side
from service.domain.burn_wound import BedRecord, BedState, Depth, OpenWound
from service.domain.case import CoverRecord, ExcisionRecord, PlacementRecord
from service.domain.graft import GraftMethod
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests.records import TODAY, burn, place, record, request

TRUNK = place(Region.ANTERIOR_TRUNK)
THIGH = place(Region.THIGH, Side.LEFT)
YESTERDAY = date(2026, 3, 3)


def assess(case_record, **changes):
    return assess_case(case_record, request(**changes), load_evidence(), load_preferences())


def wounds_of(case_record):
    return {w.wound_id: w for w in assess(case_record).wounds}


def test_area_is_percent_of_body_surface():
    # 180 cm, 80 kg: 2.000 m² by Mosteller (assessment example 2), so 1 %TBSA is 200 cm²
    wound = wounds_of(record(burn(TRUNK, "10")))["anterior-trunk:full-thickness"]
    assert wound.area_cm2 == Decimal("2000.0")


def test_percent_of_region_is_read_against_the_chart():
    extent = burn(TRUNK, "0")
    of_region = type(extent)(extent.place, extent.depth, None, Decimal(50), TODAY, "entry[2]")
    assert wounds_of(record(of_region))["anterior-trunk:full-thickness"].area_cm2 == Decimal("1300.0")


def test_joint_part_is_a_wound_of_its_own():
    wounds = wounds_of(record(burn(THIGH, "4")))
    assert wounds["left-thigh-front:full-thickness:joint"].area_cm2 == Decimal("120.0")  # share 0.15
    assert wounds["left-thigh-front:full-thickness"].area_cm2 == Decimal("680.0")


def test_stated_joint_share_overrides():
    wounds = wounds_of(record(burn(THIGH, "4", over_joint_fraction=Decimal(0))))
    assert set(wounds) == {"left-thigh-front:full-thickness"}


def test_superficial_partial_is_not_a_wound_to_graft():
    case = assess(record(burn(TRUNK, "5", Depth.SUPERFICIAL_PARTIAL), burn(THIGH, "2")))
    assert [e.place for e in case.closes_by_itself] == [TRUNK]
    said = next(f for f in case.findings if f.code == "closes-by-itself")
    assert dict(said.values) == {"days": "14", "low_days": "7", "high_days": "21"}
    assert all(w.place == THIGH for w in case.wounds)


def test_genitalia_are_left_to_the_clinician():
    case = assess(record(burn(place(Region.GENITALIA), "1"), burn(TRUNK, "2")))
    assert [e.place.region for e in case.not_planned] == [Region.GENITALIA]
    assert "region-not-planned" in {f.code for f in case.findings}


def test_open_wound_on_genitalia_is_not_planned_either():
    wound = OpenWound(place(Region.GENITALIA), Decimal(40), TODAY, "entry[5]")
    case = assess(record(burn(TRUNK, "2"), open_wounds=(wound,)))
    assert all(w.place == TRUNK for w in case.wounds)
    assert "region-not-planned" in {f.code for f in case.findings}


def test_graft_without_take_is_neither_open_nor_taken():
    placed = PlacementRecord(TRUNK, YESTERDAY, Decimal(600), GraftMethod.MESHED_1_2, "entry[9]")
    wound = wounds_of(record(burn(TRUNK, "10"), placements=(placed,)))["anterior-trunk:full-thickness"]
    assert wound.area_cm2 == Decimal("1400.0")
    assert [g.area_cm2 for g in wound.placed] == [Decimal(600)]


def test_recorded_loss_comes_back_on_a_ready_bed():
    placed = PlacementRecord(
        TRUNK, YESTERDAY, Decimal(1100), GraftMethod.MESHED_1_2, "entry[9]", Decimal("0.8"), TODAY)
    wound = wounds_of(record(burn(TRUNK, "10"), placements=(placed,)))["anterior-trunk:full-thickness"]
    assert wound.area_cm2 == Decimal("1120.0")
    assert wound.excised_cm2 == Decimal("220.0")


@pytest.mark.parametrize(("placed_cm2", "take", "lost"), [(600, "0.8", "120"), (2000, "0.96", "80")])
def test_small_loss_heals_by_dressing(placed_cm2, take, lost):
    """Below 1 %TBSA (200 cm²), or below 5 % of the graft: no session for it, and it is said."""
    placed = PlacementRecord(
        TRUNK, YESTERDAY, Decimal(placed_cm2), GraftMethod.MESHED_1_2, "entry[9]", Decimal(take), TODAY)
    case = assess(record(burn(TRUNK, "10"), placements=(placed,)))
    wound = {w.wound_id: w for w in case.wounds}["anterior-trunk:full-thickness"]
    assert wound.area_cm2 == 2000 - placed_cm2
    assert wound.dressed_cm2 == Decimal(lost)
    assert "loss-heals-by-dressing" in {f.code for f in case.findings}


def test_excised_bed_is_booked_deepest_first():
    excision = ExcisionRecord(TRUNK, YESTERDAY, Decimal(700), "entry[8]")
    wounds = wounds_of(record(burn(TRUNK, "3"), burn(TRUNK, "5", Depth.DEEP_PARTIAL), excisions=(excision,)))
    assert wounds["anterior-trunk:full-thickness"].excised_cm2 == Decimal("600.0")
    assert wounds["anterior-trunk:deep-partial"].excised_cm2 == Decimal("100.0")


def test_cover_lies_on_the_open_bed_only():
    excision = ExcisionRecord(TRUNK, YESTERDAY, Decimal(500), "entry[8]")
    cover = CoverRecord(TRUNK, YESTERDAY, Decimal(900), "entry[9]")
    wounds = wounds_of(record(burn(TRUNK, "10"), excisions=(excision,), covers=(cover,)))
    wound = wounds["anterior-trunk:full-thickness"]
    assert wound.covered_cm2 == Decimal("500.0")
    assert wound.covered_until_day == 13  # laid the day before, lives 14 days


def test_more_done_than_the_wound_is_said():
    excision = ExcisionRecord(TRUNK, YESTERDAY, Decimal(2500), "entry[8]")
    case = assess(record(burn(TRUNK, "10"), excisions=(excision,)))
    assert "history-exceeds-wound" in {f.code for f in case.findings}


def test_bed_under_template_waits_for_its_ready_day():
    bed = BedRecord(TRUNK, BedState.UNDER_TEMPLATE, TODAY, "entry[7]", ready_from=date(2026, 3, 24))
    wound = wounds_of(record(burn(TRUNK, "10"), beds=(bed,)))["anterior-trunk:full-thickness"]
    assert (wound.ready_from_day, wound.excised_cm2) == (20, wound.area_cm2)


def test_indeterminate_burn_waits_for_demarcation():
    wound = wounds_of(record(burn(TRUNK, "4", Depth.INDETERMINATE)))["anterior-trunk:indeterminate"]
    assert wound.wait_until_day == 2  # injured three days ago, looked at again from day 5 on


@pytest.mark.parametrize(("stated", "said"), [("10", False), ("11.9", False), ("12.1", True)])
def test_sum_is_compared_with_the_stated_total(stated, said):
    case = assess(record(burn(TRUNK, "10"), total_percent_tbsa=Decimal(stated)))
    assert ("sum-against-total" in {f.code for f in case.findings}) is said


def test_field_and_joint_grafts_fill_the_place_whatever_order_they_are_read_in():
    mesh = PlacementRecord(THIGH, YESTERDAY, Decimal(120), GraftMethod.MESHED_1_2, "entry[8]")
    islands = PlacementRecord(THIGH, YESTERDAY, Decimal(680), GraftMethod.ISLAND_1_3, "entry[9]")
    for placements in ((mesh, islands), (islands, mesh)):
        wounds = wounds_of(record(burn(THIGH, "4"), placements=placements))
        assert sum(w.area_cm2 for w in wounds.values()) == 0
