"""Simulated courses against published series: what lies within, and that the explanations are true."""

import numpy as np
import pytest

from tests.published_bands.courses import Practice
from tests.published_bands.simulated import PAGE, TITLE, read_bands, simulate_adults, word_values
from tests.published_bands.table import LARGE_PERCENT, planned

BANDS = {band["measure"]: (float(band["low"]), float(band["high"])) for band in read_bands()}


def middle(measure: str, practice: Practice = Practice.USUAL) -> float:
    return float(np.quantile(simulate_adults(practice).values[measure], 0.5, method="inverted_cdf"))


@pytest.mark.parametrize("measure", ["take", "grafted-again", "closure"])
@pytest.mark.parametrize("practice", Practice)
def test_what_lies_within_the_published_band(measure, practice):
    low, high = BANDS[measure]
    assert low <= middle(measure, practice) <= high


@pytest.mark.parametrize("measure", ["area-of-a-session", "sessions"])
def test_what_lies_within_it_only_where_blood_is_spared(measure):
    low, high = BANDS[measure]
    assert not low <= middle(measure) <= high
    assert low <= middle(measure, Practice.BLOOD_SPARING) <= high


def test_simulated_courses_close_later_than_planned_ones():
    """The explanation in both tables: plans hold expected takes, courses meet failed grafts."""
    assert middle("closure") > np.median([float(day) for day in planned("closure", Practice.USUAL)])


def test_losses_reach_the_published_ones_in_the_worst_tenth():
    values = simulate_adults(Practice.USUAL).values
    assert np.quantile(values["grafted-again"], 0.9) >= 13
    assert np.quantile(values["take"], 0.1) <= 75


def test_about_as_many_courses_stay_open_as_the_page_says():
    for practice in Practice:
        assert 0.12 <= simulate_adults(practice).open_fraction <= 0.23


def test_courses_that_stay_open_are_those_of_the_largest_burns():
    values = simulate_adults(Practice.USUAL).values
    is_open = ~np.isfinite(values["closure"])
    assert (values["burn"][is_open] >= LARGE_PERCENT).mean() > 0.9


def test_a_range_says_when_some_courses_do_not_close():
    assert word_values(np.array([1.0, 2, 3, 4, 5, 6, 7, 8, 9, 10])) == "5 (1-9)"
    assert word_values(np.array([1.0, 2, 3, 4, 5, 6, 7, 8, np.inf, np.inf])) == "5 (1 to not by day 90)"


def test_the_page_explains_every_band():
    section = PAGE.read_text(encoding="utf-8").split(f"\n## {TITLE}\n", 1)[1].split("\n## ", 1)[0]
    for band in read_bands():
        assert band["why"] and band["why"] in section
