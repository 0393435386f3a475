"""The fluid cross-check of a case: only within the day that begins with an hour of injury."""

from __future__ import annotations

from datetime import datetime
from decimal import ROUND_HALF_EVEN, Decimal

from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.fluids import FluidEstimate, FluidLine, HourlyRates
from service.evidence.library import Evidence
from service.formulas.fluids import day_volume_ml, fluid_rates, maintenance_ml_per_hour, rule_of_ten_ml_per_hour
from service.preferences.library import Preferences

FIGURES = ("low", "middle", "high", "observed-mean")
CHILDREN = (SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD)
SECONDS_PER_HOUR = Decimal(3600)
MONTHS_PER_YEAR = Decimal(12)
STEP = Decimal("0.1")
NOTHING = Decimal(0)


def estimate_fluids(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> FluidEstimate | None:
    """A band of resuscitation volumes to compare with, or ``None`` where it would say nothing.

    Parameters
    ----------
    case : GraftingCase
        Weight [kg], burn without erythema [%TBSA], hour of injury and moment of the answer.
    evidence, preferences : figures of the band; how fast catching up may be

    Returns
    -------
    FluidEstimate or None
        ``None`` when only the day of injury is known, after the first day, and for a burn
        under one per cent of body surface. What was given so far is not known, so the rates
        of a late arrival assume that nothing was.
    """
    hours = _hours_since_injury(case)
    whole = evidence.value("fluid-hours", "whole")
    if hours is None or not 0 <= hours < whole or case.burn_percent_tbsa < 1:
        return None
    weight = case.record.patient.weight_kg.value
    is_child = case.age_band in CHILDREN
    thresholds, threshold_source = _thresholds(case, is_child, evidence)
    urine, urine_source = _urine_target(weight, is_child, evidence)
    is_first_over = hours >= evidence.value("fluid-hours", "first-half")
    rule_of_ten = None if is_first_over else _rule_of_ten(case, weight, is_child, evidence)
    maintenance = _maintenance(weight, evidence) if is_child else None
    return FluidEstimate(
        since_injury_hours=_rounded(hours),
        first_half_hours=evidence.value("fluid-hours", "first-half"),
        whole_hours=whole,
        weight_kg=weight,
        burn_percent_tbsa=case.burn_percent_tbsa,
        lines=tuple(_line(figure, weight, hours, case, evidence, preferences) for figure in FIGURES),
        urine_low_ml_per_hour=urine[0],
        urine_high_ml_per_hour=urine[1],
        maintenance_ml_per_hour=maintenance,
        rule_of_ten_ml_per_hour=rule_of_ten,
        threshold_low_percent=thresholds[0],
        threshold_high_percent=thresholds[1],
        review_ml_per_kg=evidence.value("fluid-review-per-kg"),
        review_ml_per_kg_percent=evidence.value("fluid-review-per-kg-percent"),
        catch_up_cap_ratio=preferences.value("fluid-catch-up-factor"),
        sources=(
            *(f"fluid-per-kg-percent/{figure}" for figure in FIGURES),
            "fluid-hours/first-half", "fluid-hours/whole", threshold_source, urine_source,
            "fluid-review-per-kg/any", "fluid-review-per-kg-percent/any",
            *(() if maintenance is None else (f"maintenance-per-kg-hour/{n}" for n in ("first", "next", "rest"))),
            *(() if rule_of_ten is None else ("rule-of-ten/ml-per-hour-per-percent",)),
        ),
    )


def _hours_since_injury(case: GraftingCase) -> Decimal | None:
    """Hours from the injury to now; ``None`` when its hour is not on record. [h]"""
    injury = case.record.patient.injury
    if not isinstance(injury, datetime):
        return None
    return Decimal((case.request.as_of - injury).total_seconds()) / SECONDS_PER_HOUR


def _rounded(value: Decimal) -> Decimal:
    return value.quantize(STEP, ROUND_HALF_EVEN)


def _line(figure: str, weight: Decimal, hours: Decimal, case: GraftingCase, evidence: Evidence,
          preferences: Preferences) -> FluidLine:
    """Volume of one figure, with the rates that keep pace and those that catch up."""
    per_kg_percent = evidence.value("fluid-per-kg-percent", figure)
    volume = day_volume_ml(weight, case.burn_percent_tbsa, per_kg_percent)
    first_half, whole = evidence.value("fluid-hours", "first-half"), evidence.value("fluid-hours", "whole")

    def rates(hours_since_injury: Decimal):
        return fluid_rates(volume, hours_since_injury=hours_since_injury, given_ml=NOTHING,
                           first_half_hours=first_half, whole_hours=whole)

    on_time, late = rates(NOTHING), rates(hours)
    cap = preferences.value("fluid-catch-up-factor") * on_time.first_ml_per_hour
    is_first_over = hours >= first_half
    review = min(evidence.value("fluid-review-per-kg"),
                 evidence.value("fluid-review-per-kg-percent") * case.burn_percent_tbsa)
    return FluidLine(
        figure=figure,
        ml_per_kg_percent=per_kg_percent,
        day_volume_ml=_rounded(volume),
        keeping_pace=HourlyRates(
            None if is_first_over else _rounded(on_time.first_ml_per_hour), _rounded(on_time.then_ml_per_hour)),
        catching_up=HourlyRates(
            None if is_first_over else _rounded(min(late.first_ml_per_hour, cap)),
            _rounded(min(late.then_ml_per_hour, cap))),
        is_catch_up_capped=late.first_ml_per_hour > cap,
        is_over_review=volume > review * weight,
    )


def _thresholds(case: GraftingCase, is_child: bool, evidence: Evidence) -> tuple[tuple[Decimal, Decimal], str]:
    """Burn size from which resuscitation is formal, as the lowest and highest that is published. [%TBSA]"""
    if not is_child:
        row = evidence.row("fluid-threshold-percent", "adult")
        return (row.low, row.high), row.row_id
    is_infant = case.age_years * MONTHS_PER_YEAR <= evidence.value("fluid-infant-months")
    row = evidence.row("fluid-threshold-percent", "infant" if is_infant else "child")
    return (row.value, row.value), row.row_id


def _urine_target(weight: Decimal, is_child: bool, evidence: Evidence) -> tuple[tuple[Decimal, Decimal], str]:
    """Urine output to titrate to; an adult's has a floor. [mL/h]"""
    is_small = is_child and weight < evidence.value("urine-child-below-kg")
    row = evidence.row("urine-target-per-kg-hour", "child" if is_small else "adult")
    low, high = row.low * weight, row.high * weight
    if not is_child:
        floor = evidence.value("urine-floor-per-hour")
        low, high = max(low, floor), max(high, floor)
    return (_rounded(low), _rounded(high)), row.row_id


def _maintenance(weight: Decimal, evidence: Evidence) -> Decimal:
    first, following, rest = (evidence.value("maintenance-per-kg-hour", n) for n in ("first", "next", "rest"))
    return _rounded(maintenance_ml_per_hour(
        weight, step_kg=evidence.value("maintenance-step-kg"),
        first_ml_per_kg=first, next_ml_per_kg=following, rest_ml_per_kg=rest))


def _rule_of_ten(case: GraftingCase, weight: Decimal, is_child: bool, evidence: Evidence) -> Decimal | None:
    """First rate by the rule of ten, for an adult heavy enough for it. [mL/h]"""
    lowest = evidence.value("rule-of-ten", "lowest-weight-kg")
    if is_child or weight < lowest:
        return None
    return _rounded(rule_of_ten_ml_per_hour(
        case.burn_percent_tbsa, weight, is_adult=True, lowest_weight_kg=lowest,
        percent_step=evidence.value("rule-of-ten", "percent-step"),
        ml_per_hour_per_percent=evidence.value("rule-of-ten", "ml-per-hour-per-percent"),
        heavy_weight_kg=evidence.value("rule-of-ten", "heavy-weight-kg"),
        heavy_step_kg=evidence.value("rule-of-ten", "heavy-step-kg"),
        heavy_step_ml_per_hour=evidence.value("rule-of-ten", "heavy-step-ml-per-hour")))
