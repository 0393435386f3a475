"""The smallest plans that show a rule: one graft, or two in two sessions."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from random import Random

from service.domain.case import GraftingCase
from service.domain.graft import GraftMethod, SkinClass
from service.domain.plan import SettledPlan
from service.domain.session import Excision
from tests.unit.verification.plan_builder import (
    THIN_BELOW,
    harvest_for,
    place_graft,
    roomy_case,
    settle,
    site_on,
    small_area_cm2,
    wound_on,
)

SIMPLE_METHODS = (
    GraftMethod.MESHED_1_1, GraftMethod.MESHED_1_1_5, GraftMethod.MESHED_1_2, GraftMethod.MESHED_1_3,
    GraftMethod.MESHED_1_4, GraftMethod.ISLAND_1_3, GraftMethod.ISLAND_1_4, GraftMethod.ISLAND_1_6,
)


def one_graft(
    rng: Random, *, wound_at: str = "left-thigh-front", site_at: str = "right-thigh-front",
    area_cm2: Decimal | None = None, method: GraftMethod | None = None, skin_class: SkinClass = THIN_BELOW,
    day: int | None = None, wound: dict | None = None, **case_changes,
) -> tuple[GraftingCase, SettledPlan]:
    """One wound, excised unless its bed is, grafted whole in one session from one site."""
    day = rng.randint(1, 30) if day is None else day
    burn = wound_on(wound_at, area_cm2 or small_area_cm2(rng), **(wound or {}))
    graft = place_graft(day, burn, method or rng.choice(SIMPLE_METHODS), skin_class)
    case = roomy_case(rng, (burn,), (site_on(site_at, Decimal(900)),), **case_changes)
    excisions = (Excision(day, burn.wound_id, burn.unexcised_cm2),) if burn.unexcised_cm2 else ()
    acts = SettledPlan(excisions=excisions, placements=(graft,), harvests=(harvest_for((graft,), site_at),))
    return case, settle(case, acts)


def two_grafts(
    rng: Random, gap_days: int, *, first_at: str = "left-thigh-front",
    second_at: str = "left-lower-leg-front", **case_changes,
) -> tuple[GraftingCase, SettledPlan]:
    """Two wounds grafted in two sessions, each from a site of its own."""
    day = rng.randint(1, 30)
    burns = tuple(wound_on(key, small_area_cm2(rng)) for key in (first_at, second_at))
    sites = tuple(site_on(key, Decimal(900)) for key in ("right-upper-arm-front", "right-forearm-front"))
    days = (day, day + gap_days)
    method = rng.choice(SIMPLE_METHODS)
    grafts = tuple(place_graft(d, burn, method, THIN_BELOW) for d, burn in zip(days, burns, strict=True))
    case = roomy_case(rng, burns, sites, **case_changes)
    acts = SettledPlan(
        excisions=tuple(Excision(d, b.wound_id, b.area_cm2) for d, b in zip(days, burns, strict=True)),
        placements=grafts,
        harvests=tuple(harvest_for((g,), s.site_id) for g, s in zip(grafts, sites, strict=True)))
    return case, settle(case, acts)


def moved(plan: SettledPlan, from_day: int, by_days: int) -> SettledPlan:
    """The session of a day with all its acts on another day; cover ends where it ended."""
    groups = {}
    for group in ("sessions", "excisions", "harvests", "placements", "covers"):
        groups[group] = tuple(
            replace(part, day=part.day + by_days) if part.day == from_day else part
            for part in getattr(plan, group))
    return replace(plan, **groups)
