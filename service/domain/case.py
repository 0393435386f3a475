"""What comes in: the burn record as read, the request, and the case made of both."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import Place, Region, Side
from service.domain.burn_wound import BedRecord, BurnExtent, BurnWound, OpenWound
from service.domain.donor_site import DonorSite, DonorStateRecord, HarvestRecord
from service.domain.finding import Finding
from service.domain.graft import GraftMethod
from service.domain.patient import Patient
from service.domain.what_if import WhatIf


@dataclass(frozen=True)
class ExcisionRecord:
    place: Place
    day: date
    area_cm2: Decimal
    source: str


@dataclass(frozen=True)
class PlacementRecord:
    """A graft already placed; ``take_fraction`` when it has been read."""

    place: Place
    day: date
    area_cm2: Decimal
    method: GraftMethod
    source: str
    take_fraction: Decimal | None = None
    take_day: date | None = None


@dataclass(frozen=True)
class CoverRecord:
    place: Place
    day: date
    area_cm2: Decimal
    source: str


@dataclass(frozen=True)
class CarrierRemovalRecord:
    place: Place
    day: date
    source: str


@dataclass(frozen=True)
class BurnRecord:
    """Everything in the record that planning uses, in house units, nothing inferred."""

    patient: Patient
    extents: tuple[BurnExtent, ...]
    total_percent_tbsa: Decimal | None
    open_wounds: tuple[OpenWound, ...] = ()
    beds: tuple[BedRecord, ...] = ()
    excisions: tuple[ExcisionRecord, ...] = ()
    harvests: tuple[HarvestRecord, ...] = ()
    placements: tuple[PlacementRecord, ...] = ()
    covers: tuple[CoverRecord, ...] = ()
    carrier_removals: tuple[CarrierRemovalRecord, ...] = ()
    donor_states: tuple[DonorStateRecord, ...] = ()
    amputated: tuple[tuple[Region, Side | None], ...] = ()


@dataclass(frozen=True)
class TheatreDay:
    """A day on which theatre is available; ``None``: no limit stated for that day."""

    day: date
    minutes: int | None = None
    positions: int | None = None


@dataclass(frozen=True)
class KeepFor:
    """Skin to keep for a named use: ``area_cm2`` reserved for grafts on ``region``."""

    region: Region
    area_cm2: Decimal


class Act(StrEnum):
    EXCISE = "excise"
    HARVEST = "harvest"
    PLACE = "place"


@dataclass(frozen=True)
class FixedDecision:
    """What the caller has decided: an act on a place, by date and, for a graft, by method.

    ``region`` and ``side`` name wound or donor site; both surfaces are meant.
    """

    act: Act
    region: Region
    side: Side | None
    day: date | None = None
    method: GraftMethod | None = None

    @property
    def region_key(self) -> str:
        """Region with its side, both surfaces together, as ``Place.region_key`` names it."""
        return f"{self.side}-{self.region}" if self.side else str(self.region)


@dataclass(frozen=True)
class PlanRequest:
    """What the caller asks for. ``None`` is "not stated", never zero."""

    as_of: datetime  # aware
    time_zone: str  # IANA
    theatre_days: tuple[TheatreDay, ...] = ()  # empty: every day
    methods_available: frozenset[GraftMethod] = frozenset(GraftMethod)
    keep_for: tuple[KeepFor, ...] = ()
    cover_stock_cm2: Decimal | None = None
    transfusion_units: int | None = None
    limb_tourniquet: bool | None = None  # limbs are operated on under a tourniquet
    session_area_limit_percent_tbsa: Decimal | None = None
    session_minutes_limit: Decimal | None = None
    fixed_decisions: tuple[FixedDecision, ...] = ()
    preferences: tuple[tuple[str, Decimal], ...] = ()
    task_days: int = 14
    answer: str = "collection"
    search_seconds: Decimal = Decimal(2)
    seed: int | None = None  # of the simulated courses
    carrier_stock: tuple[tuple[Decimal, int], ...] = ()  # carriers by claimed ratio; empty: not stated
    what_if: WhatIf | None = None  # planned beside the plan, and never part of it


class SkinLimitAge(StrEnum):
    """Age bands in which a rule changes."""

    INFANT = "infant"
    SMALL_CHILD = "small-child"
    CHILD = "child"
    ADULT = "adult"
    OLD = "old"


@dataclass(frozen=True)
class SessionLimits:
    """What one session may hold, already chosen for this patient."""

    excised_cm2: Decimal
    grafted_cm2: Decimal
    blood_ml: Decimal
    procedure_minutes: int
    rest_days: int
    positions: int


@dataclass(frozen=True)
class GraftingCase:
    """The case as planner, schedule and verification see it.

    Areas in cm² (0.1 steps), days as integers from the as-of day (day 0). Made by
    ``assessment`` from a ``BurnRecord`` and a ``PlanRequest``; the only thing planning gets.
    """

    record: BurnRecord
    request: PlanRequest
    day_zero: date
    injury_day: int
    age_years: Decimal  # cautious reading when the birth date is imprecise
    age_band: SkinLimitAge
    body_surface_m2: Decimal
    body_surface_formula: str
    blood_volume_ml: Decimal
    burn_percent_tbsa: Decimal  # all depths but erythema
    graftable_percent_tbsa: Decimal
    wounds: tuple[BurnWound, ...]
    donor_sites: tuple[DonorSite, ...]
    limits: SessionLimits
    thick_skin_allowed: bool
    off_loading: bool
    first_session_day: int
    horizon_day: int
    weight_set: str  # "function" or "life"
    findings: tuple[Finding, ...] = ()
    closes_by_itself: tuple[BurnExtent, ...] = ()
    not_planned: tuple[BurnExtent, ...] = ()  # genitalia: the clinician decides
    preference_overrides: tuple[tuple[str, Decimal], ...] = field(default=())

    def date_of(self, day: int) -> date:
        """The calendar date of a planning day."""
        return date.fromordinal(self.day_zero.toordinal() + day)

    def day_of(self, when: date) -> int:
        return when.toordinal() - self.day_zero.toordinal()

    def percent_tbsa(self, area_cm2: Decimal) -> Decimal:
        """An area as a share of body surface, for clinicians; 1 %TBSA = BSA / 100."""
        return area_cm2 / (self.body_surface_m2 * 100)
