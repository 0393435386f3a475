"""Body surface of the patient: recorded, or computed by the formula that fits."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from service.domain.case import SkinLimitAge
from service.domain.finding import Finding, Severity
from service.domain.patient import Patient
from service.evidence.library import Evidence
from service.formulas import body_surface_area

M2_STEP = Decimal("0.0001")


@dataclass(frozen=True)
class BodySurface:
    """Body surface with the formula it came from. [m²]"""

    surface_m2: Decimal
    formula: str
    findings: tuple[Finding, ...]


def _exact(surface_m2: float) -> Decimal:
    return Decimal(repr(float(surface_m2))).quantize(M2_STEP, ROUND_HALF_UP)


def _is_heavy(patient: Patient, evidence: Evidence) -> bool:
    """Obese or over the weight from which the height-weight formulas part."""
    weight = patient.weight_kg.value
    if weight > evidence.value("formulas-part-from", "weight-kg"):
        return True
    if patient.height_cm is None:
        return False
    metres = patient.height_cm.value / 100
    return weight / metres**2 >= evidence.value("formulas-part-from", "body-mass-index")


def measure_body_surface(patient: Patient, band: SkinLimitAge, evidence: Evidence) -> BodySurface:
    """Recorded body surface, else Haycock for children and Mosteller for adults.

    In obesity the Livingston-Lee value is shown beside it, because the formulas part there;
    one formula serves the whole plan.
    """
    if patient.height_cm is None:
        return BodySurface(patient.body_surface_m2.value.quantize(M2_STEP, ROUND_HALF_UP), "recorded", ())
    height, weight = float(patient.height_cm.value), float(patient.weight_kg.value)
    is_child = band in (SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD)
    formula = "haycock" if is_child else "mosteller"
    surface = _exact(body_surface_area.by_formula(evidence, formula, height, weight))
    findings: tuple[Finding, ...] = ()
    if _is_heavy(patient, evidence):
        other = _exact(body_surface_area.by_formula(evidence, "livingston-lee", height, weight))
        findings = (Finding("body-surface-formulas-differ", Severity.MODERATE, (
            ("formula", formula), ("surface_m2", f"{surface:.2f}"),
            ("other_formula", "livingston-lee"), ("other_surface_m2", f"{other:.2f}"))),)
    return BodySurface(surface, formula, findings)
