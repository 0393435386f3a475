"""Donor sites: chart minus burn minus what cannot be harvested, and parcels of past harvests."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region, Side
from service.domain.burn_wound import Depth
from service.domain.donor_site import DonorState, DonorStateRecord, HarvestRecord
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests.records import TODAY, burn, place, record, request

TRUNK = place(Region.ANTERIOR_TRUNK)
THIGH = place(Region.THIGH, Side.LEFT)
SCALP = place(Region.SCALP)


def sites_of(case_record):
    case = assess_case(case_record, request(), load_evidence(), load_preferences())
    return {s.site_id: s for s in case.donor_sites}


def test_unburned_adult_has_81_percent_of_which_a_scalp_counts_at_the_low_end():
    sites = sites_of(record(burn(place(Region.HAND, Side.LEFT), "1")))
    # 81 % of 2.000 m² by the chart (assessment 3.1), less three fifths of the scalp's 3 %
    assert sum(s.area_cm2 for s in sites.values()) == pytest.approx(Decimal(200) * (81 - Decimal("1.8")))


def test_burned_share_is_no_donor():
    assert sites_of(record(burn(TRUNK, "5")))["anterior-trunk"].area_cm2 == Decimal("1600.0")


def test_no_donor_on_face_neck_hand_foot_genitalia():
    never = {Region.FACE, Region.NECK, Region.HAND, Region.FOOT, Region.GENITALIA}
    assert not {s.place.region for s in sites_of(record(burn(TRUNK, "5"))).values()} & never


def test_excluded_and_usable_share():
    states = (DonorStateRecord(THIGH, DonorState.EXCLUDED, TODAY, "entry[6]"),
              DonorStateRecord(TRUNK, DonorState.HEALED, TODAY, "entry[7]", usable_share=Decimal("0.5")))
    sites = sites_of(record(burn(place(Region.HAND, Side.LEFT), "1"), donor_states=states))
    assert "left-thigh-front" not in sites
    assert sites["anterior-trunk"].area_cm2 == Decimal("1300.0")


def test_harvested_skin_counts_as_healed_only_by_record():
    harvest = HarvestRecord(THIGH, date(2026, 3, 2), Decimal(300), Decimal("0.22"), "entry[6]")
    parcels = sites_of(record(burn(TRUNK, "5"), harvests=(harvest,)))["left-thigh-front"].parcels
    assert [(p.area_cm2, p.harvest_count, p.healed_recorded) for p in parcels] == [
        (Decimal("650.0"), 0, True), (Decimal(300), 1, False)]
    seen = DonorStateRecord(THIGH, DonorState.HEALED, TODAY, "entry[7]")
    healed = sites_of(record(burn(TRUNK, "5"), harvests=(harvest,), donor_states=(seen,)))["left-thigh-front"]
    assert all(p.healed_recorded for p in healed.parcels)


def test_unknown_thickness_heals_no_sooner_than_any_known_one():
    def healed_day(thickness):
        harvest = HarvestRecord(THIGH, date(2026, 3, 2), Decimal(300), thickness, "entry[6]")
        return sites_of(record(burn(TRUNK, "5"), harvests=(harvest,)))["left-thigh-front"].parcels[-1].healed_day
    known = [healed_day(Decimal(mm)) for mm in ("0.2", "0.3", "0.5")]
    assert healed_day(None) >= max(known)


def test_superficial_burn_becomes_a_donor_later_but_a_burned_scalp_never():
    sites = sites_of(record(burn(TRUNK, "13", Depth.SUPERFICIAL_PARTIAL), burn(SCALP, "3", Depth.SUPERFICIAL_PARTIAL)))
    trunk = sites["anterior-trunk"].parcels
    assert [p.healed_recorded for p in trunk] == [False]
    assert trunk[0].healed_day > 14
    assert "scalp" not in sites


def test_amputated_region_gives_nothing():
    sites = sites_of(record(burn(TRUNK, "5"), amputated=((Region.LOWER_LEG, Side.LEFT),)))
    assert not [s for s in sites if s.startswith("left-lower-leg")]


def test_a_second_harvest_is_not_booked_on_a_burn_that_cannot_have_healed():
    """Half of the thigh is burned superficially: skin taken again before that has healed came from the other half."""
    burned = burn(THIGH, "2", Depth.SUPERFICIAL_PARTIAL)
    free_cm2 = sites_of(record(burned))["left-thigh-front"].parcels[0].area_cm2
    harvests = tuple(HarvestRecord(THIGH, day, free_cm2, Decimal("0.22"), f"entry[{day.day}]")
                     for day in (date(2026, 3, 2), date(2026, 3, 18)))
    on_day_18 = request(as_of=datetime(2026, 3, 19, 8, tzinfo=UTC))
    case = assess_case(record(burned, harvests=harvests), on_day_18, load_evidence(), load_preferences())
    site = next(s for s in case.donor_sites if s.site_id == "left-thigh-front")
    assert [(p.harvest_count, p.harvested_day) for p in site.parcels] == [(0, None), (2, -1)]
