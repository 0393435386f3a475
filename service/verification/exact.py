"""Exact rational arithmetic: no rounding, no tolerance."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Context, Decimal, Inexact
from fractions import Fraction

TENTH = Fraction(1, 10)
#: Adds decimals as written and raises where it would have to round.
NEVER_ROUNDING = Context(prec=100, traps=[Inexact])


def exact(number: Decimal | int) -> Fraction:
    """The number itself, as a fraction."""
    return Fraction(number)


def total_area(acts: Iterable) -> Fraction:
    """Sum of ``area_cm2`` over acts. [cm²]"""
    return _total(act.area_cm2 for act in acts)


def total_skin(placements: Iterable) -> Fraction:
    """Sum of ``skin_cm2`` over placements. [cm²]"""
    return _total(placement.skin_cm2 for placement in placements)


def _total(numbers: Iterable[Decimal]) -> Fraction:
    total = Decimal(0)
    for number in numbers:
        total = NEVER_ROUNDING.add(total, number)
    return exact(total)


def round_up_to_tenth(area_cm2: Fraction) -> Fraction:
    """The smallest multiple of 0.1 cm² that is not below the area. [cm²]"""
    steps = area_cm2 / TENTH
    return -(-steps.numerator // steps.denominator) * TENTH
