"""Fluids, a labelled cross-check: worked examples of the assessment page, sections 4.5 and 11."""

import pytest

from service.formulas.fluids import (
    day_volume_band_ml,
    day_volume_ml,
    fluid_rates,
    maintenance_ml_per_hour,
    rule_of_ten_ml_per_hour,
)
from tests.worked_examples.example import Example, Kind, check, names, value

LOW, MIDDLE, HIGH = (value(f"fluid-per-kg-percent/{name}") for name in ("low", "middle", "high"))


def rates(volume_ml, hours=0, given_ml=0):
    return fluid_rates(
        volume_ml, hours_since_injury=hours, given_ml=given_ml,
        first_half_hours=value("fluid-hours/first-half"), whole_hours=value("fluid-hours/whole"),
    )  # fmt: skip


def maintenance(weight_kg):
    return maintenance_ml_per_hour(
        weight_kg, step_kg=value("maintenance-step-kg/any"),
        first_ml_per_kg=value("maintenance-per-kg-hour/first"),
        next_ml_per_kg=value("maintenance-per-kg-hour/next"),
        rest_ml_per_kg=value("maintenance-per-kg-hour/rest"),
    )  # fmt: skip


def rule_of_ten(percent, weight_kg, is_adult=True):
    return rule_of_ten_ml_per_hour(
        percent, weight_kg, is_adult=is_adult,
        percent_step=value("rule-of-ten/percent-step"),
        ml_per_hour_per_percent=value("rule-of-ten/ml-per-hour-per-percent"),
        lowest_weight_kg=value("rule-of-ten/lowest-weight-kg"),
        heavy_weight_kg=value("rule-of-ten/heavy-weight-kg"),
        heavy_step_kg=value("rule-of-ten/heavy-step-kg"),
        heavy_step_ml_per_hour=value("rule-of-ten/heavy-step-ml-per-hour"),
    )  # fmt: skip


P, D, M = Kind.PUBLISHED, Kind.DERIVED, Kind.MEMORY
EXAMPLES = [
    Example("19 volume", lambda: day_volume_ml(24, 50, MIDDLE), 3600, 1, "F1", P),
    Example("19 first", lambda: rates(3600).first_ml_per_hour, 225, 1, "F1", P),
    Example("19 then", lambda: rates(3600).then_ml_per_hour, 112.5, 1, "F1", P),
    Example("20", lambda: maintenance(24), 64, 0, "F1", P),
    Example("22", lambda: rule_of_ten(27, 70), 300, 0, "F3", P),
    Example("F4", lambda: rule_of_ten(30, 90), 400, 0, "F4", P),
    Example("23", lambda: rule_of_ten(30, 100), 500, 0, "F15", P),
    Example("23 up to 80 kg", lambda: rule_of_ten(30, 80), 300, 0, "F15", P),
    Example("25", lambda: maintenance_ml_per_hour(
        25, step_kg=10, first_ml_per_kg=100 / 24, next_ml_per_kg=50 / 24, rest_ml_per_kg=20 / 24) * 24, 1600,
        1e-9, "F5", P),
    Example("26 volume", lambda: day_volume_ml(80, 50, LOW), 8000, 0, "4.1", D),
    Example("26 first", lambda: rates(8000).first_ml_per_hour, 500, 0, "4.1", D),
    Example("26 then", lambda: rates(8000).then_ml_per_hour, 250, 0, "4.1", D),
    Example("27", lambda: rates(11_200, hours=2).first_ml_per_hour, 933.3, 1, "4.1", D),
    Example("28", lambda: rates(11_200, hours=2, given_ml=1000).first_ml_per_hour, 766.7, 1, "4.1", D),
    Example("31", lambda: day_volume_ml(1, 44.5, value("fluid-per-kg-percent/observed-mean")), 231.4, 0.5,
            "klein-2007", Kind.PARTLY),
    Example("30", lambda: 70 * value("fluid-review-per-kg/any"), 17_500, 1, "ivy-series", D),
    Example("32", lambda: day_volume_ml(60, 50, LOW), 6000, 0, "mass casualty", D),
    Example("F6", lambda: day_volume_ml(70, 25, HIGH), 7000, 0, "F6", M),
    Example("N4", lambda: rates(day_volume_ml(90, 40, HIGH)).first_ml_per_hour, 900, 0, "4.5", D),
]  # fmt: skip


@pytest.mark.parametrize("example", EXAMPLES, ids=names(EXAMPLES))
def test_worked_example(example):
    check(example)


def test_the_band_shows_three_volumes():
    assert day_volume_band_ml(70, 40, (LOW, MIDDLE, HIGH)) == (5600, 8400, 11_200)


@pytest.mark.parametrize(("hours", "given"), [(0, 0), (2, 1000), (4, 5600), (7.9, 0), (8, 0), (12, 3000)])
def test_the_rates_give_the_whole_volume(hours, given):
    volume, both = 11_200, rates(11_200, hours, given)
    first_hours = max(8 - hours, 0)
    then_hours = 24 - max(hours, 8)
    total = given + both.first_ml_per_hour * first_hours + both.then_ml_per_hour * then_hours
    assert total == pytest.approx(volume)


def test_n5_more_than_half_given_is_said_and_never_a_negative_rate():
    both = rates(11_200, hours=2, given_ml=7000)
    assert (both.first_ml_per_hour, both.is_over_half_given) == (0, True)
    assert both.then_ml_per_hour == pytest.approx(4200 / 16)
    assert rates(11_200, hours=2, given_ml=20_000).then_ml_per_hour == 0
    assert not rates(11_200, hours=2, given_ml=5600).is_over_half_given


@pytest.mark.parametrize("hours", [24, 30, -1])
def test_n5_no_rate_before_the_injury_or_after_the_day(hours):
    with pytest.raises(ValueError):
        rates(11_200, hours=hours)


@pytest.mark.parametrize(("weight", "is_adult"), [(39.9, True), (70, False)])
def test_n6_rule_of_ten_is_refused_in_children_and_the_light(weight, is_adult):
    with pytest.raises(ValueError):
        rule_of_ten(30, weight, is_adult)


@pytest.mark.parametrize(("weight", "percent"), [(70, 0.40), (70, 140), (-70, 40), (70, -1)])
def test_n8_a_fraction_or_an_impossible_size_is_refused(weight, percent):
    with pytest.raises(ValueError):
        day_volume_ml(weight, percent, LOW)
