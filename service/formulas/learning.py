"""How readings in a patient move what is expected of that patient: conjugate updates."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt


@dataclass(frozen=True)
class BetaBelief:
    """A mean share, as a beta distribution. [0-1]"""

    a: float
    b: float

    @property
    def mean(self) -> float:
        return self.a / (self.a + self.b)


@dataclass(frozen=True)
class LogNormalBelief:
    """A ratio, as mean and spread of its logarithm: a normal-inverse-gamma distribution.

    ``mean`` and ``scale`` are of the logarithm and of its variance; ``weight`` counts readings.
    """

    mean: float
    weight: float
    shape: float
    scale: float


@dataclass(frozen=True)
class SessionReading:
    """Readings of one session: their mean, and how many of them as large as each other would weigh the same."""

    mean: float
    effective_count: float


def sum_up_session(values, areas_cm2) -> SessionReading:
    r"""Mean of the readings of one session, by area, and their effective number.

    Parameters
    ----------
    values : sequence of numeric
        Readings. [0-1]
    areas_cm2 : sequence of numeric
        Graft behind each. [cm²]

    Notes
    -----
    .. math:: n = (\sum A)^2 / \sum A^2

    Examples
    --------
    >>> sum_up_session([1.0, 0.5], [300, 100])
    SessionReading(mean=0.875, effective_count=1.6)
    """
    total = sum(areas_cm2)
    mean = sum(value * area for value, area in zip(values, areas_cm2, strict=True)) / total
    return SessionReading(mean, total**2 / sum(area**2 for area in areas_cm2))


def prior_of_patient_mean(mean, graft_variance, correlation, carried_share) -> BetaBelief:
    r"""What is expected of a patient's own mean take before any is read.

    Parameters
    ----------
    mean : numeric
        Of all patients. [0-1]
    graft_variance : numeric
        Of single grafts over all patients. [-]
    correlation : numeric
        Between grafts of one patient in one session. [0-1]
    carried_share : numeric
        Part of it that lasts into other sessions. [0-1]

    Notes
    -----
    The mean of a patient varies by :math:`c \rho \sigma^2` about the mean of all:

    .. math:: a + b = m (1 - m) / (c \rho \sigma^2) - 1
    """
    strength = mean * (1 - mean) / (carried_share * correlation * graft_variance) - 1
    return BetaBelief(mean * strength, (1 - mean) * strength)


def update_take(prior: BetaBelief, sessions, graft_variance, correlation, carried_share) -> BetaBelief:
    r"""A patient's mean take after some sessions have been read.

    Parameters
    ----------
    prior : BetaBelief
        From :func:`prior_of_patient_mean`, with the same three numbers.
    sessions : sequence of SessionReading
        In any order.

    Notes
    -----
    About the patient's mean a session varies by :math:`((1-c) \rho + (1-\rho)/n) \sigma^2`; it counts
    as as many trials as would vary as much:

    .. math:: k = m (1 - m) \frac{s}{s + 1} / (((1-c) \rho + (1-\rho)/n) \sigma^2)

    with :math:`s = a + b` of the prior. However many grafts a session has, it never counts as more
    than :math:`1/((1-c)\rho)` single ones.

    References
    ----------
    .. [1] evidence/tables/uncertainty.csv, ``take-correlation``, ``carried-over-share``
    """
    strength = prior.a + prior.b
    within = prior.mean * (1 - prior.mean) * strength / (strength + 1)
    a, b = prior.a, prior.b
    for session in sessions:
        spread = (1 - carried_share) * correlation + (1 - correlation) / session.effective_count
        trials = within / (spread * graft_variance)
        a, b = a + trials * session.mean, b + trials * (1 - session.mean)
    return BetaBelief(a, b)


def prior_of_healing_ratio(log_variance, correlation, carried_share) -> LogNormalBelief:
    r"""What is expected of a patient's healing, as a ratio to the days expected of each site, before any is read.

    Parameters
    ----------
    log_variance : numeric
        Of the logarithm of healing days over all patients and sites. [-]
    correlation, carried_share : numeric
        As in :func:`prior_of_patient_mean`. [0-1]

    Notes
    -----
    .. math:: \mu_0 = 0, \kappa_0 = (1 - c\rho) / (c\rho), \alpha_0 = 2, \beta_0 = (1 - c\rho) v

    so that a patient's mean varies by :math:`c \rho v`.
    """
    of_patient = carried_share * correlation
    return LogNormalBelief(0.0, (1 - of_patient) / of_patient, 2.0, (1 - of_patient) * log_variance)


def update_healing(prior: LogNormalBelief, ratios) -> LogNormalBelief:
    r"""The same after readings, one a session.

    Parameters
    ----------
    prior : LogNormalBelief
    ratios : sequence of numeric
        Days until healed, by the days expected of the site. [-]

    Notes
    -----
    .. math::
        \kappa_n = \kappa_0 + n, \quad \mu_n = (\kappa_0 \mu_0 + \sum y) / \kappa_n, \quad
        \alpha_n = \alpha_0 + n/2

        \beta_n = \beta_0 + \tfrac12 \sum (y - \bar y)^2 + \kappa_0 n (\bar y - \mu_0)^2 / (2 \kappa_n)
    """
    if not ratios:
        return prior
    logs = [log(ratio) for ratio in ratios]
    count, mean = len(logs), sum(logs) / len(logs)
    weight = prior.weight + count
    scatter = sum((one - mean) ** 2 for one in logs) / 2
    pull = prior.weight * count * (mean - prior.mean) ** 2 / (2 * weight)
    return LogNormalBelief(
        (prior.weight * prior.mean + count * mean) / weight, weight, prior.shape + count / 2,
        prior.scale + scatter + pull)


def healing_ratio(belief: LogNormalBelief, student_deviate) -> float:
    r"""A patient's median ratio at a deviate of Student's t with :math:`2\alpha` degrees of freedom; 0 is the middle.

    Notes
    -----
    .. math:: \exp(\mu + t \sqrt{\beta / (\alpha \kappa)})
    """
    return exp(belief.mean + student_deviate * sqrt(belief.scale / (belief.shape * belief.weight)))
