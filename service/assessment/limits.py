"""What one session may hold for this patient."""

from __future__ import annotations

from decimal import ROUND_FLOOR, Decimal

from service.assessment.areas import supply_cm2
from service.domain.case import PlanRequest, SessionLimits, SkinLimitAge
from service.domain.patient import Patient, Sex
from service.evidence.library import Evidence
from service.formulas.blood_loss import allowable_blood_loss_simple_ml
from service.preferences.library import Preferences

_AREA_PREFERENCE = {
    SkinLimitAge.INFANT: "session-area-infant",
    SkinLimitAge.SMALL_CHILD: "session-area-small-child",
    SkinLimitAge.CHILD: "session-area-soft",
    SkinLimitAge.ADULT: "session-area-soft",
    SkinLimitAge.OLD: "session-area-old",
}


def blood_volume_ml(patient: Patient, band: SkinLimitAge, evidence: Evidence) -> Decimal:
    """Estimated blood volume; for an unknown or other sex the smaller adult value. [mL]"""
    per_kg = {name: evidence.value("blood-volume-per-kg", name) for name in ("male", "female", "child", "infant")}
    if band is SkinLimitAge.INFANT:
        chosen = per_kg["infant"]
    elif band in (SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD):
        chosen = per_kg["child"]
    elif patient.sex in (Sex.MALE, Sex.FEMALE):
        chosen = per_kg[patient.sex]
    else:
        chosen = min(per_kg["male"], per_kg["female"])
    return chosen * patient.weight_kg.value


def area_limit_percent_tbsa(band: SkinLimitAge, is_over_sixty: bool, request: PlanRequest,
                            preferences: Preferences) -> Decimal:
    """Area of a session; the caller may set another, up to the hard limit. [%TBSA]"""
    name = "session-area-old" if is_over_sixty else _AREA_PREFERENCE[band]
    stated = request.session_area_limit_percent_tbsa
    wanted = preferences.value(name) if stated is None else stated
    return min(wanted, preferences.value("session-area-hard"))


def blood_limit_ml(patient: Patient, volume_ml: Decimal, request: PlanRequest, evidence: Evidence,
                   preferences: Preferences) -> Decimal:
    """Loss that a session may cause: the smaller of a share of blood volume and what can be replaced.

    Allowable loss (simple form, the lowest in print) plus the units made available; units
    that are not stated add nothing. [mL]
    """
    share = preferences.value("blood-volume-fraction") * volume_ml
    haemoglobin = patient.haemoglobin_g_dl.value
    floor = preferences.value("haemoglobin-floor")
    allowable = allowable_blood_loss_simple_ml(volume_ml, haemoglobin, min(floor, haemoglobin))
    units = Decimal(request.transfusion_units or 0) * evidence.value("red-cell-unit-volume")
    return min(share, allowable + units).quantize(Decimal(1), ROUND_FLOOR)


def session_limits(patient: Patient, band: SkinLimitAge, is_over_sixty: bool, surface_m2: Decimal,
                   volume_ml: Decimal, request: PlanRequest, evidence: Evidence,
                   preferences: Preferences) -> SessionLimits:
    """All limits of a session. Supply is rounded down."""
    area = supply_cm2(area_limit_percent_tbsa(band, is_over_sixty, request, preferences) * surface_m2 * 100)
    hard_minutes = preferences.value("minutes-hard")
    minutes = hard_minutes if request.session_minutes_limit is None else min(
        request.session_minutes_limit, hard_minutes)
    return SessionLimits(
        excised_cm2=area,
        grafted_cm2=area,
        blood_ml=blood_limit_ml(patient, volume_ml, request, evidence, preferences),
        procedure_minutes=int(minutes),
        rest_days=preferences.integer("rest-days"),
        positions=preferences.integer("positions-per-session"),
    )
