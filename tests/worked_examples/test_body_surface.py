"""Body surface and body chart: worked examples of the assessment page, sections 1-3 and 11."""

from decimal import Decimal
from itertools import product

import pytest
from health_bsa import BSA

from service.domain.body_region import Region, Surface, all_places
from service.formulas.body_chart import place_percentages, region_percentages
from service.formulas.body_surface_area import FORMULAS, boyd, by_formula, livingston_lee
from service.formulas.donor_reserve import potential_donor_percent
from tests.worked_examples.example import EVIDENCE, Example, Kind, check, names, value

# Section 1.3, computed to three decimals, tolerance 0.002.
COLUMNS = ("mosteller", "du-bois", "haycock", "gehan-george", "boyd", "fujimoto", "livingston-lee")
COMPARISON = {
    (50, 3.5): (0.220, 0.209, 0.224, 0.234, 0.230, 0.207, 0.241),
    (75, 10): (0.456, 0.437, 0.464, 0.476, 0.481, 0.432, 0.520),
    (110, 18): (0.742, 0.741, 0.740, 0.758, 0.755, 0.723, 0.760),
    (120, 24): (0.894, 0.892, 0.894, 0.911, 0.912, 0.871, 0.916),
    (140, 32): (1.116, 1.127, 1.110, 1.128, 1.123, 1.096, 1.103),
    (160, 60): (1.633, 1.622, 1.641, 1.649, 1.656, 1.583, 1.656),
    (170, 65): (1.752, 1.754, 1.754, 1.763, 1.762, 1.707, 1.744),
    (170, 70): (1.818, 1.810, 1.826, 1.831, 1.835, 1.764, 1.830),
    (175, 70): (1.845, 1.848, 1.847, 1.854, 1.851, 1.799, 1.830),
    (180, 80): (2.000, 1.996, 2.007, 2.009, 2.007, 1.944, 1.995),
    (170, 120): (2.380, 2.276, 2.440, 2.417, 2.457, 2.241, 2.592),
    (175, 180): (2.958, 2.761, 3.069, 3.014, 3.078, 2.735, 3.369),
}
TABLE = [
    Example(f"1.3 {height} cm {weight} kg {formula}",
            lambda f=formula, h=height, w=weight: by_formula(EVIDENCE, f, h, w),
            expected, 0.002, "assessment 1.3", Kind.DERIVED)
    for (height, weight), row in COMPARISON.items()
    for formula, expected in zip(COLUMNS, row, strict=True)
]  # fmt: skip


def surface(formula, height_cm, weight_kg):
    return lambda: by_formula(EVIDENCE, formula, height_cm, weight_kg)


def livingston(form, weight_kg):
    return lambda: livingston_lee(
        weight_kg, factor=value(f"{form}/factor"), weight_exponent=value(f"{form}/weight-exponent"))


def boyd_in_grams(height_cm, weight_g):
    names_ = ("factor", "height-exponent", "weight-exponent", "weight-exponent-slope")
    coefficients = {name.replace("-", "_"): value(f"body-surface-boyd/{name}") for name in names_}
    return lambda: boyd(height_cm, weight_g, **coefficients)


def share(age, row):
    return lambda: region_percentages(EVIDENCE, age)[row]


def of_places(age, wanted):
    return lambda: sum(p for place, p in place_percentages(EVIDENCE, age).items() if wanted(place))


def is_right_arm_or_front_of_trunk(place):
    is_arm = place.region in (Region.UPPER_ARM, Region.FOREARM, Region.HAND) and place.side == "right"
    return is_arm or place.region is Region.ANTERIOR_TRUNK


def is_head_or_front_of_thigh(place):
    is_thigh_front = place.region is Region.THIGH and place.surface is Surface.FRONT
    return place.region in (Region.FACE, Region.SCALP) or is_thigh_front


def is_scalp(place):
    return place.region is Region.SCALP


def donor_percent(age):
    return lambda: potential_donor_percent(place_percentages(EVIDENCE, age))


HEAVY, LIGHT = "body-surface-livingston-lee", "body-surface-livingston-lee-light"
EXAMPLES = [
    *TABLE,
    Example("1", surface("du-bois", 175, 70), 1.848, 0.005, "textbook", Kind.PUBLISHED),
    Example("1 as printed", surface("du-bois", 175, 70), 1.85, 0.005, "textbook", Kind.PUBLISHED),
    Example("2", surface("mosteller", 180, 80), 2.000, 0.001, "mosteller-1987", Kind.DERIVED),
    Example("3", surface("haycock", 50, 3.5), 0.224, 0.002, "haycock-1978", Kind.DERIVED),
    Example("4", surface("gehan-george", 120, 24), 0.911, 0.002, "gehan-george-1970", Kind.DERIVED),
    Example("5", boyd_in_grams(170, 70_000), 1.835, 0.003, "boyd-1935", Kind.DERIVED),
    Example("6", surface("livingston-lee", 175, 180), 3.369, 0.003, "livingston-lee-2001", Kind.DERIVED),
    Example("7 light form", livingston(LIGHT, 10), 0.488, 0.002, "livingston-lee-2001", Kind.DERIVED),
    Example("7 heavy form", livingston(HEAVY, 10), 0.520, 0.002, "livingston-lee-2001", Kind.DERIVED),
    Example("10 head", share(7, "head"), 12.2, 0.01, "lund-browder-1944", Kind.DERIVED),
    Example("10 thigh", share(7, "thigh"), 8.2, 0.01, "lund-browder-1944", Kind.DERIVED),
    Example("10 leg", share(7, "lower-leg"), 5.7, 0.01, "lund-browder-1944", Kind.DERIVED),
    Example("11", of_places(30, is_right_arm_or_front_of_trunk), 22.5, 0, "lund-browder-1944", Kind.DERIVED),
    Example("12", of_places(0, is_head_or_front_of_thigh), 24.5, 1e-9, "lund-browder-1944", Kind.DERIVED),
    Example("17 adult", donor_percent(18), 81.0, 0.1, "assessment 3.1", Kind.DERIVED),
    Example("17 5 y", donor_percent(5), 77.6, 0.1, "assessment 3.1", Kind.DERIVED),
    Example("17 0 y", donor_percent(0), 74.1, 0.1, "assessment 3.1", Kind.DERIVED),
    Example("18", lambda: surface("mosteller", 175, 70)() * 100 * float(of_places(30, is_scalp)()), 553.5, 1,
            "assessment 3.2", Kind.MEMORY),
]  # fmt: skip


@pytest.mark.parametrize("example", EXAMPLES, ids=names(EXAMPLES))
def test_worked_example(example):
    check(example)


# Section 2.3: age -> head, one thigh, one leg.
INTERPOLATED = {
    0.5: ("18.0", "6.0", "5.0"), 2: ("16.0", "6.875", "5.125"), 3: ("15.0", "7.25", "5.25"),
    7: ("12.2", "8.2", "5.7"), 8: ("11.8", "8.3", "5.8"), 12: ("10.2", "8.7", "6.2"),
}  # fmt: skip


@pytest.mark.parametrize("age", INTERPOLATED)
def test_chart_is_interpolated_in_a_straight_line(age):
    shares = region_percentages(EVIDENCE, age)
    assert tuple(shares[row] for row in ("head", "thigh", "lower-leg")) == tuple(
        Decimal(expected) for expected in INTERPOLATED[age])


@pytest.mark.parametrize("age", [0, 0.5, 1, 2, 4.9, 5, 7, 10, 12, 15, 16.5, 18, 80])
def test_whole_body_front_and_back_at_every_age(age):
    """Examples 8 and 9: 100 in all. Front and back are 48 and 52 with the head split in half; the
    face holds 4/7 of it, so the front has one fourteenth of the head more."""
    shares = place_percentages(EVIDENCE, age)
    head = region_percentages(EVIDENCE, age)["head"]
    front = sum(s for place, s in shares.items() if place.surface is Surface.FRONT)
    assert float(sum(shares.values())) == pytest.approx(100, abs=1e-9)
    assert float(front) == pytest.approx(48 + float(head) / 14, abs=1e-9)


def test_every_place_has_a_share():
    assert set(place_percentages(EVIDENCE, 30)) == set(all_places())


OUTSIDE = {
    "du-bois": "DuBois", "mosteller": "Mosteller", "haycock": "Haycock",
    "gehan-george": "GehanGeorge", "fujimoto": "Fujimoto",
}  # fmt: skip


@pytest.mark.parametrize(("formula", "size"), list(product(OUTSIDE, COMPARISON)))
def test_agrees_with_an_independent_package(formula, size):
    height_cm, weight_kg = size
    expected = BSA(weight_kg, height_cm, OUTSIDE[formula], digits=6)
    assert by_formula(EVIDENCE, formula, height_cm, weight_kg) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("formula", FORMULAS)
@pytest.mark.parametrize(("height", "weight"), [(1.75, 70), (175, 70_000), (0, 70), (175, 0)])
def test_n8_a_number_in_another_unit_is_refused(formula, height, weight):
    with pytest.raises(ValueError):
        by_formula(EVIDENCE, formula, height, weight)


def test_n8_boyd_fed_with_kilograms_gives_no_body():
    assert boyd_in_grams(170, 70)() == pytest.approx(0.029, abs=0.001)


def test_n9_formulas_part_in_the_obese_and_the_spread_can_be_shown():
    surfaces = [by_formula(EVIDENCE, formula, 175, 180) for formula in FORMULAS]
    assert min(surfaces) == pytest.approx(2.735, abs=0.002)
    assert max(surfaces) == pytest.approx(3.369, abs=0.002)
