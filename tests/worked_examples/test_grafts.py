"""Expansion, donor reserve, plates, take and closure: worked examples of the grafting page."""

from math import sqrt

import pytest

from service.formulas.donor_reserve import (
    proportional_harvest_limit_percent_tbsa,
    single_harvest_limit_percent_tbsa,
)
from service.formulas.expansion import (
    achieved_share,
    harvest_area_cm2,
    island_pitch_mm,
    lin_longest_gap_mm,
    lin_widest_expansion_ratio,
    plate_area_cm2,
    plates_count,
    skin_placed_cm2,
    squares_of_strip_count,
)
from service.formulas.re_epithelialisation import island_closure_days
from service.formulas.take import lost_area_cm2
from tests.worked_examples.example import Example, Kind, check, names, value

LIN = {"square_root_factor": value("island-gap/square-root-factor"), "constant": value("island-gap/constant")}
PLATE_CM2 = plate_area_cm2(value("plate-side-mm/any"))
ISLAND_MM = value("plate-side-mm/any") / value("islands-per-plate-side/any")


def claimed_error_percent(measured, claimed):
    return lambda: 100 * (achieved_share(measured, claimed) - 1)


def donor_percent_of_wound(expansion):
    return lambda: harvest_area_cm2(100, expansion, shape_factor=1, handling_loss_fraction=0)


def closure(claimed):
    return lambda: island_closure_days(
        lin_longest_gap_mm(ISLAND_MM, claimed, **LIN),
        lag_days=value("epithelial-lag/any"),
        edge_speed_mm_per_day=value("epithelial-edge-speed/any"),
    )


def limit(expansion):
    return lambda: single_harvest_limit_percent_tbsa(value("never-donor-percent/any"), expansion)


def proportional_limit(expansion):
    return lambda: proportional_harvest_limit_percent_tbsa(value("never-donor-percent/any"), expansion)


def plates(area_cm2, expansion):
    return lambda: plates_count(area_cm2, PLATE_CM2, expansion, shape_factor=1)


def plates_per_percent(surface_m2, expansion):
    """Plates for 1 %TBSA, not rounded."""
    return lambda: surface_m2 * 100 / (PLATE_CM2 * expansion)


P, D, PD = Kind.PUBLISHED, Kind.DERIVED, Kind.PARTLY
EXAMPLES = [
    Example("1", lambda: 100 * achieved_share(1.27, 1.5), 84.7, 0.05, "kamolz-2013", P),
    Example("2", lambda: 100 * achieved_share(1.59, 3), 53.05, 0.06, "kamolz-2013", P),
    Example("3", lambda: 100 * achieved_share(5.63, 6), 93.8, 0.05, "kamolz-2013", P),
    Example("4", lambda: 100 * achieved_share(1.748, 4), 43.7, 0.05, "mesh-4-with-allograft", P),
    *(Example(f"5 mesh 1:{claimed}", claimed_error_percent(measured, claimed), printed, 0.3, "abstract-789", P)
      for measured, claimed, printed in (
          (1.20, 1, 20.2), (1.55, 1.5, 3.3), (1.68, 2, -15.8), (2.62, 3, -12.5), (2.87, 4, -28.3),
          (4.94, 6, -17.7))),
    *(Example(f"6 expansion {e}", donor_percent_of_wound(e), expected, 0.5, "pmid-33037725", PD)
      for e, expected in ((1.16, 86), (1.61, 62), (2.32, 43))),
    Example("8", lambda: lin_longest_gap_mm(3, 9, **LIN), 9.0, 1e-9, "lin-1994", PD),
    Example("9 x = 1", lambda: lin_widest_expansion_ratio(1, 5, **LIN), 19.6, 0.05, "lin-1994", D),
    Example("9 x = 3", lambda: lin_widest_expansion_ratio(3, 5, **LIN), 4.19, 0.01, "lin-1994", D),
    Example("11", limit(1), 40, 0, "den-hollander-2020", P),
    *(Example(f"7.1 R {r}", limit(r), expected, 0.05, "den-hollander-2020", D) for r, expected in (
        (1.27, 44.8), (1.59, 49.1), (2.99, 59.9), (3.74, 63.1), (5.63, 67.9), (9.0, 72.0))),
    *(Example(f"7.1 proportional R {r}", proportional_limit(r), expected, 0.06, "den-hollander-2020", D)
      for r, expected in (
          (1.0, 44.4), (1.27, 50.4), (1.59, 56.0), (2.99, 70.5), (3.74, 74.9), (5.63, 81.8), (9.0, 87.8))),
    Example("14", lambda: 226 - lost_area_cm2(226, 210 / 226), 210, 1e-9, "island case", P),
    *(Example(f"24 islands 1:{claimed}", closure(claimed), expected, 0.05, "calibrated", D)
      for claimed, expected in ((4, 22.0), (6, 27.9), (9, 35.1))),
    Example("2.1 plate", lambda: PLATE_CM2, 17.64, 1e-12, "geometry", Kind.MEMORY),
    Example("2.1 islands cover the plate", lambda: 196 * ISLAND_MM**2 / 100, 17.64, 1e-9, "geometry", D),
    *(Example(f"2.1 pitch 1:{r}", lambda r=r: island_pitch_mm(ISLAND_MM, r), expected, 0.005, "geometry", D)
      for r, expected in ((2, 4.24), (3, 5.20), (4, 6.00), (6, 7.35), (9, 9.00))),
    *(Example(f"2.1 gap by Lin 1:{r}", lambda r=r: lin_longest_gap_mm(ISLAND_MM, r, **LIN), expected, 0.006,
              "lin-1994", D)
      for r, expected in ((2, 2.34), (3, 3.67), (4, 4.80), (6, 6.69), (9, 9.00))),
    *(Example(f"2.2 plates a %TBSA {m2} m2 1:{r}", plates_per_percent(m2, r), expected, 0.005, "2.2", D)
      for m2, r, expected in (
          (1.6, 2.99, 3.03), (1.8, 3.74, 2.73), (1.8, 5.63, 1.81), (1.9, 9.0, 1.20))),
    Example("theatre 7", plates(3600, 5.63), 37, 0, "derived", D),
    Example("theatre 7 skin", lambda: plates(3600, 5.63)() * PLATE_CM2, 652.7, 0.1, "derived", D),
    Example("theatre 7 harvested",
            lambda: plates(3600, 5.63)() * PLATE_CM2 / value("strip-whole-square-share/any"), 919, 1, "derived", D),
    Example("theatre 8 wide", lambda: squares_of_strip_count(100, 250, 42), 10, 0, "derived", D),
    Example("theatre 8 narrow", lambda: squares_of_strip_count(76, 250, 42), 5, 0, "derived", D),
    Example("theatre 8 share", lambda: 100 * 10 * PLATE_CM2 / 250, 70.6, 0.05, "derived", D),
    Example("house", lambda: harvest_area_cm2(1000, 1.27, 1.0, 0.05), 829, 0.5, "pmid-33037725", D),
]  # fmt: skip


@pytest.mark.parametrize("example", EXAMPLES, ids=names(EXAMPLES))
def test_worked_example(example):
    check(example)


@pytest.mark.parametrize("claimed", [3, 4, 6, 9])
def test_closure_rows_follow_from_gap_lag_and_speed(claimed):
    assert value(f"closure-days/island-1-{claimed}") == pytest.approx(closure(claimed)(), abs=0.15)


def test_lattice_diagonal_and_lin_agree_within_a_millimetre():
    diagonal = (island_pitch_mm(ISLAND_MM, 9) - ISLAND_MM) * sqrt(2)
    assert diagonal == pytest.approx(8.49, abs=0.005)
    assert abs(diagonal - lin_longest_gap_mm(ISLAND_MM, 9, **LIN)) < 1


def test_negative_a_the_shortfall_is_charged_once():
    """Harvest for a wound, trimmed and expanded, covers exactly that wound."""
    harvested = harvest_area_cm2(1000, 1.6, 0.85, 0.05)
    assert skin_placed_cm2(harvested, 0.05) * 1.6 * 0.85 == pytest.approx(1000)
    assert value("handling-loss/any") < 0.25


def test_negative_b_mesh_of_six_does_not_expand_six_times():
    assert value("achieved-expansion-ratio/meshed-1-6") < 3
