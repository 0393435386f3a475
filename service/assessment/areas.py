"""Rounding of areas to the printable step: need up, supply down. [cm²]"""

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

STEP_CM2 = Decimal("0.1")


def need_cm2(area_cm2: Decimal) -> Decimal:
    """Area that has to be provided for, rounded up to 0.1 cm²."""
    return area_cm2.quantize(STEP_CM2, ROUND_CEILING)


def supply_cm2(area_cm2: Decimal) -> Decimal:
    """Area that is available, rounded down to 0.1 cm²."""
    return area_cm2.quantize(STEP_CM2, ROUND_FLOOR)
