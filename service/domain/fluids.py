"""A cross-check of resuscitation fluid: numbers beside a plan, never part of it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class HourlyRates:
    """Rate until the first half is due and after it. [mL/h]

    ``first_ml_per_hour`` is ``None`` once the hours of the first half are over.
    """

    first_ml_per_hour: Decimal | None
    then_ml_per_hour: Decimal


@dataclass(frozen=True)
class FluidLine:
    """What one published figure comes to. ``figure`` is what its evidence row applies to.

    ``keeping_pace`` runs the rates that the clock calls for and leaves what was missed;
    ``catching_up`` makes up for it, if nothing has been given yet.
    """

    figure: str
    ml_per_kg_percent: Decimal
    day_volume_ml: Decimal
    keeping_pace: HourlyRates
    catching_up: HourlyRates
    is_catch_up_capped: bool
    is_over_review: bool


@dataclass(frozen=True)
class FluidEstimate:
    """A band of volumes for the day that begins with the injury, and what to read it against.

    Maintenance of a child is apart: it is in none of the volumes. The rule of ten is
    ``None`` where it does not hold. ``sources`` are evidence row ids.
    """

    since_injury_hours: Decimal
    first_half_hours: Decimal
    whole_hours: Decimal
    weight_kg: Decimal
    burn_percent_tbsa: Decimal
    lines: tuple[FluidLine, ...]
    urine_low_ml_per_hour: Decimal
    urine_high_ml_per_hour: Decimal
    maintenance_ml_per_hour: Decimal | None
    rule_of_ten_ml_per_hour: Decimal | None
    threshold_low_percent: Decimal
    threshold_high_percent: Decimal
    review_ml_per_kg: Decimal
    review_ml_per_kg_percent: Decimal
    catch_up_cap_ratio: Decimal
    sources: tuple[str, ...]

    @property
    def is_below_threshold(self) -> bool:
        """Whether formal resuscitation starts only at larger burns, at least for some who publish a threshold."""
        return self.burn_percent_tbsa < self.threshold_high_percent

    @property
    def review_volume_ml(self) -> Decimal:
        """Volume of the day from which too much fluid is to be looked for. [mL]"""
        per_percent = self.review_ml_per_kg_percent * self.burn_percent_tbsa
        return min(self.review_ml_per_kg, per_percent) * self.weight_kg
