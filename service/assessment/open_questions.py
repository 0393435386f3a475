"""What the record leaves open, as findings: not recorded is never taken for no."""

from __future__ import annotations

from datetime import date

from service.domain.body_region import Region
from service.domain.burn_wound import BedState, BurnWound, Depth
from service.domain.case import BurnRecord, PlanRequest, SkinLimitAge
from service.domain.finding import Finding, Severity
from service.domain.patient import AllergyAnswer
from service.evidence.library import Evidence
from service.preferences.library import Preferences

_BED_FINDINGS = {
    BedState.STREPTOCOCCUS: ("bed-streptococcus", Severity.HIGH),
    BedState.INFECTED: ("bed-infected", Severity.HIGH),
    BedState.COLONISED: ("bed-colonised", Severity.MODERATE),
}


def questions_of_patient(record: BurnRecord, request: PlanRequest) -> list[Finding]:
    """Preconditions that the record does not answer."""
    patient = record.patient
    unanswered = (
        ("fitness-not-recorded", Severity.MODERATE, patient.fit_for_theatre_from is None),
        ("sulfonamide-allergy", Severity.HIGH, patient.sulfonamide_allergy is AllergyAnswer.PRESENT),
        ("allergy-not-recorded", Severity.MODERATE, patient.sulfonamide_allergy is AllergyAnswer.NOT_RECORDED),
        ("cover-stock-not-stated", Severity.MODERATE, request.cover_stock_cm2 is None),
        ("transfusion-units-not-stated", Severity.MODERATE, request.transfusion_units is None),
    )
    return [Finding(code, severity) for code, severity, applies in unanswered if applies]


def holds_of_patient(record: BurnRecord, evidence: Evidence, preferences: Preferences) -> list[Finding]:
    """Measurements that hold a session back until they are better: temperature and haemoglobin."""
    patient, found = record.patient, []
    temperature = patient.core_temperature_celsius
    if temperature is not None and temperature.value < evidence.value("core-temperature", "stop"):
        found.append(Finding("core-temperature-stop", Severity.HIGH, sources=(temperature.source,)))
    elif temperature is not None and temperature.value < evidence.value("core-temperature", "warn"):
        found.append(Finding("core-temperature-low", Severity.MODERATE, sources=(temperature.source,)))
    if patient.haemoglobin_g_dl.value <= preferences.value("haemoglobin-floor"):
        found.append(Finding("haemoglobin-low", Severity.HIGH, sources=(patient.haemoglobin_g_dl.source,)))
    return found


def question_of_weight(record: BurnRecord, band: SkinLimitAge, today: date, evidence: Evidence) -> list[Finding]:
    """A child's weight that was not taken recently: body surface and blood volume hang on it."""
    weight = record.patient.weight_kg
    is_old = (today - weight.observed).days > evidence.value("weight-valid-days", "child")
    is_child = band not in (SkinLimitAge.ADULT, SkinLimitAge.OLD)
    return [Finding("weight-old-in-child", Severity.MODERATE, sources=(weight.source,))] if is_child and is_old else []


def questions_of_wounds(wounds: tuple[BurnWound, ...], off_loading: bool) -> list[Finding]:
    """Bed states, grafts not read, depths to be settled, places that wait."""
    findings: list[Finding] = []

    def once_a_place(code: str, severity: Severity, chosen: list[BurnWound]) -> None:
        by_key = {w.place.key: w for w in chosen}
        findings.extend(Finding(code, severity, place=key, sources=w.sources) for key, w in by_key.items())

    for state, (code, severity) in _BED_FINDINGS.items():
        once_a_place(code, severity, [w for w in wounds if w.bed_state is state])
    once_a_place("take-not-read", Severity.MODERATE,
                 [w for w in wounds if any(g.take_fraction is None for g in w.placed)])
    once_a_place("depth-indeterminate", Severity.MODERATE, [w for w in wounds if w.depth is Depth.INDETERMINATE])
    once_a_place("face-waits", Severity.LOW,
                 [w for w in wounds if w.place.region is Region.FACE and w.area_cm2 > 0])
    if any(w.bed_state is None and w.area_cm2 > 0 for w in wounds):
        findings.append(Finding("bed-state-not-recorded", Severity.MODERATE))
    if not off_loading:
        once_a_place("bearing-surface-deferred", Severity.MODERATE,
                     [w for w in wounds if w.place.facts.is_bearing and w.area_cm2 > 0])
    return findings
