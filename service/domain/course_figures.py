"""What a course amounts to: the figures by which one is compared with another."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.graft import GraftMethod


@dataclass(frozen=True)
class SiteHarvest:
    """Skin taken from one site on one day. [cm²]"""

    day: int
    site_id: str
    area_cm2: Decimal


@dataclass(frozen=True)
class CourseFigures:
    """Firm sessions of a course in a few numbers; days count from the as-of day.

    ``closure_day`` is ``None`` while something stays open. ``scar_days`` and ``objective_days``
    are terms of the objective. [%TBSA-days]
    """

    session_days: tuple[int, ...]
    harvests: tuple[SiteHarvest, ...]
    area_by_method: tuple[tuple[GraftMethod, Decimal], ...]  # cm² of wound, narrow to wide
    closure_day: int | None
    open_cm2: Decimal
    scar_days: Decimal
    objective_days: Decimal

    @property
    def harvested_cm2(self) -> Decimal:
        return sum((h.area_cm2 for h in self.harvests), Decimal(0))

    def harvested_on(self, day: int) -> Decimal:
        """Skin taken on a day. [cm²]"""
        return sum((h.area_cm2 for h in self.harvests if h.day == day), Decimal(0))
