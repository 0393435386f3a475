"""Exact rational arithmetic: no rounding, no tolerance."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

TENTH = Fraction(1, 10)


def exact(number: Decimal | int) -> Fraction:
    """The number itself, as a fraction."""
    return Fraction(number)


def total_area(acts: Iterable) -> Fraction:
    """Sum of ``area_cm2`` over acts. [cm²]"""
    return sum((exact(act.area_cm2) for act in acts), Fraction(0))


def total_skin(placements: Iterable) -> Fraction:
    """Sum of ``skin_cm2`` over placements. [cm²]"""
    return sum((exact(placement.skin_cm2) for placement in placements), Fraction(0))


def round_up_to_tenth(area_cm2: Fraction) -> Fraction:
    """The smallest multiple of 0.1 cm² that is not below the area. [cm²]"""
    steps = area_cm2 / TENTH
    return -(-steps.numerator // steps.denominator) * TENTH
