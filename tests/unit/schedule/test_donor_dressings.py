"""Donor sites: first change in its window, and the check before skin is taken again."""

from service.domain.dressing import EventKind as Kind
from service.evidence.donor_healing import healing_days
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.schedule.donor_dressings import DonorCare
from service.schedule.donor_parcels import number_parcels
from service.schedule.dressings import schedule_care
from tests.unit.schedule.plans import RIGHT_THIGH, RIGHT_THIGH_BACK, hand_made_case, hand_made_plan

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def events_of(kind, case=None):
    """Events of each parcel on its usual days, before anything is merged or joined."""
    case, plan = case or hand_made_case(), hand_made_plan()
    parcels = number_parcels(case, plan, EVIDENCE, PREFERENCES)
    events = [e for p in parcels for e in DonorCare(p, plan, EVIDENCE).events({})]
    return {e.subject_key: e for e in events if e.kind is kind}


def test_first_change_on_day_seven_within_five_to_eight():
    change = events_of(Kind.CHANGE_DONOR_DRESSING)["right-thigh-front:parcel:1"]
    assert (change.earliest_day, change.day, change.latest_day) == (2 + 5, 2 + 7, 2 + 8)


def test_check_when_healing_is_expected():
    harvest = next(h for h in hand_made_plan().harvests if h.site_id == "right-thigh-back")
    expected = healing_days(EVIDENCE, RIGHT_THIGH_BACK, harvest.thickness, hand_made_case().age_band, 1,
                            PREFERENCES.value("healing-quantile"))
    assert events_of(Kind.CHECK_DONOR_HEALING)["right-thigh-back:parcel:1"].day == 20 + expected


def test_check_at_the_latest_the_day_before_skin_is_taken_again():
    check = events_of(Kind.CHECK_DONOR_HEALING)["right-thigh-front:parcel:2"]
    assert check.day <= check.latest_day == 19
    assert "only when the record says" in dict(check.values)["detail"]


def test_parcel_still_healing_is_checked_on_its_day_and_counts_first():
    checks = events_of(Kind.CHECK_DONOR_HEALING, hand_made_case(past=True))
    healing = checks["right-thigh-front:parcel:1"]
    assert (healing.earliest_day, healing.day) == (0, 12)
    assert "right-thigh-front:parcel:2" in checks
    assert checks["right-thigh-front:parcel:1"].place == "right thigh, front"


def test_donor_site_stays_free_of_grease_from_the_day_before():
    events = schedule_care(hand_made_case(), hand_made_plan(), EVIDENCE, PREFERENCES).events
    prepare = next(e for e in events if e.kind is Kind.PREPARE_DONOR_SITE)
    assert prepare.subject_key == "right-thigh-front:parcel:1"
    assert (prepare.day, prepare.latest_day) == (1, 2)
    assert RIGHT_THIGH.key == "right-thigh-front"
