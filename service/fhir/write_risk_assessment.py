"""RiskAssessment: every forecast of the plan. A forecast is never an Observation.

Probabilities are percentages of simulated courses; where nothing was simulated none is given.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import groupby

from service.domain.forecast import Spread
from service.domain.learning import LearnedAbout
from service.domain.plan import Closure, LedgerEntry
from service.domain.session import Session
from service.fhir.identity import Identity
from service.fhir.write_acts import name_session
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame
from service.wording.forecast_text import (
    forecast_rows,
    further_fraction,
    word_bottleneck,
    word_closed_by_horizon,
    word_course,
    word_coverage,
    word_interval_share,
    word_lapse,
    word_need,
)
from service.wording.learning_text import word_data, word_learned
from service.wording.parameter_text import word_parameters
from service.wording.places import place_in_words
from service.wording.rounding import need_cm2

COURSE = "course-forecast"
CLOSURE = "closure-forecast"
SESSIONS = "session-forecast"
SHORTFALL = "shortfall-forecast"
DONOR_RESERVE = "donor-reserve-forecast"
LEARNED_TAKE = "patient-take-forecast"
LEARNED_HEALING = "patient-healing-forecast"
LEARNING_METHOD = "Numbers of all patients, moved by what was read in this one; with the interval of the belief"


def write_forecasts(frame: AnswerFrame) -> Iterator[tuple[Identity, dict]]:
    """Closure, sessions, shortfall, and the donor reserve of each site."""
    sources = [key for wound in frame.case.wounds for key in wound.sources]
    for kind, title, predictions in (
        (CLOSURE, "Expected closure", _predict_closure(frame)),
        (SESSIONS, "Expected theatre sessions", _predict_sessions(frame)),
        (SHORTFALL, "Wound left without skin", _predict_shortfall(frame)),
    ):
        yield _write_forecast(frame, WHOLE_PATIENT, kind, title, predictions, sources)
    if frame.answer.plan.forecast is not None:
        yield _write_forecast(frame, WHOLE_PATIENT, COURSE, "Simulated courses", list(_predict_course(frame)), sources)
    yield from _write_donor_reserves(frame)
    yield from _write_learned(frame)


def _write_forecast(frame, subject_key, kind, title, predictions, sources) -> tuple[Identity, dict]:
    identity = frame.identify(subject_key, kind)
    forecast = {
        "resourceType": "RiskAssessment",
        "identifier": [identity.identifier],
        "status": "preliminary",
        "method": {"text": _word_method(frame, kind)},
        "code": frame.concept(f"forecast/{kind}", title),
        "subject": frame.patient,
        "occurrenceDateTime": frame.as_of,
        "performer": frame.device,
        "prediction": predictions,
    }
    basis = frame.refer_all(sources)
    return identity, {**forecast, "basis": basis} if basis else forecast


def _word_method(frame: AnswerFrame, kind: str) -> str:
    forecast = frame.answer.plan.forecast
    if kind == COURSE:
        return f"{forecast.courses_count} simulated courses, seed {forecast.seed}. {word_interval_share(forecast)}"
    if kind == SESSIONS and forecast is not None:
        return "Deterministic plan from the cautious ends of the evidence; probabilities from simulated courses"
    return "Deterministic plan from the cautious ends of the evidence; not simulated"


def _percent_of(fraction: Decimal) -> Decimal:
    """Probability as FHIR wants it. [%]"""
    return fraction * 100


def _predict_course(frame: AnswerFrame) -> Iterator[dict]:
    """Low, middle and high of the course, whether each harvest covers, and what holds the course up."""
    case, plan = frame.case, frame.answer.plan
    forecast = plan.forecast
    yield {"outcome": {"text": word_course(case, forecast)}, **_closure_period(frame, forecast.closure_day)}
    yield {
        "outcome": {"text": word_closed_by_horizon(forecast)},
        "probabilityDecimal": _percent_of(forecast.closed_fraction),
        "whenPeriod": _period(frame, case.horizon_day, case.horizon_day),
    }
    for name, middle, span in forecast_rows(case, forecast):
        yield {"outcome": {"text": f"{name}: {middle}" + (f" ({span})" if span else "")}}
    days = {session.ordinal: session.day for session in plan.settled.sessions}
    for session in forecast.session_forecasts:
        words = word_coverage(session, forecast.wanted_fraction)
        if words:
            yield {
                "outcome": {"text": f"Session {session.ordinal}: {words[0]}"},
                "probabilityDecimal": _percent_of(session.covers_fraction),
                "whenPeriod": _period(frame, days[session.ordinal], days[session.ordinal]),
                "rationale": word_need(session),
            }
    for sentence in word_parameters(frame.answer):
        yield {"outcome": {"text": sentence}}
    if word_bottleneck(forecast):
        yield {
            "outcome": {"text": word_bottleneck(forecast)},
            "probabilityDecimal": _percent_of(forecast.bottleneck_fraction),
        }
    if word_lapse(forecast):
        yield {
            "outcome": {"text": word_lapse(forecast)},
            "probabilityDecimal": _percent_of(forecast.cover_lapse_fraction),
        }


def _closure_period(frame: AnswerFrame, spread: Spread) -> dict:
    """From low to high; without an end where too many courses do not close within the horizon."""
    if spread.low is None:
        return {}
    start = {"start": frame.date(int(spread.low))}
    return {"whenPeriod": start if spread.high is None else {**start, "end": frame.date(int(spread.high))}}


def _period(frame: AnswerFrame, first_day: int, last_day: int) -> dict:
    return {"start": frame.date(first_day), "end": frame.date(last_day)}


def _predict_closure(frame: AnswerFrame) -> list[dict]:
    predictions = [_predict_wound_closure(frame, closure) for closure in frame.answer.plan.closures]
    day = frame.answer.plan.closure_day
    if day is None:
        overall = {"outcome": {"text": "Not every wound is expected to close within the planned horizon"}}
    else:
        overall = {
            "outcome": {"text": "Last wound expected to be closed"},
            "whenPeriod": _period(frame, day, max([day, *_high_days(frame)])),
        }
    return [overall, *predictions]


def _high_days(frame: AnswerFrame) -> list[int]:
    return [closure.high_day for closure in frame.answer.plan.closures if closure.high_day is not None]


def _predict_wound_closure(frame: AnswerFrame, closure: Closure) -> dict:
    name = place_in_words(closure.wound_id)
    if closure.day is None:
        return {"outcome": {"text": f"{name}: not expected to close within the planned horizon"}}
    low = closure.day if closure.low_day is None else closure.low_day
    high = closure.day if closure.high_day is None else closure.high_day
    return {
        "outcome": {"text": f"{name}: closed"},
        "whenPeriod": _period(frame, low, high),
        "rationale": f"Expected on {frame.date(closure.day)}; closed means at least 95 % epithelialised.",
    }


def _predict_sessions(frame: AnswerFrame) -> list[dict]:
    sessions = frame.answer.plan.settled.sessions
    if not sessions:
        return [{"outcome": {"text": "No theatre session is planned"}}]
    return [
        {
            "outcome": {"text": name_session(s)},
            **_chance_of_session(frame, s),
            "whenPeriod": _period(frame, s.day, s.day),
        }
        for s in sessions
    ]


def _chance_of_session(frame: AnswerFrame, session: Session) -> dict:
    """How often a possible session is held in the simulated courses."""
    plan = frame.answer.plan
    if not session.is_contingent or plan.forecast is None:
        return {}
    return {"probabilityDecimal": _percent_of(further_fraction(plan.settled, session, plan.forecast))}


def _predict_shortfall(frame: AnswerFrame) -> list[dict]:
    plan = frame.answer.plan.settled
    lines = [f"{place_in_words(o.wound_id)}: {need_cm2(o.area_cm2)} still open" for o in plan.still_open]
    lines += [
        f"{place_in_words(u.region_key)}: "
        f"no skin in reserve for {need_cm2(u.area_cm2)} of expected graft loss"
        for u in plan.unreserved
    ]
    horizon = _period(frame, frame.case.horizon_day, frame.case.horizon_day)
    return [
        {"outcome": {"text": line}, "whenPeriod": horizon}
        for line in lines or ["Skin suffices for every wound that was planned"]
    ]


def _write_donor_reserves(frame: AnswerFrame) -> Iterator[tuple[Identity, dict]]:
    sites = {site.site_id: site for site in frame.case.donor_sites}
    by_site = sorted(frame.answer.plan.ledger, key=lambda entry: (entry.site_id, entry.day))
    for site_id, entries in groupby(by_site, key=lambda entry: entry.site_id):
        title = f"Donor reserve: {place_in_words(site_id)}"
        predictions = [
            _predict_reserve(frame, entry, last_day) for entry, last_day in _stretches(entries, frame.case.horizon_day)
        ]
        yield _write_forecast(frame, site_id, DONOR_RESERVE, title, predictions, sites[site_id].sources)


def _write_learned(frame: AnswerFrame) -> Iterator[tuple[Identity, dict]]:
    """What is expected of this patient now, with what was expected before and what was read."""
    for learned in frame.answer.learned:
        kind = LEARNED_HEALING if learned.about is LearnedAbout.DONOR_HEALING else LEARNED_TAKE
        prediction = {"outcome": {"text": word_learned(learned)}, "rationale": word_data(learned)}
        identity, forecast = _write_forecast(
            frame, learned.about, kind, "Learnt from this patient", [prediction], learned.sources)
        yield identity, {**forecast, "method": {"text": LEARNING_METHOD}}


def _stretches(entries: Iterator[LedgerEntry], horizon_day: int) -> Iterator[tuple[LedgerEntry, int]]:
    """Each change of the reserve, with the last day on which it stays as it is then."""
    runs = groupby(entries, key=lambda e: (e.usable_cm2, e.healing_cm2, e.spent_cm2))
    changes = [next(run) for _, run in runs]
    ends = [change.day - 1 for change in changes[1:]]
    return zip(changes, [*ends, horizon_day], strict=True)


def _predict_reserve(frame: AnswerFrame, entry: LedgerEntry, last_day: int) -> dict:
    shares = (("usable", entry.usable_cm2), ("healing", entry.healing_cm2), ("spent", entry.spent_cm2))
    return {
        "outcome": {"text": ", ".join(f"{name} {area_cm2:.1f} cm²" for name, area_cm2 in shares)},
        "whenPeriod": _period(frame, entry.day, last_day),
    }
