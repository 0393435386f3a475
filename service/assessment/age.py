"""Age of the patient, and the age bands in which rules change."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from service.domain.case import SkinLimitAge
from service.domain.patient import BirthDate
from service.evidence.library import Evidence

DAYS_PER_YEAR = Decimal("365.25")


def age_years(born: date, when: date) -> Decimal:
    """Age in years with its fraction, never below zero. [years]"""
    return max(Decimal(0), Decimal((when - born).days) / DAYS_PER_YEAR)


def possible_ages(birth_date: BirthDate, when: date) -> tuple[Decimal, ...]:
    """The youngest and the oldest age that the recorded precision allows, once when it is exact."""
    ages = {age_years(birth_date.latest(), when), age_years(birth_date.earliest(), when)}
    return tuple(sorted(ages))


def age_band(age: Decimal, evidence: Evidence) -> SkinLimitAge:
    """Band in which an age falls; the upper ends are rows ``age-band-end``. [years]"""
    for band in (SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD, SkinLimitAge.ADULT):
        if age < evidence.value("age-band-end", band):
            return band
    return SkinLimitAge.OLD
