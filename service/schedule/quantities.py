"""The quantities of a session with their spread and their sources."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from service.domain.case import GraftingCase
from service.domain.donor_site import Harvest
from service.domain.dressing import Quantity
from service.domain.graft import GraftMethod, SkinClass
from service.domain.plan import SettledPlan
from service.domain.session import Placement
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.wording.rounding import TENTH, round_need_up

_EXPANSION = "achieved-expansion-ratio"


def planned_ratio(method: GraftMethod, evidence: Evidence, preferences: Preferences) -> Decimal:
    """Achieved expansion that the plan counts on. [wound per skin]"""
    return evidence.quantile(_EXPANSION, method.value, preferences.value("planning-quantile"))


def skin_range_cm2(placement: Placement, evidence: Evidence, preferences: Preferences) -> tuple[Decimal, Decimal]:
    """Skin for a placement if the expansion turns out at its best and at its worst. [cm²]"""
    ratio = planned_ratio(placement.method, evidence, preferences)
    row = evidence.row(_EXPANSION, placement.method.value)
    least = placement.skin_cm2 * min(ratio / row.high, Decimal(1))
    most = placement.skin_cm2 * max(ratio / row.low, Decimal(1))
    return round_need_up(least, TENTH), round_need_up(most, TENTH)


def skin_class_of(harvest: Harvest, case: GraftingCase) -> SkinClass:
    site = next(s for s in case.donor_sites if s.site_id == harvest.site_id)
    return SkinClass(harvest.thickness, site.above_clavicle)


def harvest_quantity(
    harvest: Harvest, case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences
) -> Quantity:
    """Skin to take from one site, spread by the expansion of the grafts that it serves. [cm²]"""
    skin_class = skin_class_of(harvest, case)
    served = [p for p in plan.placements if p.day == harvest.day and p.skin_class == skin_class]
    placed = sum((p.skin_cm2 for p in served), Decimal(0))
    low = high = harvest.area_cm2
    if placed:
        ranges = [skin_range_cm2(p, evidence, preferences) for p in served]
        low, high = (round_need_up(harvest.area_cm2 * sum(side) / placed, TENTH) for side in zip(*ranges, strict=True))
    sources = (*expansion_sources(served), "handling-loss/any")
    return Quantity("harvest-area", harvest.area_cm2, min(low, harvest.area_cm2), high, "cm2", sources)


def expansion_sources(placements: Iterable[Placement]) -> tuple[str, ...]:
    return tuple(sorted({f"{_EXPANSION}/{p.method.value}" for p in placements}))


def skin_quantity(placement: Placement, evidence: Evidence, preferences: Preferences) -> Quantity:
    """Skin to place, after trimming, with its spread. [cm²]"""
    low, high = skin_range_cm2(placement, evidence, preferences)
    return Quantity("skin-placed", placement.skin_cm2, low, high, "cm2", expansion_sources([placement]))


def plate_area_cm2(evidence: Evidence) -> Decimal:
    """Area of one plate. [cm²]"""
    return evidence.value("plate-side-mm") ** 2 / 100


def plates_needed(area_cm2: Decimal, area_per_plate_cm2: Decimal) -> int:
    """Whole plates for a wound, each covering ``area_per_plate_cm2``; both in cm²."""
    return int(round_need_up(area_cm2 / area_per_plate_cm2))


def plate_quantities(placement: Placement, evidence: Evidence, preferences: Preferences) -> tuple[Quantity, ...]:
    """Plates and carriers of an island placement, spread by the expansion; nothing for other methods."""
    if placement.plates is None:
        return ()
    low, high = (
        plates_needed(skin, plate_area_cm2(evidence)) for skin in skin_range_cm2(placement, evidence, preferences)
    )
    sources = (*expansion_sources([placement]), "plate-side-mm/any")
    return tuple(
        Quantity(name, Decimal(placement.plates), Decimal(low), Decimal(high), "1", sources)
        for name in ("plates", "carriers")
    )


def sum_quantities(name: str, parts: Iterable[Quantity]) -> Quantity:
    """One total of several quantities of the same unit; their spreads are added, the cautious way."""
    parts = list(parts)
    has_spread = any(p.low is not None for p in parts)
    return Quantity(
        name,
        sum(p.value for p in parts),
        sum(p.value if p.low is None else p.low for p in parts) if has_spread else None,
        sum(p.value if p.high is None else p.high for p in parts) if has_spread else None,
        parts[0].unit,
        tuple(sorted({source for p in parts for source in p.sources})),
    )
