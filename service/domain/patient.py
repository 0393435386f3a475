"""The patient as recorded, in house units. Nothing here is a default: unknown is ``None``."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum


class Sex(StrEnum):
    MALE = "male"
    FEMALE = "female"
    OTHER = "other"
    UNKNOWN = "unknown"


class TreatmentIntent(StrEnum):
    CURATIVE = "curative"
    COMFORT = "comfort"


class AllergyAnswer(StrEnum):
    """Whether a sulfonamide allergy is on record. Not recorded is never taken for no."""

    PRESENT = "present"
    ABSENT = "absent"
    NOT_RECORDED = "not-recorded"


@dataclass(frozen=True)
class BirthDate:
    """Birth date with the precision it was recorded in: month and day may be unknown."""

    year: int
    month: int | None = None
    day: int | None = None

    def earliest(self) -> date:
        return date(self.year, self.month or 1, self.day or 1)

    def latest(self) -> date:
        """Last day that the recorded precision allows."""
        if self.day is not None:
            return self.earliest()
        month = self.month or 12
        first_of_next = date(self.year + month // 12, month % 12 + 1, 1)
        return date.fromordinal(first_of_next.toordinal() - 1)


@dataclass(frozen=True)
class Measured:
    """A measurement with the day it was taken and the record it came from."""

    value: Decimal
    observed: date
    source: str
    as_sent: str = ""  # value and unit before conversion, when converted


@dataclass(frozen=True)
class Patient:
    """What the record says about the person.

    ``key`` is an opaque stable name of the patient for identifiers (never printed);
    ``reference`` the record key of the Patient resource.
    """

    key: str
    reference: str
    birth_date: BirthDate
    sex: Sex
    weight_kg: Measured
    height_cm: Measured | None
    body_surface_m2: Measured | None
    haemoglobin_g_dl: Measured | None
    core_temperature_celsius: Measured | None
    albumin_g_dl: Measured | None
    injury: date | datetime  # a day, or the hour when it is known
    inhalation_injury: bool | None
    treatment_intent: TreatmentIntent | None
    fit_for_theatre_from: date | None
    off_loading_available: bool | None
    sulfonamide_allergy: AllergyAnswer
