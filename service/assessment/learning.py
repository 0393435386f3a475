"""Learning from this patient: recorded takes and healing times move what is expected of the next ones.

Takes count both ways. Healing counts one way only: a patient who heals slowly is planned slower, one who heals fast is
planned like everybody until a record says that a site has healed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from math import exp, log
from statistics import NormalDist

from service.assessment.donor_sites import thickness_class
from service.domain.case import GraftingCase
from service.domain.donor_site import DonorState, HarvestRecord
from service.domain.graft import GraftKind
from service.domain.learning import Belief, Learned, LearnedAbout
from service.evidence.beta import beta_quantile
from service.evidence.distributions import read_distribution
from service.evidence.donor_healing import healing_row, repeat_row
from service.evidence.library import Evidence, EvidenceRow
from service.formulas.learning import (
    BetaBelief,
    LogNormalBelief,
    SessionReading,
    healing_ratio,
    prior_of_healing_ratio,
    prior_of_patient_mean,
    sum_up_session,
    update_healing,
    update_take,
)
from service.preferences.library import Preferences

THOUSANDTH = Decimal("0.001")
_HALF = Decimal("0.5")


def learn_from_record(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> tuple[Learned, ...]:
    """What the record has shown of this patient; nothing where nothing has been read.

    Parameters
    ----------
    case : GraftingCase
        With its record.
    evidence : Evidence
        Of all patients: where every prior comes from.
    preferences : Preferences
        ``interval-share`` of the intervals.
    """
    tail = (1 - float(preferences.value("interval-share"))) / 2
    takes = (_learn_take(case, kind, evidence, tail) for kind in GraftKind)
    return tuple(learned for learned in (*takes, _learn_healing(case, evidence, tail)) if learned)


def evidence_of_patient(evidence: Evidence, learned: tuple[Learned, ...]) -> Evidence:
    """The evidence with this patient's own numbers in place of those of all patients.

    Planner, verification and simulation all read it, so that they agree on the patient. Its
    hash stays that of the tables: what was put in place follows from them and the request.
    """
    changed: list[EvidenceRow] = []
    for one in learned:
        if one.about is LearnedAbout.DONOR_HEALING:
            changed += _slower_rows(evidence, one.posterior.value)
        else:
            changed += _take_rows(evidence, one)
    return evidence.with_rows(changed)


def posterior_take(case: GraftingCase, kind: GraftKind, evidence: Evidence) -> BetaBelief:
    """This patient's mean take by one method, as a beta distribution; the prior where none is read."""
    return update_take(_prior_take(kind, evidence), list(_take_sessions(case, kind).values()),
                       *_spread_of_takes(kind, evidence))


def posterior_healing(case: GraftingCase, evidence: Evidence) -> LogNormalBelief:
    """This patient's healing as a ratio to the days expected of a site; the prior where none is read."""
    readings = list(_healing_readings(case, evidence))
    return update_healing(_prior_healing(readings, evidence), _by_session(readings))


def _learn_take(case: GraftingCase, kind: GraftKind, evidence: Evidence, tail: float) -> Learned | None:
    sessions = _take_sessions(case, kind)
    if not sessions:
        return None
    read = _read_placements(case, kind)
    area = sum(p.area_cm2 for p in read)
    return Learned(
        LearnedAbout(f"{kind}-take"), _of_beta(_prior_take(kind, evidence), tail),
        _round(sum(p.take_fraction * p.area_cm2 for p in read) / area), len(read), len(sessions),
        _of_beta(posterior_take(case, kind, evidence), tail), tuple(sorted({p.source for p in read})))


def _read_placements(case: GraftingCase, kind: GraftKind) -> list:
    return [p for p in case.record.placements
            if p.method.kind is kind and p.take_fraction is not None and p.area_cm2 > 0]


def _take_sessions(case: GraftingCase, kind: GraftKind) -> dict:
    """Readings by the day of the graft, each session summed up; in order of days, so that sums are the same."""
    by_day = defaultdict(list)
    for placement in _read_placements(case, kind):
        by_day[placement.day].append((float(placement.take_fraction), float(placement.area_cm2)))
    return {day: _sum_up(sorted(by_day[day])) for day in sorted(by_day)}


def _sum_up(readings: list[tuple[float, float]]) -> SessionReading:
    return sum_up_session([take for take, _ in readings], [area for _, area in readings])


def _spread_of_takes(kind: GraftKind, evidence: Evidence) -> tuple[float, float, float]:
    """Variance of single grafts, correlation within a patient, and the share of it that is carried over."""
    a, b = _single_grafts(kind, evidence)
    variance = a * b / ((a + b) ** 2 * (a + b + 1))
    return (variance, float(evidence.value("take-correlation", "within-patient")),
            float(evidence.value("carried-over-share")))


def _single_grafts(kind: GraftKind, evidence: Evidence) -> tuple[float, float]:
    """Parameters of the beta distribution of single grafts."""
    parameter = "single-graft-take" if evidence.has("single-graft-take", kind) else "take"
    _, of = read_distribution(evidence.row(parameter, kind).distribution)
    return of["a"], of["b"]


def _prior_take(kind: GraftKind, evidence: Evidence) -> BetaBelief:
    return prior_of_patient_mean(float(evidence.value("take", kind)), *_spread_of_takes(kind, evidence))


def _of_beta(belief: BetaBelief, tail: float) -> Belief:
    return Belief(_round(belief.mean), _round(beta_quantile(belief.a, belief.b, tail)),
                  _round(beta_quantile(belief.a, belief.b, 1 - tail)))


def _take_rows(evidence: Evidence, learned: Learned) -> Iterator[EvidenceRow]:
    """The expected take of the method as learnt, and single grafts about it as concentrated as in all patients."""
    kind = learned.about.removesuffix("-take")
    row = evidence.row("take", kind)
    value = learned.posterior.value
    a, b = _single_grafts(kind, evidence)
    mean = min(max(float(value), float(THOUSANDTH)), 1 - float(THOUSANDTH))
    yield replace(row, value=value, low=min(row.low, learned.posterior.low), high=max(row.high, learned.posterior.high))
    yield replace(row, parameter="single-graft-take", value=value, low=Decimal(0), high=Decimal(1),
                  distribution=f"beta({mean * (a + b):.6f},{(1 - mean) * (a + b):.6f})")


def _learn_healing(case: GraftingCase, evidence: Evidence, tail: float) -> Learned | None:
    readings = list(_healing_readings(case, evidence))
    if not readings:
        return None
    ratios = _by_session(readings)
    mean = exp(sum(map(log, ratios)) / len(ratios))
    prior = _prior_healing(readings, evidence)
    return Learned(LearnedAbout.DONOR_HEALING, _of_ratio(prior, tail), _round(mean), len(readings), len(ratios),
                   _of_ratio(posterior_healing(case, evidence), tail),
                   tuple(sorted({harvest.source for harvest, _, _ in readings})))


def _healing_readings(case: GraftingCase, evidence: Evidence) -> Iterator[tuple[HarvestRecord, float, float]]:
    """Harvests whose healing was seen: with the ratio to the expected days, and the log variance of such a site.

    Where the thickness is not recorded nothing can be expected, so nothing is learnt.
    """
    for harvest in sorted(case.record.harvests, key=lambda h: (h.day, h.place.key, h.source)):
        days = _healing_days_seen(case, harvest, evidence)
        if days:
            expected, variance = _expected_healing(case, harvest, evidence)
            yield harvest, days / expected, variance


def _healing_days_seen(case: GraftingCase, harvest: HarvestRecord, evidence: Evidence) -> int | None:
    """Days until the site was seen healed, when that says how long it took.

    A first look long after the expected day says nothing: it may have healed any day before. A
    site seen healing later than expected counts with the days it has taken so far.
    """
    if harvest.thickness_mm is None:
        return None
    later = [h.day for h in case.record.harvests if h.place == harvest.place and h.day > harvest.day]
    seen = sorted((s.observed, s.state) for s in case.record.donor_states
                  if s.place == harvest.place and harvest.day < s.observed <= min(later, default=s.observed))
    expected, _ = _expected_healing(case, harvest, evidence)
    healing = [(day - harvest.day).days for day, state in seen if state is DonorState.HEALING]
    healed = [(day - harvest.day).days for day, state in seen if state is DonorState.HEALED]
    if healed and (healed[0] <= expected or any(days < healed[0] for days in healing)):
        return healed[0]
    return healing[-1] if healing and healing[-1] > expected else None


def _expected_healing(case: GraftingCase, harvest: HarvestRecord, evidence: Evidence) -> tuple[float, float]:
    """Median days of such a site in all patients, and the variance of their logarithm."""
    thickness = thickness_class(harvest.thickness_mm, evidence)
    row = healing_row(harvest.place, thickness, case.age_band)
    earlier = sum(1 for h in case.record.harvests if h.place == harvest.place and h.day < harvest.day)
    repeat = float(evidence.quantile("donor-healing-repeat-factor", repeat_row(harvest.place, case.age_band), _HALF))
    one_sd = Decimal(str(round(NormalDist().cdf(1), 3)))
    median, above = (float(evidence.quantile("donor-healing-days", row, p)) for p in (_HALF, one_sd))
    return median * repeat**earlier, log(above / median) ** 2


def _prior_healing(readings: list[tuple[HarvestRecord, float, float]], evidence: Evidence) -> LogNormalBelief:
    variances = [variance for _, _, variance in readings] or [
        log(float(row.high) / float(row.value)) ** 2 for row in evidence.rows("donor-healing-days")]
    return prior_of_healing_ratio(
        sum(variances) / len(variances), float(evidence.value("healing-correlation", "within-patient")),
        float(evidence.value("carried-over-share")))


def _by_session(readings: list[tuple[HarvestRecord, float, float]]) -> list[float]:
    """One ratio a session, the middle of its sites: sites harvested together heal alike."""
    by_day = defaultdict(list)
    for harvest, ratio, _ in readings:
        by_day[harvest.day].append(log(ratio))
    return [exp(sum(logs) / len(logs)) for _, logs in sorted(by_day.items())]


def _of_ratio(belief: LogNormalBelief, tail: float) -> Belief:
    from scipy.special import stdtrit  # heavy to import, and needed only where healing was seen

    deviate = float(stdtrit(2 * belief.shape, 1 - tail))
    return Belief(*(_round(healing_ratio(belief, t)) for t in (0, -deviate, deviate)))


def _slower_rows(evidence: Evidence, ratio: Decimal) -> Iterator[EvidenceRow]:
    """Healing days stretched for a patient who heals slowly; left as they are for one who heals fast."""
    if ratio <= 1:
        return
    for row in evidence.rows("donor-healing-days"):
        later = {name: (getattr(row, name) * ratio).quantize(THOUSANDTH, ROUND_CEILING)
                 for name in ("value", "low", "high")}
        yield replace(row, **later, distribution=_stretch(row.distribution, float(ratio)))


def _stretch(distribution: str, ratio: float) -> str:
    """A standard deviation grows with the days; a factor or a bare range does so by itself."""
    name, arguments = read_distribution(distribution)
    return f"{name}(sd={arguments['sd'] * ratio:.6f})" if "sd" in arguments else distribution


def _round(value: float | Decimal) -> Decimal:
    return Decimal(value).quantize(THOUSANDTH, ROUND_HALF_EVEN)
