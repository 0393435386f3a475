"""What the caller asked for, said back: nobody should have to guess which wishes a plan rests on."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.case import Act, FixedDecision, GraftingCase, PlanRequest, TheatreDay
from service.domain.graft import GraftMethod
from service.domain.plan import PlanOutcome
from service.preferences.library import load_preferences
from service.wording.dates import date_in_words
from service.wording.languages import ENGLISH, N_, Words
from service.wording.methods import method_in_words
from service.wording.places import place_in_words, surface_in_words

_ACTS = {Act.EXCISE: N_("excise {place}"), Act.HARVEST: N_("take skin from {place}"), Act.PLACE: N_("graft {place}")}
_UNITS = {"1": "", "cm2": " cm²", "d": " days", "%.d": " %TBSA-days"}


def word_asked_for(answer: PlanAnswer) -> list[str]:
    """A sentence for each wish of the request, in the numbers that it stated; none for what it left open."""
    case, request = answer.case, answer.case.request
    decided = "Decided" if answer.plan.outcome is PlanOutcome.NO_PLAN else "Decided and kept"
    return [
        *(f"{decided}: {word_decision(decision)}." for decision in request.fixed_decisions),
        *(f"Skin kept for the {place_in_words(k.region)}: {as_stated(k.area_cm2)} cm²." for k in request.keep_for),
        *_watched(case),
        *_theatre_days(request),
        *_methods(request),
        *_stocks(request),
        *_limits(request),
        *_preferences(request),
    ]


def as_stated(value: Decimal) -> str:
    """The number unrounded, without zeros that say nothing."""
    whole, _, part = f"{value:,f}".partition(".")
    part = part.rstrip("0")
    return f"{whole}.{part}" if part else whole


def word_decision(decision: FixedDecision, _: Words = ENGLISH) -> str:
    """``graft left hand by sheet on 2026-03-10 Tue``."""
    key = "-".join(part for part in (decision.side, decision.region) if part)
    words = _(_ACTS[decision.act], place=place_in_words(key, _))
    if decision.method:
        words = _("{act} by {method}", act=words, method=method_in_words(decision.method, _))
    return _("{act} on {date}", act=words, date=date_in_words(decision.day)) if decision.day else words


def _watched(case: GraftingCase) -> Iterator[str]:
    for extent in case.record.extents:
        if extent.watch_until is not None:
            yield f"Watched until {date_in_words(extent.watch_until)}: {surface_in_words(extent.place)}."


def _theatre_days(request: PlanRequest) -> Iterator[str]:
    if request.theatre_days:
        yield f"Theatre only on: {'; '.join(map(_word_theatre_day, request.theatre_days))}."


def _word_theatre_day(theatre: TheatreDay) -> str:
    limits = [
        *([f"{theatre.minutes} min"] if theatre.minutes is not None else []),
        *([_positions(theatre.positions)] if theatre.positions is not None else []),
    ]
    day = date_in_words(theatre.day)
    return f"{day} ({', '.join(limits)})" if limits else day


def _positions(count: int) -> str:
    return "1 position" if count == 1 else f"{count} positions"


def _methods(request: PlanRequest) -> Iterator[str]:
    if request.methods_available != frozenset(GraftMethod):
        available = [method_in_words(m) for m in GraftMethod if m in request.methods_available]
        yield f"Only these methods: {'; '.join(available)}."


def _stocks(request: PlanRequest) -> Iterator[str]:
    if request.cover_stock_cm2 is not None:
        yield f"Temporary cover in stock: {as_stated(request.cover_stock_cm2)} cm²."
    if request.carrier_stock:
        counts = "; ".join(f"{count} at 1:{as_stated(ratio)}" for ratio, count in request.carrier_stock)
        yield f"Carriers in stock: {counts}."
    if request.transfusion_units is not None:
        yield f"Red-cell units available: {request.transfusion_units}."
    if request.limb_tourniquet is not None:
        yield f"Limbs are operated on {'under a' if request.limb_tourniquet else 'without a'} tourniquet."


def _limits(request: PlanRequest) -> Iterator[str]:
    if request.session_area_limit_percent_tbsa is not None:
        yield f"At most {as_stated(request.session_area_limit_percent_tbsa)} %TBSA in a session."
    if request.session_minutes_limit is not None:
        yield f"At most {as_stated(request.session_minutes_limit)} minutes of surgery in a session."


def _preferences(request: PlanRequest) -> Iterator[str]:
    """Value judgements of the service that the caller has replaced, with what they replace."""
    for key, value in request.preferences:
        row = load_preferences().row(*key.split("/", 1))
        unit = _UNITS.get(row.unit, f" {row.unit}")
        words = key.replace("-", " ").replace("/", ", ")
        yield f"Preference overridden: {words} {as_stated(value)}{unit} instead of {as_stated(row.value)}{unit}."
