"""Small plans written by hand: acts first, then everything that follows from them.

The builder knows the evidence and the form of a plan, and neither the planner nor the
verification. All its rounding is the smallest that is still enough, so that a plan stands at
the bound of its rules.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import ceil
from random import Random

from service.domain.body_region import Place, Position, Region, all_places
from service.domain.burn_wound import BedState, BurnWound, Depth
from service.domain.case import GraftingCase, SessionLimits, SkinLimitAge
from service.domain.donor_site import DonorParcel, DonorSite, Harvest
from service.domain.graft import GraftKind, GraftMethod, SkinClass, Thickness
from service.domain.plan import SettledPlan, StillOpen, UnreservedLoss
from service.domain.session import CoverKind, CoverPlacement, Placement, Session
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests.random_cases import decimal_between, grafting_case

EVIDENCE = load_evidence()
PREFERENCES = load_preferences()
PLACES = {place.key: place for place in all_places()}
STEP = Decimal("0.1")
FLAT = (Region.ANTERIOR_TRUNK, Region.POSTERIOR_TRUNK, Region.THIGH)
CHILDREN = (SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD)
THIN_BELOW = SkinClass(Thickness.THIN, above_clavicle=False)
MEDIUM_BELOW = SkinClass(Thickness.MEDIUM, above_clavicle=False)
MEDIUM_ABOVE = SkinClass(Thickness.MEDIUM, above_clavicle=True)
AMPLE = SessionLimits(
    excised_cm2=Decimal(9000), grafted_cm2=Decimal(9000), blood_ml=Decimal(9000),
    procedure_minutes=2000, rest_days=2, positions=2)


def wound_on(key: str, area_cm2: Decimal, **changes) -> BurnWound:
    """A full-thickness wound on a place, not excised unless ``changes`` say so."""
    fields = {"depth": Depth.FULL_THICKNESS, "over_joint": False, **changes}
    wound_id = f"{key}:full-thickness{':joint' if fields['over_joint'] else ''}"
    return BurnWound(wound_id=wound_id, place=PLACES[key], area_cm2=area_cm2, **fields)


def site_on(
    key: str, area_cm2: Decimal, parcels: tuple[DonorParcel, ...] = (), allowed: int = 2
) -> DonorSite:
    """A donor site, never harvested unless parcels are given."""
    return DonorSite(key, PLACES[key], area_cm2, allowed, parcels or (DonorParcel(area_cm2),))


def area_per_skin(method: GraftMethod, place: Place) -> Decimal:
    quantile = PREFERENCES.value("planning-quantile")
    row = EVIDENCE.row("achieved-expansion-ratio", method.value)
    ratio = min(row.value, EVIDENCE.quantile(row.parameter, row.applies_to, quantile))
    return ratio * EVIDENCE.value("shape-factor", "flat" if place.region in FLAT else "concave")


def round_up(number: Decimal | Fraction, step: Decimal = STEP) -> Decimal:
    return ceil(Fraction(number) / Fraction(step)) * step


def plate_cm2() -> Decimal:
    return EVIDENCE.value("plate-side-mm") ** 2 / 100


def place_graft(
    day: int, wound: BurnWound, method: GraftMethod, skin_class: SkinClass,
    area_cm2: Decimal | None = None, *, is_regraft: bool = False,
) -> Placement:
    """A placement with the least skin that covers its area."""
    area_cm2 = wound.area_cm2 if area_cm2 is None else area_cm2
    least_cm2 = Fraction(area_cm2) / Fraction(area_per_skin(method, wound.place))
    if method.kind is GraftKind.ISLAND:
        plates = ceil(least_cm2 / Fraction(plate_cm2()))
        skin_cm2 = plates * plate_cm2()
    else:
        plates, skin_cm2 = None, round_up(least_cm2)
    return Placement(day, wound.wound_id, method, area_cm2, skin_class, skin_cm2, plates, is_regraft)


def least_harvest_cm2(placements: tuple[Placement, ...]) -> Decimal:
    """The least skin to harvest for placements of one class and day."""
    skin_cm2 = sum((placement.skin_cm2 for placement in placements), Decimal(0))
    return round_up(Fraction(skin_cm2) / Fraction(1 - EVIDENCE.value("handling-loss")))


def harvest_for(placements: tuple[Placement, ...], site_id: str, number: int = 1) -> Harvest:
    """The least harvest for placements of one class and day that is worth taking."""
    first = placements[0]
    area_cm2 = max(least_harvest_cm2(placements), PREFERENCES.value("smallest-harvest"))
    return Harvest(first.day, site_id, first.skin_class.thickness, area_cm2, number)


def temporary_cover(day: int, wound: BurnWound, area_cm2: Decimal, until_day: int) -> CoverPlacement:
    return CoverPlacement(day, wound.wound_id, CoverKind.TEMPORARY, area_cm2, until_day)


def settle(case: GraftingCase, acts: SettledPlan) -> SettledPlan:
    """Acts with the sessions, the open rest and the unreserved loss that follow from them."""
    days = sorted({act.day for act in (*acts.excisions, *acts.harvests, *acts.placements, *acts.covers)})
    sessions = tuple(_session(case, acts, ordinal, day) for ordinal, day in enumerate(days, start=1))
    return replace(
        acts, sessions=sessions, still_open=_still_open(case, acts), unreserved=_unreserved(case, acts))


def _session(case: GraftingCase, acts: SettledPlan, ordinal: int, day: int) -> Session:
    positions = _positions(case, acts, day)
    return Session(
        ordinal, day, positions,
        is_contingent=any(p.is_regraft for p in acts.placements if p.day == day),
        procedure_minutes=int(round_up(procedure_minutes(case, acts, day, len(positions)), Decimal(1))),
        blood_loss_ml=int(round_up(blood_loss_ml(case, acts, day), Decimal(1))),
        units_to_have_ready=0)


def _positions(case: GraftingCase, acts: SettledPlan, day: int) -> tuple[Position, ...]:
    """One position if it reaches everything, otherwise both."""
    wounds = {wound.wound_id: wound.place for wound in case.wounds}
    sites = {site.site_id: site.place for site in case.donor_sites}
    on_wounds = (*acts.excisions, *acts.placements, *acts.covers)
    places = [wounds[act.wound_id] for act in on_wounds if act.day == day]
    places += [sites[harvest.site_id] for harvest in acts.harvests if harvest.day == day]
    for position in Position:
        if all(position in place.reached for place in places):
            return (position,)
    return tuple(Position)


def procedure_minutes(case: GraftingCase, acts: SettledPlan, day: int, positions: int) -> Fraction:
    """Exact minutes of the session on a day. [min]"""
    operated, special = Decimal(0), set()
    for wound in case.wounds:
        excised = _area(e for e in acts.excisions if (e.day, e.wound_id) == (day, wound.wound_id))
        placed = _area(p for p in acts.placements if (p.day, p.wound_id) == (day, wound.wound_id))
        operated += max(excised, placed)
        if max(excised, placed) and wound.place.facts.is_special:
            special.add(wound.place.region_key)

    def minutes(part: str) -> Fraction:
        return Fraction(EVIDENCE.value("theatre-minutes", part))

    operated_percent = Fraction(operated) / Fraction(case.body_surface_m2 * 100)
    return (minutes("fixed") + minutes("per-percent") * operated_percent
            + minutes("turn") * (positions - 1) + minutes("special-area") * len(special))


def blood_loss_ml(case: GraftingCase, acts: SettledPlan, day: int) -> Decimal:
    """Exact blood loss of the session on a day at the high end of the evidence. [mL]"""
    age = "child" if case.age_band in CHILDREN else "adult"
    excised = _area(e for e in acts.excisions if e.day == day)
    harvested = _area(h for h in acts.harvests if h.day == day)
    return (EVIDENCE.row("blood-loss-per-cm2", f"excision-{age}").high * excised
            + EVIDENCE.row("blood-loss-per-cm2", f"harvest-{age}").high * harvested)


def _still_open(case: GraftingCase, acts: SettledPlan) -> tuple[StillOpen, ...]:
    left = {
        wound.wound_id: wound.area_cm2 - _area(
            p for p in acts.placements if p.wound_id == wound.wound_id and not p.is_regraft)
        for wound in case.wounds}
    return tuple(StillOpen(wound_id, area) for wound_id, area in left.items() if area)


def expected_loss_cm2(case: GraftingCase, acts: SettledPlan, region_key: str) -> Decimal:
    """Loss to reserve skin for in a region: 0 where it is small, else in steps of 0.1 cm²."""
    lost, grafted = Decimal(0), Decimal(0)
    for wound in case.wounds:
        if wound.place.region_key != region_key:
            continue
        grafts = [(p.method, p.area_cm2) for p in acts.placements
                  if p.wound_id == wound.wound_id and not p.is_regraft]
        grafts += [(g.method, g.area_cm2) for g in wound.placed if g.take_fraction is None]
        for method, area in grafts:
            lost += (1 - _take(method, wound)) * area
            grafted += area
    least = PREFERENCES.value("regraft-percent") * case.body_surface_m2 * 100
    counts = lost >= least and lost >= PREFERENCES.value("regraft-fraction") * grafted
    return round_up(lost) if counts else Decimal(0)


def _take(method: GraftMethod, wound: BurnWound) -> Decimal:
    take = EVIDENCE.value("take", method.kind.value)
    if wound.bed_state is BedState.COLONISED:
        take *= EVIDENCE.value("take-multiplier", "colonised")
    return take


def _unreserved(case: GraftingCase, acts: SettledPlan) -> tuple[UnreservedLoss, ...]:
    regions = {wound.wound_id: wound.place.region_key for wound in case.wounds}
    left = {}
    for key in sorted(set(regions.values())):
        regrafted = _area(p for p in acts.placements if p.is_regraft and regions[p.wound_id] == key)
        left[key] = expected_loss_cm2(case, acts, key) - regrafted
    return tuple(UnreservedLoss(key, area) for key, area in left.items() if area)


def _area(acts) -> Decimal:
    return sum((act.area_cm2 for act in acts), Decimal(0))


def amended(plan: SettledPlan, group: str, index: int = 0, **changes) -> SettledPlan:
    """The plan with one of its parts changed."""
    parts = list(getattr(plan, group))
    parts[index] = replace(parts[index], **changes)
    return replace(plan, **{group: tuple(parts)})


def with_limits(case: GraftingCase, **changes) -> GraftingCase:
    return replace(case, limits=replace(case.limits, **changes))


def with_request(case: GraftingCase, **changes) -> GraftingCase:
    return replace(case, request=replace(case.request, **changes))


def with_wound(case: GraftingCase, index: int = 0, **changes) -> GraftingCase:
    wounds = list(case.wounds)
    wounds[index] = replace(wounds[index], **changes)
    return replace(case, wounds=tuple(wounds))


def roomy_case(
    rng: Random, wounds: tuple[BurnWound, ...], sites: tuple[DonorSite, ...], **changes
) -> GraftingCase:
    """A case whose limits bind nowhere, on a body of random size."""
    surface_m2 = decimal_between(rng, Decimal("1.7"), Decimal("2.2"), "0.01")
    return grafting_case(wounds, sites, **{"body_surface_m2": surface_m2, "limits": AMPLE, **changes})


def small_area_cm2(rng: Random) -> Decimal:
    """A wound so small that its expected loss heals by dressing. [cm²]"""
    return decimal_between(rng, Decimal(110), Decimal(160), "0.1")
