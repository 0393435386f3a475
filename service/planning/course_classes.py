"""Wounds and donor sites that are the same to a linear model, merged: their areas add up.

Areas in %TBSA, days from the as-of day, costs in %TBSA-days per %TBSA. Merging loses nothing
that the linear rules could tell apart; smallest pieces are not among them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from service.domain.body_region import Position, Region
from service.domain.donor_site import DonorSite
from service.domain.graft import NEEDS_OVERLAY, GraftMethod, Thickness, thickness_for
from service.planning.candidates import candidate_methods
from service.planning.course import Course
from service.planning.quantities import VISIBLE, PlanningQuantities, tenths
from service.planning.wound_facts import WoundFacts

_HAIR = 1e-9  # what floating-point products may be too large by, as a share


@dataclass(frozen=True)
class MethodOption:
    """A method on a class of wounds.

    ``skin`` is skin to harvest per area grafted; ``take``, ``closure`` and ``regraft`` (days from
    placement to closure, and to closure of a lost part) and ``scar`` make its cost.
    """

    method: GraftMethod
    thickness: Thickness
    skin: float
    take: float
    closure: float
    regraft: float
    scar: float
    needs_overlay: bool


@dataclass(frozen=True)
class WoundClass:
    """Wounds with the same weight, methods, reach and times."""

    wounds: tuple[WoundFacts, ...]
    options: tuple[MethodOption, ...]
    area: float
    ready: float  # part that needs no excision
    weight: float
    excision_ml: float  # per %TBSA
    graft_from: int
    excise_from: int
    only_day: int | None
    reached: frozenset[Position]
    loaded: Position | None
    special_area: float | None  # whole area of a region that takes extra minutes
    is_whole: bool
    needs_skin_from_above: bool
    is_reserved: bool  # what is lost of grafts on its regions needs a regraft, unless few are placed
    newly_open: float = 0.0  # part of ``ready`` that a course has excised

    @property
    def unexcised(self) -> float:
        return max(0.0, self.area - self.ready)


@dataclass(frozen=True)
class DonorClass:
    """Donor sites with the same reach, healing and cost. ``supply``: area, free day, whether a record says so."""

    sites: tuple[DonorSite, ...]
    area: float
    fresh: float
    harvests: float  # area times harvests left
    supply: tuple[tuple[float, int, bool], ...]
    reached: frozenset[Position]
    above_clavicle: bool
    healing: dict[Thickness, int]
    cost: dict[Thickness, float]
    repeat_cost: float  # what a second harvest costs more


def merged_wounds(quantities: PlanningQuantities, wounds: tuple[WoundFacts, ...]) -> tuple[WoundClass, ...]:
    """Classes for a bound, in the order of their first wound: every method that the rules allow."""
    return _merged(quantities, ((w, candidate_methods(quantities.case, w.wound)) for w in wounds if w.area > 0))


def planned_wounds(quantities: PlanningQuantities, wounds: tuple[WoundFacts, ...]) -> tuple[WoundClass, ...]:
    """Classes for a plan, of wounds that can be grafted: whole regions keep their sheet."""
    merged = _merged(quantities, ((w, _planned_methods(quantities, w)) for w in wounds if w.is_plannable))
    return tuple(one for one in merged if one.options)


def _merged(quantities: PlanningQuantities,
            wounds: Iterable[tuple[WoundFacts, frozenset[GraftMethod]]]) -> tuple[WoundClass, ...]:
    groups: dict[tuple, list[WoundFacts]] = defaultdict(list)
    for wound, methods in wounds:
        groups[_key_of_wound(quantities, wound, methods)].append(wound)
    return tuple(_wound_class(quantities, key[0], group) for key, group in groups.items())


def single_wounds(quantities: PlanningQuantities, wounds: tuple[WoundFacts, ...]) -> tuple[WoundClass, ...]:
    """A class for each wound that can be grafted, for a plan: whole regions keep their sheet."""
    singles = (_wound_class(quantities, _planned_methods(quantities, w), [w]) for w in wounds if w.is_plannable)
    return tuple(one for one in singles if one.options)


def _planned_methods(quantities: PlanningQuantities, wound: WoundFacts) -> frozenset[GraftMethod]:
    return frozenset(wound.methods) if wound.is_whole else candidate_methods(quantities.case, wound.wound)


def left_open(classes: tuple[WoundClass, ...], course: Course) -> tuple[WoundClass, ...]:
    """The classes with what a played course has left of their wounds."""
    percent = float(course.quantities.percent_tenths)
    left = []
    for one in classes:
        wounds = tuple(w for w in one.wounds if course.remaining[w.wound_id] > 0)
        if wounds:
            left.append(replace(one, wounds=wounds, area=sum(course.remaining[w.wound_id] for w in wounds) / percent,
                                ready=sum(course.open_bed[w.wound_id] for w in wounds) / percent,
                                newly_open=sum(course.ahead_bed[w.wound_id] for w in wounds) / percent))
    return tuple(left)


def _key_of_wound(quantities: PlanningQuantities, wound: WoundFacts, methods: frozenset[GraftMethod]) -> tuple:
    record = wound.wound
    is_face = wound.place.region is Region.FACE
    return (methods, wound.weight, wound.place.region in VISIBLE, quantities.shape_factor(wound.place),
            record.bed_state is not None and str(record.bed_state), wound.excision_ml, record.ready_from_day,
            record.wait_until_day, wound.only_day, wound.reached, wound.loaded, wound.special_region, is_face,
            record.excised_cm2 > 0, wound.is_reserved, wound.wound_id if _is_special(wound) else None)


def _is_special(wound: WoundFacts) -> bool:
    """Grafted whole, excised in part, or under cover: not to be merged."""
    record = wound.wound
    return wound.is_whole or 0 < record.excised_cm2 < record.area_cm2 or record.covered_cm2 > 0


def _wound_class(quantities: PlanningQuantities, methods: frozenset[GraftMethod],
                 wounds: list[WoundFacts]) -> WoundClass:
    first = wounds[0]
    percent = float(quantities.percent_tenths)
    face = [quantities.face_from_day] if first.place.region is Region.FACE else []
    ready_from, wait_until = first.wound.ready_from_day, first.wound.wait_until_day
    special = [w for w in wounds if w.special_region is not None]
    options = method_options(quantities, first, methods)
    return WoundClass(
        wounds=tuple(wounds),
        options=options,
        area=sum(w.area for w in wounds) / percent,
        ready=sum(tenths(w.wound.excised_cm2) for w in wounds) / percent,
        weight=first.weight,
        excision_ml=first.excision_ml * percent,
        graft_from=max([0, *face, *([] if ready_from is None else [ready_from])]),
        excise_from=max([0, *face, *([] if wait_until is None else [wait_until])]),
        only_day=first.only_day,
        reached=first.reached,
        loaded=first.loaded,
        special_area=_special_area(quantities, first) / percent if special else None,
        is_whole=first.is_whole,
        needs_skin_from_above=bool(face) and quantities.face_needs_skin_from_above,
        is_reserved=first.is_reserved and bool(options),
    )


def _special_area(quantities: PlanningQuantities, wound: WoundFacts) -> int:
    return sum(tenths(w.area_cm2) for w in quantities.case.wounds if w.place.region_key == wound.special_region)


def method_options(quantities: PlanningQuantities, wound: WoundFacts,
                   methods: frozenset[GraftMethod]) -> tuple[MethodOption, ...]:
    """Methods of a wound that are worth choosing, from narrow to wide.

    Left out are those for which two others, mixed, need no more skin and cost no more on any day.
    """
    options = [_method_option(quantities, wound, m) for m in GraftMethod if m in methods]
    if wound.is_whole:
        options = [option for option in options if _fits_a_session(quantities, wound, option)]
    weight, horizon = wound.weight, quantities.case.horizon_day
    kept = [o for o in options if not _is_mixed_better(o, options, weight, horizon)]
    return tuple(sorted(kept, key=lambda o: -o.skin))


def _fits_a_session(quantities: PlanningQuantities, wound: WoundFacts, option: MethodOption) -> bool:
    """Whether a region can be grafted whole in a session, with all donor skin, all cover on what is excised before."""
    case, budget = quantities.case, quantities.whole_budget
    needs_above = wound.place.region is Region.FACE and quantities.face_needs_skin_from_above
    supply = sum(tenths(s.area_cm2) for s in case.donor_sites if s.above_clavicle or not needs_above)
    covered = tenths(case.request.cover_stock_cm2 or 0)
    excised = max(0, wound.area - tenths(wound.wound.excised_cm2) - covered)
    harvest = option.skin * wound.area
    blood_ml = wound.excision_ml * excised + budget.harvest_ml * harvest
    used = ((wound.area, budget.graft), (excised, budget.excise), (harvest, supply), (blood_ml, budget.blood_ml))
    return all(need <= limit * (1 + _HAIR) for need, limit in used)


def _method_option(quantities: PlanningQuantities, wound: WoundFacts, method: GraftMethod) -> MethodOption:
    place = wound.place
    thickness = thickness_for(method, place, thick_allowed=quantities.case.thick_skin_allowed)[0]
    coverage = float(quantities.coverage(method, place) * quantities.kept_fraction)
    far = quantities.case.horizon_day
    return MethodOption(
        method, thickness, 1 / coverage, float(quantities.take(method, wound.wound)),
        float(quantities.closure_days[method]), quantities.regraft_closure_day(-far, method) + far,
        quantities.scar_days(method, place), method in NEEDS_OVERLAY)


def cost_of_placing(option: MethodOption, weight: float, horizon: float, day):
    """What placing costs: open days of what takes and of what is lost, and the scar. ``day`` may be an array."""
    lost_until = day + option.regraft
    lost_until = lost_until * (lost_until < horizon) + horizon * (lost_until >= horizon)
    return weight * (option.take * (day + option.closure) + (1 - option.take) * lost_until) + option.scar


def _is_mixed_better(option: MethodOption, options: list[MethodOption], weight: float, horizon: int) -> bool:
    """Whether one other method, or a mix of two, does the same with no more skin and no more cost."""
    if any(_is_dominated(option, other, options, weight) for other in options if other is not option):
        return True
    narrow = [o for o in options if o.skin > option.skin and o.thickness is option.thickness and not o.needs_overlay]
    wide = [o for o in options if o.skin < option.skin and o.thickness is option.thickness and not o.needs_overlay]
    return any(_mix_is_better(option, a, b, weight, horizon) for a in narrow for b in wide)


def _is_dominated(option: MethodOption, other: MethodOption, options: list[MethodOption], weight: float) -> bool:
    """Another method with skin no thicker and no more, that closes no later, takes no worse, scars no more."""
    order = list(Thickness)
    pairs = ((other.skin, option.skin), (other.closure, option.closure), (-other.take, -option.take),
             (other.regraft, option.regraft), (other.scar, option.scar),
             (order.index(other.thickness), order.index(option.thickness)))
    if other.needs_overlay or not all(a <= b for a, b in pairs):
        return False
    return any(a < b for a, b in pairs) or options.index(other) < options.index(option)


def _mix_is_better(option: MethodOption, narrow: MethodOption, wide: MethodOption, weight: float,
                   horizon: int) -> bool:
    share = (option.skin - wide.skin) / (narrow.skin - wide.skin)
    days = _breaks(horizon, option, narrow, wide)
    return all(share * cost_of_placing(narrow, weight, horizon, d) + (1 - share) * cost_of_placing(
        wide, weight, horizon, d) <= cost_of_placing(option, weight, horizon, d) for d in days)


def _breaks(horizon: int, *options: MethodOption) -> list[float]:
    """Days between which every cost is straight: a comparison that holds on them holds between."""
    return [0, *(max(0.0, horizon - o.regraft) for o in options), horizon]


def merged_sites(quantities: PlanningQuantities) -> tuple[DonorClass, ...]:
    """Classes in the order of their first site."""
    return tuple(_donor_class(quantities, sites) for sites in _alike(quantities))


def _alike(quantities: PlanningQuantities) -> Iterable[list[DonorSite]]:
    groups: dict[tuple, list[DonorSite]] = defaultdict(list)
    for site in quantities.case.donor_sites:
        healing = tuple(quantities.healing_days(site.place, k, n) for k in Thickness for n in (1, 2))
        key = (site.place.reached, site.above_clavicle, site.harvests_allowed, healing,
               quantities.donor_days(site.place, Thickness.THIN, 1))
        groups[key].append(site)
    return groups.values()


def sites_in_reserve(course: Course) -> tuple[DonorClass, ...]:
    """A class for each site, with the skin that a played course has left on it."""
    return tuple(_in_reserve(course, [site]) for site in course.quantities.case.donor_sites)


def merged_sites_in_reserve(course: Course) -> tuple[DonorClass, ...]:
    """Classes of sites, with the skin that a played course has left on them."""
    return tuple(_in_reserve(course, sites) for sites in _alike(course.quantities))


def _in_reserve(course: Course, sites: list[DonorSite]) -> DonorClass:
    parcels = [parcel for site in sites for parcel in course.reserve.parcels_of(site)]
    return replace(_donor_class(course.quantities, sites), **_supply(course.quantities, parcels, sites[0]))


def _donor_class(quantities: PlanningQuantities, sites: list[DonorSite]) -> DonorClass:
    place = sites[0].place
    parcels = [(tenths(p.area_cm2), p.harvest_count, 0 if p.healed_recorded else p.healed_day, p.healed_recorded)
               for site in sites for p in site.parcels]
    first = {k: quantities.donor_days(place, k, 1) for k in Thickness}
    return DonorClass(
        sites=tuple(sites), reached=place.reached, above_clavicle=sites[0].above_clavicle,
        healing={k: quantities.healing_days(place, k, 1) for k in Thickness}, cost=first,
        repeat_cost=min(quantities.donor_days(place, k, 2) - first[k] for k in Thickness),
        **_supply(quantities, parcels, sites[0]))


def _supply(quantities: PlanningQuantities, parcels: list[tuple[int, int, int, bool]], site: DonorSite) -> dict:
    """Area, fresh area, harvests left and supply of parcels: area in tenths, harvest count, free day, recorded."""
    percent = float(quantities.percent_tenths)
    left = [(area / percent, site.harvests_allowed - count, count, day, recorded)
            for area, count, day, recorded in parcels if count < site.harvests_allowed and area > 0]
    return {
        "area": sum(area for area, *_ in left),
        "fresh": sum(area for area, _, count, _, _ in left if count == 0),
        "harvests": sum(area * harvests for area, harvests, *_ in left),
        "supply": tuple((area, day, recorded) for area, _, _, day, recorded in left),
    }
