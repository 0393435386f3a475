"""Updates against numerical integration with SciPy, their size, and whether their intervals hold what is true."""

from math import exp, log

import numpy as np
import pytest
from scipy import stats

from service.evidence.library import load_evidence
from service.formulas.learning import (
    SessionReading,
    healing_ratio,
    prior_of_healing_ratio,
    prior_of_patient_mean,
    sum_up_session,
    update_healing,
    update_take,
)

EVIDENCE = load_evidence()
CORRELATION = float(EVIDENCE.value("take-correlation", "within-patient"))
CARRIED = float(EVIDENCE.value("carried-over-share"))
ISLANDS = float(stats.beta(1.3, 0.35).var())
MEAN = float(EVIDENCE.value("take", "island"))
PRIOR = prior_of_patient_mean(MEAN, ISLANDS, CORRELATION, CARRIED)
HEALING = prior_of_healing_ratio(0.07, float(EVIDENCE.value("healing-correlation", "within-patient")), CARRIED)


def updated(*sessions):
    return update_take(PRIOR, sessions, ISLANDS, CORRELATION, CARRIED)


def session(take, count=1):
    return SessionReading(take, count)


def trials_of_one():
    return updated(session(0.5)).a + updated(session(0.5)).b - PRIOR.a - PRIOR.b


def test_the_prior_has_the_mean_and_the_spread_of_patients():
    assert PRIOR.mean == pytest.approx(MEAN)
    assert stats.beta(PRIOR.a, PRIOR.b).var() == pytest.approx(CARRIED * CORRELATION * ISLANDS)


def test_a_session_counts_by_area():
    assert sum_up_session([1.0, 0.5], [300, 100]) == SessionReading(0.875, 1.6)
    assert sum_up_session([0.7] * 4, [50] * 4).effective_count == 4


def test_the_posterior_of_takes_is_what_integration_gives():
    readings, k = (0.4, 0.7, 0.55), trials_of_one()
    grid = np.linspace(0.0005, 0.9995, 20_000)
    density = stats.beta(PRIOR.a, PRIOR.b).pdf(grid)
    for take in readings:
        density *= grid ** (k * take) * (1 - grid) ** (k * (1 - take))
    mean = float((grid * density).sum() / density.sum())
    spread = float((((grid - mean) ** 2) * density).sum() / density.sum())
    posterior = updated(*map(session, readings))
    assert posterior.mean == pytest.approx(mean, abs=1e-4)
    assert stats.beta(posterior.a, posterior.b).var() == pytest.approx(spread, rel=1e-3)


def test_one_reading_moves_little_and_ten_alike_much():
    one, ten = updated(session(0.4)), updated(*[session(0.4)] * 10)
    assert 0.15 < (MEAN - one.mean) / (MEAN - 0.4) < 0.35
    assert (MEAN - ten.mean) / (MEAN - 0.4) > 0.7


def test_many_grafts_of_one_session_count_as_little_more_than_one():
    one, many, two = updated(session(0.4)), updated(session(0.4, 100)), updated(*[session(0.4)] * 3)
    assert one.mean > many.mean > two.mean


def test_a_reading_as_expected_narrows_and_moves_nothing():
    posterior = updated(session(MEAN))
    assert posterior.mean == pytest.approx(MEAN)
    assert posterior.a + posterior.b > PRIOR.a + PRIOR.b


def test_the_order_of_sessions_changes_nothing():
    assert updated(session(0.4), session(0.9, 3)).mean == pytest.approx(updated(session(0.9, 3), session(0.4)).mean)


@pytest.mark.parametrize("nominal", [0.8, 0.95])
@pytest.mark.parametrize("count", [1, 3, 10])
def test_intervals_of_the_take_hold_a_known_truth(nominal, count):
    random = np.random.default_rng(8)
    truths = stats.beta(PRIOR.a, PRIOR.b).rvs(3_000, random_state=random)
    concentration = trials_of_one() - 1  # readings vary about the truth as the update takes them to
    readings = random.beta(*(share[:, None].repeat(count, axis=1) * concentration for share in (truths, 1 - truths)))
    beliefs = [updated(*map(session, row)) for row in readings]
    low, high = stats.beta.interval(nominal, [belief.a for belief in beliefs], [belief.b for belief in beliefs])
    assert np.mean((low <= truths) & (truths <= high)) == pytest.approx(nominal, abs=0.03)


def test_the_posterior_of_healing_is_what_integration_gives():
    logs = np.array([0.3, 0.1, 0.45, 0.2])
    posterior = update_healing(HEALING, list(np.exp(logs)))
    means, variances = np.meshgrid(np.linspace(-1, 1.2, 1_201), np.linspace(1e-4, 1, 2_000))
    density = (stats.invgamma(HEALING.shape, scale=HEALING.scale).pdf(variances)
               * stats.norm(HEALING.mean, np.sqrt(variances / HEALING.weight)).pdf(means))
    for one in logs:
        density *= stats.norm(means, np.sqrt(variances)).pdf(one)
    marginal = density.sum(axis=0) / density.sum()
    at = np.cumsum(marginal)
    grid = means[0]
    assert posterior.mean == pytest.approx(float((grid * marginal).sum()), abs=1e-3)
    for probability in (0.1, 0.9):
        deviate = stats.t(2 * posterior.shape).ppf(probability)
        integrated = float(np.interp(probability, at, grid))
        assert log(healing_ratio(posterior, deviate)) == pytest.approx(integrated, abs=2e-3)


def test_one_healing_moves_little_and_ten_alike_much():
    one, ten = update_healing(HEALING, [2.0]), update_healing(HEALING, [2.0] * 10)
    assert 0.15 < one.mean / log(2) < 0.35
    assert ten.mean / log(2) > 0.7


def test_nothing_seen_leaves_the_prior():
    assert update_healing(HEALING, []) == HEALING
    assert updated() == PRIOR
    assert healing_ratio(HEALING, 0) == 1


@pytest.mark.parametrize("nominal", [0.8, 0.95])
@pytest.mark.parametrize("count", [1, 3, 10])
def test_intervals_of_the_healing_hold_a_known_truth(nominal, count):
    random = np.random.default_rng(9)
    variances = stats.invgamma(HEALING.shape, scale=HEALING.scale).rvs(3_000, random_state=random)
    truths = random.normal(HEALING.mean, np.sqrt(variances / HEALING.weight))
    deviate = stats.t(2 * HEALING.shape + count).ppf((1 + nominal) / 2)
    held = 0
    for truth, variance in zip(truths, variances, strict=True):
        posterior = update_healing(HEALING, list(np.exp(random.normal(truth, variance**0.5, count))))
        held += healing_ratio(posterior, -deviate) <= exp(truth) <= healing_ratio(posterior, deviate)
    assert held / len(truths) == pytest.approx(nominal, abs=0.03)
