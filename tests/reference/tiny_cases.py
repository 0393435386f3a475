"""Small random cases that can be searched exhaustively: two or three wounds, a few theatre days.

Wounds are small enough for their expected loss to heal under dressings, so that no skin has to be held
in reserve; limits and donor skin are drawn so that they bind now and then.
"""

from __future__ import annotations

from decimal import Decimal
from random import Random

from service.domain.body_region import Place, Region, Side, Surface
from service.domain.burn_wound import BurnWound, Depth
from service.domain.case import GraftingCase, SessionLimits, TheatreDay
from service.domain.donor_site import DonorParcel, DonorSite
from service.domain.graft import GraftMethod
from tests.random_cases import date_of, down, grafting_case, plan_request, up

SURFACE_M2 = Decimal("1.8")
PERCENT_CM2 = SURFACE_M2 * 100
WOUND_PLACES = (
    Place(Region.ANTERIOR_TRUNK, None, Surface.FRONT), Place(Region.POSTERIOR_TRUNK, None, Surface.BACK),
    Place(Region.THIGH, Side.LEFT, Surface.FRONT), Place(Region.LOWER_LEG, Side.LEFT, Surface.FRONT),
    Place(Region.UPPER_ARM, Side.LEFT, Surface.BACK), Place(Region.HAND, Side.RIGHT, Surface.BACK),
    Place(Region.FOREARM, Side.RIGHT, Surface.FRONT), Place(Region.FOOT, Side.LEFT, Surface.FRONT),
)
DONOR_PLACES = (
    Place(Region.THIGH, Side.RIGHT, Surface.FRONT), Place(Region.THIGH, Side.RIGHT, Surface.BACK),
    Place(Region.LOWER_LEG, Side.RIGHT, Surface.BACK),
)
MESHES = (GraftMethod.MESHED_1_1_5, GraftMethod.MESHED_1_2, GraftMethod.MESHED_1_3)
ISLANDS = (GraftMethod.ISLAND_1_3, GraftMethod.ISLAND_1_4, GraftMethod.ISLAND_1_9)


def tiny_case(seed: int) -> GraftingCase:
    """The case of a seed; every third has three wounds, some have healing skin or ready bed."""
    rng = Random(f"tiny/{seed}")
    wounds_count = 3 if seed % 3 == 0 else 2
    wounds = tuple(sorted((_wound(rng, place) for place in rng.sample(WOUND_PLACES, wounds_count)),
                          key=lambda wound: wound.wound_id))
    total = sum((wound.area_cm2 for wound in wounds), Decimal(0))
    days = sorted(rng.sample(range(1, 25), 4 if seed % 5 == 1 else 3))
    methods = {GraftMethod.SHEET, rng.choice(MESHES), rng.choice(ISLANDS)}
    limit = down(total * Decimal(rng.choice((45, 60, 80, 120))) / 100)
    request = plan_request(
        theatre_days=tuple(TheatreDay(date_of(day)) for day in days), methods_available=frozenset(methods))
    return grafting_case(
        wounds, _donors(rng, total), body_surface_m2=SURFACE_M2, horizon_day=30, request=request,
        burn_percent_tbsa=total / PERCENT_CM2, graftable_percent_tbsa=total / PERCENT_CM2, weight_set="function",
        limits=SessionLimits(limit, limit, Decimal(rng.choice((700, 1200, 2500))), rng.choice((150, 240)),
                             rng.choice((1, 2, 3)), rng.choice((1, 2, 2))),
        first_session_day=1, off_loading=rng.random() < 0.7)


def _wound(rng: Random, place: Place) -> BurnWound:
    most = 25 if place.region in (Region.HAND, Region.FOOT) else 50
    area = up(Decimal(rng.randint(20, most)) / 10 * PERCENT_CM2) if most > 25 else up(Decimal("1.2") * PERCENT_CM2)
    is_excised = rng.random() < 0.2
    return BurnWound(f"{place.key}:full-thickness", place, Depth.FULL_THICKNESS, False, area,
                     excised_cm2=area if is_excised else Decimal(0),
                     wait_until_day=rng.randint(2, 10) if not is_excised and rng.random() < 0.15 else None)


def _donors(rng: Random, total: Decimal) -> tuple[DonorSite, ...]:
    """One or two sites that together hold a quarter of the wounds or more."""
    sites = []
    for place in sorted(rng.sample(DONOR_PLACES, rng.choice((1, 2))), key=lambda place: place.key):
        area = down(max(Decimal(80), total * Decimal(rng.choice((25, 50, 80, 120))) / 100))
        is_healing = rng.random() < 0.2
        parcel = DonorParcel(area, harvest_count=1, harvested_day=-8, healed_recorded=False,
                             healed_day=rng.randint(3, 12)) if is_healing else DonorParcel(area)
        sites.append(DonorSite(place.key, place, area, 2, (parcel,)))
    return tuple(sites)
