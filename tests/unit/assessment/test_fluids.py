"""The fluid cross-check: when there is one, what it says, and where it never goes."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.assessment.fluids import FIGURES, estimate_fluids
from service.domain.body_region import Region, Side
from service.domain.burn_wound import Depth
from service.domain.patient import BirthDate
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.wording.fluid_text import word_fluid_notes
from tests.records import burn, measured, patient, place, record, request

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
NOW = request().as_of
TRUNK, BACK = place(Region.ANTERIOR_TRUNK), place(Region.POSTERIOR_TRUNK)
LEFT_THIGH, RIGHT_THIGH = place(Region.THIGH, Side.LEFT), place(Region.THIGH, Side.RIGHT)
ADULT = BirthDate(1986, 1, 1)
FORTY = (burn(TRUNK, "13"), burn(BACK, "13"), burn(LEFT_THIGH, "4.75"), burn(RIGHT_THIGH, "4.75"),
         burn(place(Region.LOWER_LEG, Side.LEFT), "3.5"), burn(place(Region.NECK), "1"))


def estimate(*extents, hours="2", weight="70", born=ADULT, injury=None, **changes):
    hurt = injury or NOW - timedelta(hours=float(hours))
    person = patient(injury=hurt, weight_kg=measured(weight), birth_date=born, **changes)
    case = assess_case(record(*(extents or FORTY), patient=person), request(), EVIDENCE, PREFERENCES)
    return estimate_fluids(case, EVIDENCE, PREFERENCES)


def line(found, figure):
    return next(one for one in found.lines if one.figure == figure)


def child(*extents, weight="24", years=6, **more):
    born = BirthDate(NOW.year - years, 1, 1)
    return estimate(*(extents or (burn(TRUNK, "13"), burn(BACK, "12"))), weight=weight, born=born,
                    height_cm=measured("118"), **more)


@pytest.mark.parametrize("injury", [
    date(2026, 3, 4), date(2026, 3, 3), NOW - timedelta(hours=24), NOW - timedelta(days=3), NOW + timedelta(hours=1)])
def test_there_is_none_without_an_hour_or_outside_the_first_day(injury):
    assert estimate(injury=injury) is None


@pytest.mark.parametrize("hours", ["0", "7.9", "8", "23.9"])
def test_there_is_one_within_the_first_day(hours):
    assert estimate(hours=hours).since_injury_hours == Decimal(hours)


def test_the_clock_starts_at_the_injury_in_whatever_zone_it_was_written():
    injury = datetime(2026, 3, 4, 6, tzinfo=UTC).astimezone(tz=None)
    assert estimate(injury=injury).since_injury_hours == 2


def test_it_is_a_band_with_the_observed_mean_beside_it():
    found = estimate()
    assert tuple(one.figure for one in found.lines) == FIGURES
    assert [one.day_volume_ml for one in found.lines] == [5600, 8400, 11_200, 14_560]


def test_erythema_does_not_count():
    red = burn(place(Region.LOWER_LEG, Side.RIGHT), "7", Depth.SUPERFICIAL)
    assert estimate(*FORTY, red).lines == estimate().lines


def test_a_late_arrival_is_shown_both_ways():
    high = line(estimate(hours="2"), "high")
    assert (high.keeping_pace.first_ml_per_hour, high.keeping_pace.then_ml_per_hour) == (700, 350)
    assert (high.catching_up.first_ml_per_hour, high.catching_up.then_ml_per_hour) == (Decimal("933.3"), 350)
    assert not high.is_catch_up_capped


def test_catching_up_is_capped_and_says_so():
    found = estimate(hours="7.9")
    assert all(one.is_catch_up_capped for one in found.lines)
    assert line(found, "high").catching_up.first_ml_per_hour == 1400
    assert any("capped at 2 times" in note for note in word_fluid_notes(found))


def test_after_the_first_hours_only_the_later_rate_is_left():
    found = estimate(hours="12")
    high = line(found, "high")
    assert high.keeping_pace.first_ml_per_hour is None and high.catching_up.first_ml_per_hour is None
    assert (high.keeping_pace.then_ml_per_hour, high.catching_up.then_ml_per_hour) == (350, Decimal("933.3"))
    assert found.rule_of_ten_ml_per_hour is None


def test_the_last_hour_of_the_day_has_no_endless_rate():
    assert line(estimate(hours="23.9"), "high").catching_up.then_ml_per_hour == 1400


def test_what_was_given_is_not_assumed_to_be_known():
    assert any("What has been given so far is not known" in note for note in word_fluid_notes(estimate()))


def test_maintenance_of_a_child_is_apart():
    found = child()
    assert found.maintenance_ml_per_hour == 64
    assert line(found, "middle").day_volume_ml == 24 * 25 * 3
    assert estimate().maintenance_ml_per_hour is None


def test_the_rule_of_ten_is_for_adults_of_forty_kilograms_and_more():
    assert estimate().rule_of_ten_ml_per_hour == 400
    assert estimate(weight="40").rule_of_ten_ml_per_hour == 400
    assert estimate(weight="39.9").rule_of_ten_ml_per_hour is None
    assert child(weight="45", years=12).rule_of_ten_ml_per_hour is None


@pytest.mark.parametrize("percent", ["13", "8"])
def test_a_small_burn_of_an_adult_is_below_the_formal_threshold(percent):
    found = estimate(burn(TRUNK, percent))
    assert found.is_below_threshold
    assert any(note.startswith("Below formal threshold: ") for note in word_fluid_notes(found))


def test_between_two_published_thresholds_both_are_named():
    notes = word_fluid_notes(estimate(burn(TRUNK, "13"), burn(LEFT_THIGH, "4")))
    assert any("at 15 or at 20 %TBSA" in note for note in notes)


def test_from_the_highest_threshold_on_nothing_is_said():
    found = estimate(burn(TRUNK, "13"), burn(BACK, "7"))
    assert not found.is_below_threshold
    assert not any("threshold" in note for note in word_fluid_notes(found))


@pytest.mark.parametrize(("percent", "below"), [("9.9", True), ("10", False)])
def test_the_threshold_of_a_child(percent, below):
    assert child(burn(TRUNK, percent)).is_below_threshold is below


@pytest.mark.parametrize(("percent", "born", "below"), [
    ("7.9", BirthDate(2025, 3, 4), True), ("8", BirthDate(2025, 3, 4), False), ("8", BirthDate(2024, 3, 4), True)])
def test_the_threshold_of_an_infant_is_lower(percent, born, below):
    found = estimate(burn(TRUNK, percent), weight="10", born=born, height_cm=measured("78"))
    assert found.is_below_threshold is below


def test_volumes_that_call_for_a_review_are_marked():
    """250 mL/kg is reached by 6 mL/kg/% at 41.7 %TBSA and by 4 mL/kg/% at 62.5 %."""
    found = estimate()
    assert found.review_volume_ml == 6 * 70 * 40
    assert not any(one.is_over_review for one in found.lines)
    large = estimate(*FORTY, burn(place(Region.THIGH, Side.LEFT, "back"), "4.75"),
                     burn(place(Region.THIGH, Side.RIGHT, "back"), "4.75"))
    assert large.review_volume_ml == 17_500
    assert [one.figure for one in large.lines if one.is_over_review] == ["observed-mean"]
    assert any("the figure 5.2 lies above" in note for note in word_fluid_notes(large))


def test_the_urine_target_has_a_floor_for_adults_only():
    assert (estimate().urine_low_ml_per_hour, estimate().urine_high_ml_per_hour) == (35, 70)
    assert estimate(weight="45").urine_low_ml_per_hour == 30
    assert (child().urine_low_ml_per_hour, child().urine_high_ml_per_hour) == (12, 48)


def test_a_burn_under_one_percent_needs_none():
    assert estimate(burn(TRUNK, "0.5")) is None


def test_every_source_is_a_row():
    for found in (estimate(), child()):
        assert all(EVIDENCE.has(*row_id.split("/")) for row_id in found.sources)
