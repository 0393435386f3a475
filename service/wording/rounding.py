"""How numbers are printed: needs rounded up, supplies rounded down, always with their unit."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

WHOLE = Decimal(1)
TENTH = Decimal("0.1")


def round_need_up(value: Decimal, step: Decimal = WHOLE) -> Decimal:
    """A need (skin to harvest, plates, minutes, blood) to the next step up. [unit of value]"""
    return (value / step).to_integral_value(ROUND_CEILING) * step


def round_supply_down(value: Decimal, step: Decimal = WHOLE) -> Decimal:
    """A supply (donor skin, stock, usable share) to the next step down. [unit of value]"""
    return (value / step).to_integral_value(ROUND_FLOOR) * step


def number_in_words(value: Decimal, step: Decimal = WHOLE) -> str:
    """A number already rounded, with a comma every three digits and no more digits than its step."""
    rounded = value.quantize(step, ROUND_HALF_EVEN)
    return f"{rounded:,f}"


def need_cm2(area_cm2: Decimal) -> str:
    """An area that is needed: ``1,235 cm²`` for 1234.2. [cm²]"""
    return f"{number_in_words(round_need_up(area_cm2))} cm²"


def supply_cm2(area_cm2: Decimal) -> str:
    """An area that is at hand: ``1,234 cm²`` for 1234.8. [cm²]"""
    return f"{number_in_words(round_supply_down(area_cm2))} cm²"


def percent_tbsa(value: Decimal) -> str:
    """A share of body surface to one decimal, half to even: ``20.4 %TBSA``. [%TBSA]"""
    return f"{number_in_words(value, TENTH)} %TBSA"


def count_in_words(count: Decimal) -> str:
    """A count that may be in parts: ``3`` or ``3.25``."""
    return f"{count.normalize():,f}"


def interval(low: Decimal | None, high: Decimal | None) -> str:
    """The spread of a need as whole numbers, ``(700-940)``; empty when there is none."""
    if low is None or high is None:
        return ""
    return f"({number_in_words(round_need_up(low))}-{number_in_words(round_need_up(high))})"


def need_cm2_with_interval(area_cm2: Decimal, low: Decimal | None, high: Decimal | None) -> str:
    """``820 cm² (700-940)``: a needed area with its spread, all rounded up. [cm²]"""
    return " ".join(part for part in (need_cm2(area_cm2), interval(low, high)) if part)
