"""The quantities of a session with their spread and their sources."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal

from service.domain.case import GraftingCase
from service.domain.donor_site import Harvest
from service.domain.dressing import Quantity, sum_quantities
from service.domain.forecast import CourseForecast, GraftForecast, Spread
from service.domain.graft import GraftMethod, SkinClass
from service.domain.plan import SettledPlan
from service.domain.session import Placement
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.wording.rounding import TENTH, round_need_up

_EXPANSION = "achieved-expansion-ratio"
#: What else the simulated need of skin is drawn from.
SIMULATED_FROM = ("burn-size-error/points", "shape-factor/concave")


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


def graft_forecast(placement: Placement, ordinal: int | None, forecast: CourseForecast | None) -> GraftForecast | None:
    """What the simulated courses say of a graft of a firm session."""
    session = None if forecast is None or ordinal is None else forecast.of_session(ordinal)
    same = (placement.wound_id, placement.method, placement.skin_class)
    return None if session is None or placement.is_regraft else next(
        (g for g in session.by_graft if (g.wound_id, g.method, g.skin_class) == same), None)


def with_spread(name: str, value: Decimal, spread: Spread, unit: str, sources: tuple[str, ...]) -> Quantity:
    """A planned quantity with the interval of its need; the interval reaches at least to what is planned."""
    return Quantity(name, value, min(spread.low, value), max(spread.high, value), unit, sources)


def session_harvest(parts: list[Quantity], ordinal: int, forecast: CourseForecast | None) -> Quantity:
    """Skin to take in a session, all sites together. [cm²]"""
    total = sum_quantities("harvest-area", parts)
    session = None if forecast is None else forecast.of_session(ordinal)
    return total if session is None else with_spread(
        total.name, total.value, session.needed, total.unit, total.sources)


def _site_spread(harvest: Harvest, plan: SettledPlan, forecast: CourseForecast | None) -> Spread | None:
    """The need of a site and thickness, shared out over the harvests of several numbers."""
    ordinal = next(s.ordinal for s in plan.sessions if s.day == harvest.day)
    session = None if forecast is None else forecast.of_session(ordinal)
    same = [h.area_cm2 for h in plan.harvests
            if (h.day, h.site_id, h.thickness) == (harvest.day, harvest.site_id, harvest.thickness)]
    share = harvest.area_cm2 / sum(same)
    for found in () if session is None else session.by_site:
        if (found.site_id, found.thickness) == (harvest.site_id, harvest.thickness):
            return Spread(*(round_need_up(part * share) for part in (
                found.needed.low, found.needed.median, found.needed.high)))
    return None


def harvest_quantity(
    harvest: Harvest, case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences,
    forecast: CourseForecast | None = None,
) -> Quantity:
    """Skin to take from one site, spread by what the grafts that it serves turn out to need. [cm²]"""
    skin_class = skin_class_of(harvest, case)
    served = [p for p in plan.placements if p.day == harvest.day and p.skin_class == skin_class]
    placed = sum((p.skin_cm2 for p in served), Decimal(0))
    sources = (*expansion_sources(served), "handling-loss/any")
    spread = _site_spread(harvest, plan, forecast)
    if spread is not None:
        return with_spread("harvest-area", harvest.area_cm2, spread, "cm2", (*sources, *SIMULATED_FROM))
    low = high = harvest.area_cm2
    if placed:
        ranges = [skin_range_cm2(p, evidence, preferences) for p in served]
        low, high = (round_need_up(harvest.area_cm2 * sum(side) / placed, TENTH) for side in zip(*ranges, strict=True))
    return Quantity("harvest-area", harvest.area_cm2, min(low, harvest.area_cm2), high, "cm2", sources)


def expansion_sources(placements: Iterable[Placement]) -> tuple[str, ...]:
    return tuple(sorted({f"{_EXPANSION}/{p.method.value}" for p in placements}))


def skin_quantity(placement: Placement, evidence: Evidence, preferences: Preferences,
                  found: GraftForecast | None = None) -> Quantity:
    """Skin to place, after trimming, with its spread. [cm²]"""
    if found is not None:
        sources = (*expansion_sources([placement]), *SIMULATED_FROM)
        return with_spread("skin-placed", placement.skin_cm2, found.skin, "cm2", sources)
    low, high = skin_range_cm2(placement, evidence, preferences)
    return Quantity("skin-placed", placement.skin_cm2, low, high, "cm2", expansion_sources([placement]))


def plate_area_cm2(evidence: Evidence) -> Decimal:
    """Area of one plate. [cm²]"""
    return evidence.value("plate-side-mm") ** 2 / 100


def plates_needed(area_cm2: Decimal, area_per_plate_cm2: Decimal, parts: int = 1) -> Decimal:
    """Plates for a wound, each covering ``area_per_plate_cm2``; both in cm². Whole, or in ``parts`` of one."""
    return round_need_up(area_cm2 / area_per_plate_cm2 * parts) / parts


def plate_quantities(placement: Placement, evidence: Evidence, preferences: Preferences,
                     found: GraftForecast | None = None) -> tuple[Quantity, ...]:
    """Plates and carriers of an island placement, spread by the expansion; nothing for other methods."""
    if placement.plates is None:
        return ()
    sources = (*expansion_sources([placement]), "plate-side-mm/any")
    if found is not None and found.plates is not None:
        return tuple(
            with_spread(name, Decimal(placement.plates), found.plates, "1", (*sources, *SIMULATED_FROM))
            for name in ("plates", "carriers"))
    parts = preferences.integer("plate-parts")
    low, high = (
        plates_needed(skin, plate_area_cm2(evidence), parts)
        for skin in skin_range_cm2(placement, evidence, preferences)
    )
    return tuple(
        Quantity(name, Decimal(placement.plates), low, high, "1", sources) for name in ("plates", "carriers"))


def in_whole_plates(quantity: Quantity) -> Quantity:
    """Plates of a whole session: one that is begun is prepared whole."""
    low, high = (None if end is None else round_need_up(end) for end in (quantity.low, quantity.high))
    return replace(quantity, value=round_need_up(quantity.value), low=low, high=high)
