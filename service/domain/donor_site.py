"""Donor sites: how much skin they hold, what was taken, what has healed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import Place
from service.domain.graft import Thickness


class DonorState(StrEnum):
    """State of a donor site as recorded."""

    HEALED = "healed"
    HEALING = "healing"
    EXCLUDED = "excluded"


@dataclass(frozen=True)
class DonorParcel:
    """Skin of one site with one history: harvested ``harvest_count`` times, last on ``harvested_day``.

    A parcel never harvested has count 0 and is healed. ``healed_recorded`` is true when the
    record says so; ``healed_day`` is the day from which it is expected healed (cautious
    percentile). In the next session only a recorded healing counts.
    """

    area_cm2: Decimal
    harvest_count: int = 0
    harvested_day: int | None = None
    healed_recorded: bool = True
    healed_day: int = 0


@dataclass(frozen=True)
class DonorSite:
    """Unburned skin of one place that may be harvested. Areas in 0.1 cm² steps, rounded down."""

    site_id: str  # the place key
    place: Place
    area_cm2: Decimal  # harvestable surface: Σ of the parcels
    harvests_allowed: int
    parcels: tuple[DonorParcel, ...]
    sources: tuple[str, ...] = ()

    @property
    def above_clavicle(self) -> bool:
        return self.place.facts.above_clavicle


@dataclass(frozen=True)
class DonorStateRecord:
    """Recorded state of a donor site. ``usable_share`` [0-1] overrides what may be harvested."""

    place: Place
    state: DonorState
    observed: date
    source: str
    usable_share: Decimal | None = None


@dataclass(frozen=True)
class HarvestRecord:
    """A harvest already done. Area in cm², thickness in mm (``None``: not recorded)."""

    place: Place
    day: date
    area_cm2: Decimal
    thickness_mm: Decimal | None
    source: str


@dataclass(frozen=True)
class Harvest:
    """Skin to take from one site on one day, all of it with the same harvest number."""

    day: int
    site_id: str
    thickness: Thickness
    area_cm2: Decimal
    harvest_number: int  # 1 for the first harvest of that skin
