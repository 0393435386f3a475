"""Burn records for tests of the core: only what a test is about has to be said."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from service.domain.body_region import REGIONS, Place, Region, Side, Surface
from service.domain.burn_wound import BurnExtent, Depth
from service.domain.case import BurnRecord, PlanRequest
from service.domain.patient import AllergyAnswer, BirthDate, Measured, Patient, Sex, TreatmentIntent

TODAY = date(2026, 3, 4)
INJURY = date(2026, 3, 1)


def place(region: Region, side: Side | None = None, surface: Surface | None = None) -> Place:
    return Place(region, side, surface or REGIONS[region].surfaces[0])


def measured(value: str) -> Measured:
    return Measured(Decimal(value), TODAY, "entry[1]")


def patient(**changes) -> Patient:
    """A man of 40 with everything on record and nothing special about him."""
    fields = {
        "key": "invented", "reference": "entry[0]", "birth_date": BirthDate(1986, 1, 1), "sex": Sex.MALE,
        "weight_kg": measured("80"), "height_cm": measured("180"), "body_surface_m2": None,
        "haemoglobin_g_dl": measured("12"), "core_temperature_celsius": None, "albumin_g_dl": None,
        "injury": INJURY, "inhalation_injury": False, "treatment_intent": TreatmentIntent.CURATIVE,
        "fit_for_theatre_from": TODAY, "off_loading_available": True,
        "sulfonamide_allergy": AllergyAnswer.ABSENT,
    }
    return Patient(**{**fields, **changes})


def burn(where: Place, percent: str, depth: Depth = Depth.FULL_THICKNESS, **changes) -> BurnExtent:
    """A burn of so much body surface on a place. [%TBSA]"""
    return BurnExtent(where, depth, Decimal(percent), None, TODAY, f"entry[{where.key}]", **changes)


def record(*extents: BurnExtent, **changes) -> BurnRecord:
    person = changes.pop("patient", patient())
    return replace(BurnRecord(person, extents, None), **changes)


def request(**changes) -> PlanRequest:
    fields = {"as_of": datetime(2026, 3, 4, 8, tzinfo=UTC), "time_zone": "UTC",
              "cover_stock_cm2": Decimal(0), "transfusion_units": 6}
    return PlanRequest(**{**fields, **changes})
