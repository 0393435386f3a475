"""Random grafting cases, made straight from the domain: the same seed gives the same case.

Invented patients of every age band with 5 to 95 %TBSA, on a small body chart of its own, so
that what is tested does not also make the test data.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from random import Random

from service.domain.body_region import Place, Region, all_places
from service.domain.burn_wound import BedState, BurnWound, Depth, PlacedGraft
from service.domain.case import (
    Act,
    BurnRecord,
    FixedDecision,
    GraftingCase,
    KeepFor,
    PlanRequest,
    SessionLimits,
    SkinLimitAge,
    TheatreDay,
)
from service.domain.donor_site import DonorParcel, DonorSite
from service.domain.graft import GraftMethod, methods_of_place
from service.domain.patient import AllergyAnswer, BirthDate, Measured, Patient, Sex, TreatmentIntent

DAY_ZERO = date(2031, 3, 3)
STEP_CM2 = Decimal("0.1")

#: Share of body surface of a place on this chart. [%TBSA]
PLACE_PERCENT = {
    Region.FACE: Decimal(4), Region.SCALP: Decimal(3), Region.NECK: Decimal(1),
    Region.ANTERIOR_TRUNK: Decimal(13), Region.POSTERIOR_TRUNK: Decimal(13), Region.BUTTOCK: Decimal("2.5"),
    Region.UPPER_ARM: Decimal(2), Region.FOREARM: Decimal("1.5"), Region.HAND: Decimal("1.25"),
    Region.THIGH: Decimal("4.75"), Region.LOWER_LEG: Decimal("3.5"), Region.FOOT: Decimal("1.75"),
}
JOINT_SHARE = {
    Region.UPPER_ARM: Decimal("0.2"), Region.FOREARM: Decimal("0.15"),
    Region.THIGH: Decimal("0.15"), Region.LOWER_LEG: Decimal("0.2"),
}
#: Age and body surface by band: years from, years to, m² from, m² to.
BODIES = {
    SkinLimitAge.INFANT: ("0.3", "0.9", "0.30", "0.45"),
    SkinLimitAge.SMALL_CHILD: ("1", "4.9", "0.45", "0.75"),
    SkinLimitAge.CHILD: ("5", "15.9", "0.75", "1.60"),
    SkinLimitAge.ADULT: ("16", "64.9", "1.50", "2.40"),
    SkinLimitAge.OLD: ("65", "92", "1.40", "2.10"),
}
AREA_LIMIT_PERCENT = {
    SkinLimitAge.INFANT: 10, SkinLimitAge.SMALL_CHILD: 15, SkinLimitAge.CHILD: 20,
    SkinLimitAge.ADULT: 20, SkinLimitAge.OLD: 10,
}


def random_case(seed: int) -> GraftingCase:
    """A case of the given seed; about half have a history, cover, theatre days or kept skin."""
    rng = Random(seed)
    band = rng.choice(tuple(SkinLimitAge))
    years_from, years_to, surface_from, surface_to = (Decimal(text) for text in BODIES[band])
    surface_m2 = decimal_between(rng, surface_from, surface_to, "0.01")
    burned = _burned_shares(rng, Decimal(round(rng.triangular(5, 95, 10))))
    injury_day = -rng.choice((1, 2, 3, 5, 9, 14, 25))
    wounds = _wounds(rng, burned, surface_m2, injury_day)
    sites = _donor_sites(rng, burned, surface_m2, injury_day)
    percent_cm2 = surface_m2 * 100
    blood_volume_ml = (surface_m2 * 2600).quantize(Decimal(1))
    limit_cm2 = down(AREA_LIMIT_PERCENT[band] * percent_cm2)
    limits = SessionLimits(
        excised_cm2=limit_cm2, grafted_cm2=limit_cm2,
        blood_ml=(blood_volume_ml * decimal_between(rng, Decimal("0.15"), Decimal("0.5"), "0.01")).quantize(
            Decimal(1), ROUND_FLOOR),
        procedure_minutes=rng.choice((180, 240, 240)), rest_days=rng.choice((1, 2, 2, 3)),
        positions=rng.choice((1, 2, 2)))
    first_session_day = rng.randint(0, 3)
    horizon_day = rng.choice((45, 90, 90))
    return grafting_case(
        wounds, sites, limits=limits, body_surface_m2=surface_m2, age_band=band,
        age_years=decimal_between(rng, years_from, years_to, "0.1"), blood_volume_ml=blood_volume_ml,
        injury_day=injury_day, first_session_day=first_session_day, horizon_day=horizon_day,
        burn_percent_tbsa=sum(burned.values(), Decimal(0)),
        off_loading=rng.random() < 0.5,
        thick_skin_allowed=band in (SkinLimitAge.CHILD, SkinLimitAge.ADULT),
        request=_request(rng, sites, first_session_day, horizon_day))


def random_decided_case(seed: int) -> GraftingCase:
    """The case of the seed with one decision of the caller on a region that can have the act.

    Whether it can be kept is not known: its day may not suit, or its skin be needed elsewhere.
    """
    case, rng = random_case(seed), Random(f"decision-{seed}")
    decisions = _fixed_decisions(rng, case.wounds, case.donor_sites)
    return replace(case, request=replace(case.request, fixed_decisions=decisions))


def grafting_case(wounds: tuple[BurnWound, ...], sites: tuple[DonorSite, ...], **changes) -> GraftingCase:
    """A complete case around wounds and sites; ``changes`` are fields of the case."""
    surface_m2 = changes.get("body_surface_m2", Decimal("1.8"))
    graftable = sum((wound.area_cm2 for wound in wounds), Decimal(0)) / (surface_m2 * 100)
    fields = {
        "record": BurnRecord(_patient(changes.get("injury_day", -3), surface_m2), (), None),
        "request": plan_request(),
        "day_zero": DAY_ZERO, "injury_day": -3,
        "age_years": Decimal(40), "age_band": SkinLimitAge.ADULT,
        "body_surface_m2": surface_m2, "body_surface_formula": "mosteller",
        "blood_volume_ml": Decimal(5000),
        "burn_percent_tbsa": graftable, "graftable_percent_tbsa": graftable,
        "thick_skin_allowed": True, "off_loading": True,
        "first_session_day": 0, "horizon_day": 90, "weight_set": "life" if graftable >= 40 else "function",
    }
    return GraftingCase(wounds=wounds, donor_sites=sites, **{**fields, **changes})


def plan_request(**changes) -> PlanRequest:
    """A request on day zero that states nothing but what ``changes`` say."""
    as_of = datetime(DAY_ZERO.year, DAY_ZERO.month, DAY_ZERO.day, 8, tzinfo=UTC)
    return PlanRequest(**{"as_of": as_of, "time_zone": "UTC", **changes})


def date_of(day: int) -> date:
    return DAY_ZERO + timedelta(days=day)


def up(area_cm2: Decimal) -> Decimal:
    """Rounded up to 0.1 cm²."""
    return area_cm2.quantize(STEP_CM2, ROUND_CEILING)


def down(area_cm2: Decimal) -> Decimal:
    """Rounded down to 0.1 cm²."""
    return area_cm2.quantize(STEP_CM2, ROUND_FLOOR)


def decimal_between(rng: Random, low: Decimal, high: Decimal, step: str) -> Decimal:
    """A multiple of ``step`` from ``low`` to ``high``."""
    size = Decimal(step)
    return low + size * rng.randint(0, int((high - low) / size))


def share(rng: Random) -> Decimal:
    """A share strictly between nothing and all."""
    return Decimal(rng.randint(10, 90)) / 100


def _patient(injury_day: int, surface_m2: Decimal) -> Patient:
    def measured(value: Decimal) -> Measured:
        return Measured(value, DAY_ZERO, "Observation/measured")

    return Patient(
        key="invented", reference="Patient/invented", birth_date=BirthDate(1991, 1, 1), sex=Sex.FEMALE,
        weight_kg=measured(surface_m2 * 38), height_cm=None, body_surface_m2=None,
        haemoglobin_g_dl=measured(Decimal(11)), core_temperature_celsius=None, albumin_g_dl=None,
        injury=date_of(injury_day), inhalation_injury=False, treatment_intent=TreatmentIntent.CURATIVE,
        fit_for_theatre_from=None, off_loading_available=None,
        sulfonamide_allergy=AllergyAnswer.NOT_RECORDED)


def _burned_shares(rng: Random, target_percent: Decimal) -> dict[Place, Decimal]:
    """Burned %TBSA by place, up to about the target."""
    places = [place for place in all_places() if place.region in PLACE_PERCENT]
    rng.shuffle(places)
    burned, left = {}, target_percent
    for place in places:
        full = PLACE_PERCENT[place.region]
        part = min(left, full * (1 if target_percent > 80 else Decimal(rng.randint(4, 10)) / 10))
        if part >= Decimal("0.1"):
            burned[place] = part
            left -= part
    return burned


def _wounds(
    rng: Random, burned: dict[Place, Decimal], surface_m2: Decimal, injury_day: int
) -> tuple[BurnWound, ...]:
    with_history = rng.random() < 0.5
    wounds = []
    for place, percent in burned.items():
        depth = rng.choice((Depth.FULL_THICKNESS, Depth.FULL_THICKNESS, Depth.DEEP_PARTIAL, None))
        bed = rng.choice((*BedState, None, None, None, None)) if with_history else None
        total = up(percent * surface_m2 * 100)
        joint = up(total * JOINT_SHARE.get(place.region, Decimal(0)))
        for over_joint, area in ((False, total - joint), (True, joint)):
            if area > 0:
                wound = BurnWound(
                    f"{place.key}:{depth or 'open-wound'}{':joint' if over_joint else ''}", place, depth,
                    over_joint, area, sources=(f"Observation/{place.key}",))
                wounds.append(
                    _with_history(rng, wound, bed, injury_day) if with_history else _fresh(rng, wound))
    return tuple(sorted(wounds, key=lambda wound: wound.wound_id))


def _fresh(rng: Random, wound: BurnWound) -> BurnWound:
    excised = wound.area_cm2 if wound.depth is None else Decimal(0)
    watched = wound.depth is Depth.DEEP_PARTIAL and rng.random() < 0.3
    return replace(wound, excised_cm2=excised, wait_until_day=rng.randint(1, 12) if watched else None)


def _with_history(rng: Random, wound: BurnWound, bed: BedState | None, injury_day: int) -> BurnWound:
    """Part of the wound grafted in the past, part excised, part of that covered."""
    changes: dict = {"bed_state": bed}
    area, day = wound.area_cm2, rng.randint(injury_day, 0)
    methods = sorted(methods_of_place(wound.place, wound.over_joint))
    if methods and rng.random() < 0.4:
        grafted = up(area * share(rng))
        read = rng.random() < 0.5
        take = Decimal(rng.randint(60, 100)) / 100 if read else None
        changes["placed"] = (PlacedGraft(day, rng.choice(methods), grafted, take, day if read else None),)
        area -= grafted - (up(grafted * (1 - take)) if read else 0)
    if bed is BedState.UNDER_TEMPLATE:
        changes["ready_from_day"] = rng.randint(0, 20)
    is_bed_all_ready = bed in (BedState.READY, BedState.UNDER_TEMPLATE) or wound.depth is None
    excised = area if is_bed_all_ready else down(area * rng.choice((0, share(rng), 1)))
    if excised and rng.random() < 0.5:
        changes.update(covered_cm2=down(excised * share(rng)), covered_until_day=rng.randint(0, 14))
    return replace(wound, area_cm2=area, excised_cm2=excised, **changes)


def _donor_sites(
    rng: Random, burned: dict[Place, Decimal], surface_m2: Decimal, injury_day: int
) -> tuple[DonorSite, ...]:
    with_history = rng.random() < 0.5
    sites = []
    for place in all_places():
        if not place.facts.gives_skin or place.region not in PLACE_PERCENT:
            continue
        usable = Decimal("0.4") if place.region is Region.SCALP else Decimal(1)
        free_percent = PLACE_PERCENT[place.region] - burned.get(place, Decimal(0))
        area = down(max(free_percent, Decimal(0)) * usable * surface_m2 * 100)
        if area > 0:
            parcels = _parcels(rng, area, injury_day) if with_history else (DonorParcel(area),)
            allowed = 3 if place.region is Region.SCALP else 2
            sites.append(DonorSite(place.key, place, area, allowed, parcels))
    return tuple(sites)


def _parcels(rng: Random, area: Decimal, injury_day: int) -> tuple[DonorParcel, ...]:
    """Part of the site harvested before: healed by record, expected healed, or still healing."""
    taken = min(area, up(area * rng.choice((Decimal(0), share(rng), Decimal(1)))))
    parcels = [DonorParcel(area - taken)] if taken < area else []
    if taken:
        day = rng.randint(injury_day, 0)
        parcels.append(DonorParcel(
            taken, harvest_count=rng.choice((1, 1, 2)), harvested_day=day,
            healed_recorded=rng.random() < 0.4, healed_day=day + rng.randint(7, 25)))
    return tuple(parcels)


def _request(rng: Random, sites: tuple[DonorSite, ...], first_day: int, horizon_day: int) -> PlanRequest:
    changes: dict = {}
    days = sorted(rng.sample(range(first_day, horizon_day + 1), rng.randint(6, 30)))
    if rng.random() < 0.4:
        changes["theatre_days"] = tuple(
            TheatreDay(date_of(day), rng.choice((None, 200, 300, 400)), rng.choice((None, None, 1, 2)))
            for day in days)
    if rng.random() < 0.3:
        narrow = {GraftMethod.SHEET, GraftMethod.MESHED_1_1, GraftMethod.MESHED_1_1_5}
        others = sorted(set(GraftMethod) - narrow)
        more = rng.sample(others, rng.randint(0, len(others)))
        changes["methods_available"] = frozenset(narrow.union(more))
    if rng.random() < 0.25:
        changes["keep_for"] = (_keep_some_skin(rng, sites),)
    if rng.random() < 0.5:
        changes["cover_stock_cm2"] = Decimal(rng.choice((0, 500, 2000, 8000)))
    return plan_request(**changes)


def _keep_some_skin(rng: Random, sites: tuple[DonorSite, ...]) -> KeepFor:
    """A part, at most all, of the skin that was never harvested and may serve the region."""
    region = rng.choice((Region.FACE, Region.HAND, Region.NECK))
    above = [site for site in sites if site.above_clavicle]
    serving = above if region is Region.FACE and above else sites
    parcels = [parcel for site in serving for parcel in site.parcels if parcel.harvest_count == 0]
    held = sum((parcel.area_cm2 for parcel in parcels), Decimal(0))
    return KeepFor(region, down(held * rng.choice((share(rng) / 2, Decimal(1)))))


def _fixed_decisions(
    rng: Random, wounds: tuple[BurnWound, ...], sites: tuple[DonorSite, ...]
) -> tuple[FixedDecision, ...]:
    """One act on a region that can have it; the planner may still find it infeasible."""
    act = rng.choice(tuple(Act))
    places = [site.place for site in sites] if act is Act.HARVEST else [wound.place for wound in wounds]
    if not places:
        return ()
    place = rng.choice(places)
    day = date_of(rng.randint(3, 20)) if rng.random() < 0.5 else None
    methods = sorted(methods_of_place(place, over_joint=False))
    method = rng.choice(methods) if act is Act.PLACE and methods and rng.random() < 0.5 else None
    return (FixedDecision(act, place.region, place.side, day, method),)
