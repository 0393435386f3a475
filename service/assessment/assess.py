"""A burn record and a request become the case that planning works on."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from service.assessment.age import age_band, possible_ages
from service.assessment.body_surface import measure_body_surface
from service.assessment.donor_sites import DonorContext, assess_donor_sites
from service.assessment.limits import blood_volume_ml, session_limits
from service.assessment.open_questions import (
    holds_of_patient,
    question_of_weight,
    questions_of_patient,
    questions_of_wounds,
)
from service.assessment.wounds import assess_wounds, extent_percent_tbsa
from service.domain.burn_wound import COUNTS_AS_BURN, NEEDS_GRAFT, ZERO, Depth
from service.domain.case import BurnRecord, GraftingCase, PlanRequest, SkinLimitAge
from service.domain.finding import Finding, Severity
from service.evidence.library import Evidence
from service.formulas.body_chart import place_percentages
from service.preferences.library import Preferences


def _day_of_injury(injury: date | datetime, zone: ZoneInfo) -> date:
    """A day-precision date stands as it is; an instant is read in the patient's time zone."""
    return injury.astimezone(zone).date() if isinstance(injury, datetime) else injury


def _sum_percent(record: BurnRecord, place_percent, depths) -> Decimal:
    return sum((extent_percent_tbsa(e, place_percent) for e in record.extents if e.depth in depths), ZERO)


def _self_closure_days(evidence: Evidence) -> tuple[tuple[str, str], ...]:
    """When a superficial partial burn is expected to close, days after injury with their range."""
    row = evidence.row("self-closure-days", Depth.SUPERFICIAL_PARTIAL)
    return (("days", f"{row.value:f}"), ("low_days", f"{row.low:f}"), ("high_days", f"{row.high:f}"))


def _total_finding(record: BurnRecord, burned: Decimal, preferences: Preferences) -> list[Finding]:
    stated = record.total_percent_tbsa
    if stated is None or abs(stated - burned) <= preferences.value("sum-against-total-finding"):
        return []
    return [Finding("sum-against-total", Severity.HIGH, (
        ("stated_percent_tbsa", f"{stated:f}"), ("sum_percent_tbsa", f"{burned:.1f}")))]


def _assess_at_age(record: BurnRecord, request: PlanRequest, age: Decimal, oldest: Decimal,
                   evidence: Evidence, preferences: Preferences) -> GraftingCase:
    zone = ZoneInfo(request.time_zone)
    day_zero = request.as_of.astimezone(zone).date()
    patient = record.patient
    band = age_band(age, evidence)

    def day_of(when: date) -> int:
        return when.toordinal() - day_zero.toordinal()

    injury_day = day_of(_day_of_injury(patient.injury, zone))
    surface = measure_body_surface(patient, band, evidence)
    place_percent = place_percentages(evidence, age)
    assessed = assess_wounds(record, place_percent, surface.surface_m2, day_of, injury_day, evidence,
                             preferences)
    sites, site_findings = assess_donor_sites(DonorContext(
        record, place_percent, surface.surface_m2, day_of, injury_day, band, evidence, preferences))
    volume = blood_volume_ml(patient, band, evidence)
    over_sixty = oldest > evidence.value("age-of-small-sessions")
    limits = session_limits(patient, band, over_sixty, surface.surface_m2, volume, request, evidence, preferences)
    burned = _sum_percent(record, place_percent, COUNTS_AS_BURN)
    graftable = _sum_percent(record, place_percent, NEEDS_GRAFT | {Depth.INDETERMINATE})
    off_loading = bool(patient.off_loading_available)
    fit_day = 1 if patient.fit_for_theatre_from is None else day_of(patient.fit_for_theatre_from)
    findings = [
        *_total_finding(record, burned, preferences),
        *surface.findings,
        *holds_of_patient(record, evidence, preferences),
        *question_of_weight(record, band, day_zero, evidence),
        *questions_of_patient(record, request),
        *questions_of_wounds(assessed.wounds, off_loading),
        *assessed.findings,
        *site_findings,
        *(Finding("closes-by-itself", Severity.LOW, _self_closure_days(evidence), e.place.key, sources=(e.source,))
          for e in assessed.closes_by_itself),
        *(Finding("region-not-planned", Severity.HIGH, place=e.place.key, sources=(e.source,))
          for e in assessed.not_planned),
    ]
    return GraftingCase(
        record=record,
        request=request,
        day_zero=day_zero,
        injury_day=injury_day,
        age_years=age,
        age_band=band,
        body_surface_m2=surface.surface_m2,
        body_surface_formula=surface.formula,
        blood_volume_ml=volume,
        burn_percent_tbsa=burned,
        graftable_percent_tbsa=graftable,
        wounds=assessed.wounds,
        donor_sites=sites,
        limits=limits,
        thick_skin_allowed=age >= evidence.value("thick-skin-from-age") and band is not SkinLimitAge.OLD,
        off_loading=off_loading,
        first_session_day=max(1, injury_day + int(evidence.value("first-excision-day")), fit_day),
        horizon_day=preferences.integer("horizon-days"),
        weight_set="life" if graftable >= preferences.value("life-set-from") else "function",
        findings=tuple(findings),
        closes_by_itself=assessed.closes_by_itself,
        not_planned=assessed.not_planned,
        preference_overrides=request.preferences,
    )


def _spare_skin_cm2(case: GraftingCase) -> Decimal:
    """Donor skin beyond the wounds: the smaller, the more cautious the reading. [cm²]"""
    return sum((s.area_cm2 for s in case.donor_sites), ZERO) - sum((w.area_cm2 for w in case.wounds), ZERO)


def assess_case(record: BurnRecord, request: PlanRequest, evidence: Evidence,
                preferences: Preferences) -> GraftingCase:
    """The case as planner, schedule and verification see it.

    A birth date without a day is read at both ends of what it allows; the reading with less
    spare skin is planned, and a finding says so.
    """
    day_zero = request.as_of.astimezone(ZoneInfo(request.time_zone)).date()
    ages = possible_ages(record.patient.birth_date, day_zero)
    cases = [_assess_at_age(record, request, age, ages[-1], evidence, preferences) for age in ages]
    case = min(cases, key=_spare_skin_cm2)
    if record.patient.birth_date.day is None:
        finding = Finding("birth-date-imprecise", Severity.MODERATE)
        return GraftingCase(**{**case.__dict__, "findings": (*case.findings, finding)})
    return case
