"""The settled plan as the book that a simulated course is played from: plain numbers, in cm² and days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from service.domain.body_region import Place, Position, Region
from service.domain.burn_wound import BedState
from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.graft import NEEDS_OVERLAY, GraftKind, GraftMethod, SkinClass, Thickness
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, Placement
from service.planning.calendar import next_theatre_day, positions_allowed
from service.planning.donor_reserve import DonorReserve, reachable
from service.planning.quantities import FLAT, PlanningQuantities, cm2, tenths
from service.planning.session_budget import minutes_limit
from service.planning.wound_facts import WoundFacts

NEVER = 1000 * 1000  # a day that does not come


@dataclass(frozen=True)
class WoundLine:
    """One wound grafted by one method with one class of skin, whenever that is.

    ``planned_cm2`` by firm session; ``later_cm2`` is what the plan leaves open of the wound and
    further sessions may still graft. ``cautious_coverage`` is wound per skin as planned with.
    """

    wound: int
    method: GraftMethod
    skin_class: SkinClass
    later_class: SkinClass  # only a face that is planned to match insists on skin from above the clavicle
    planned_cm2: tuple[float, ...]
    later_cm2: float
    cautious_coverage: float
    needs_overlay: bool

    def class_in(self, session: int) -> SkinClass:
        """Skin of the line in a session: as planned, and beyond the plan as ``later_class`` says."""
        return self.skin_class if session < len(self.planned_cm2) else self.later_class

    @property
    def is_island(self) -> bool:
        return self.method.kind is GraftKind.ISLAND


@dataclass(frozen=True)
class UnreadGraft:
    """A graft of the record whose take nobody has read yet."""

    line: int
    area_cm2: float
    placed_day: int
    method: GraftMethod


@dataclass(frozen=True)
class BookWound:
    wound_id: str
    region_key: str
    place: Place
    area_cm2: float
    bed_cm2: float  # excised, or ready without excision
    piece_cm2: float
    excision_ml: float  # per cm²
    weight: float
    earliest_day: int
    loaded: int | None  # index of the position in which the patient lies on it
    loaded_since: int | None  # day of the last graft of the record on it
    special_region: str | None
    is_whole: bool
    is_flat: bool
    is_colonised: bool


@dataclass(frozen=True)
class BookParcel:
    area_cm2: float
    harvest_count: int
    free_day: int
    is_recorded: bool
    kept_for: Region | None


@dataclass(frozen=True)
class BookSite:
    site_id: str
    place: Place
    above_clavicle: bool
    smallest_cm2: float
    harvests_allowed: int
    parcels: tuple[BookParcel, ...]

    def keeps_for(self, region: Region | None) -> bool:
        """Whether skin of the site is kept for grafts on a region."""
        return any(p.kept_for is not None and p.kept_for is region for p in self.parcels)


@dataclass(frozen=True)
class BookSession:
    """A firm session: day, positions, what is harvested where, and what is excised under cover."""

    day: int
    positions: tuple[Position, ...]
    is_decided: bool
    harvests: tuple[tuple[int, Thickness, float], ...]  # site, thickness, cm²
    ahead: tuple[tuple[int, float], ...]  # wound, cm² excised and not grafted that day
    overlays: frozenset[int]  # wounds that get an overlay over their graft


@dataclass(frozen=True)
class Limits:
    excised_cm2: float
    grafted_cm2: float
    blood_ml: float
    harvest_ml: float  # per cm²
    minutes_by_day: tuple[float, ...]  # from the as-of day to the horizon
    fixed_minutes: float
    turn_minutes: float
    special_minutes: float
    minutes_per_cm2: float
    rest_days: int
    protect_days: int
    cover_life_days: int
    regraft_cm2: float
    regraft_fraction: float
    longest_wait_days: int


@dataclass(frozen=True)
class CourseBook:
    age_band: SkinLimitAge
    burn_percent_tbsa: float
    first_session_day: int
    horizon_day: int
    theatre_days: dict[int, tuple[int, ...]]  # by positions wanted: the next such day from each day
    positions_allowed: int
    cover_stock_cm2: float
    plate_part_cm2: float  # the least of a plate that a wound takes
    plate_parts: int
    read_days: dict[GraftKind, int]
    stored_until: tuple[tuple[int, float], ...]  # age in days, share of it that counts; the freshest first
    limits: Limits
    wounds: tuple[BookWound, ...]
    lines: tuple[WoundLine, ...]
    unread: tuple[UnreadGraft, ...]
    sites: tuple[BookSite, ...]
    sites_by_cosmesis: tuple[int, ...]  # the least visible first, then the largest
    cautious_healing: dict[tuple[int, int], int]  # planned days by site and harvest number, thin skin
    sessions: tuple[BookSession, ...]
    order: tuple[int, ...]  # lines, the most urgent first

    def lines_of_region(self, region_key: str) -> list[int]:
        return [i for i, line in enumerate(self.lines) if self.wounds[line.wound].region_key == region_key]

    def reached_sites(self, positions: Iterable[Position]) -> list[int]:
        positions = tuple(positions)
        return [i for i, site in enumerate(self.sites) if reachable(site.place, positions)]


def write_book(quantities: PlanningQuantities, plan: SettledPlan) -> CourseBook:
    """Everything that playing a plan needs to know, looked up once."""
    case = quantities.case
    facts = [WoundFacts(wound, quantities) for wound in case.wounds]
    lines = _lines(quantities, plan, facts)
    return CourseBook(
        age_band=case.age_band,
        burn_percent_tbsa=float(case.burn_percent_tbsa),
        first_session_day=case.first_session_day,
        horizon_day=case.horizon_day,
        theatre_days={positions: _theatre_days(case, positions) for positions in (1, 2)},
        positions_allowed=case.limits.positions,
        cover_stock_cm2=float(case.request.cover_stock_cm2 or 0),
        plate_part_cm2=quantities.plate_part_hundredths / 100,
        plate_parts=quantities.plate_parts,
        read_days=quantities.read_days,
        stored_until=_stored_until(quantities),
        limits=_limits(quantities),
        wounds=tuple(_wound(wound) for wound in facts),
        lines=lines,
        unread=_unread(facts, lines),
        sites=_sites(quantities),
        sites_by_cosmesis=tuple(sorted(range(len(case.donor_sites)), key=lambda i: (
            quantities.preferences.value("donor-cosmesis", case.donor_sites[i].place.region),
            -case.donor_sites[i].area_cm2, case.donor_sites[i].site_id))),
        cautious_healing={
            (i, number): quantities.healing_days(site.place, Thickness.THIN, number)
            for i, site in enumerate(case.donor_sites) for number in range(1, site.harvests_allowed)},
        sessions=_sessions(quantities, plan),
        order=tuple(sorted(range(len(lines)), key=lambda i: (
            -facts[lines[i].wound].weight, facts[lines[i].wound].wound_id, i))),
    )


def _wound(facts: WoundFacts) -> BookWound:
    wound = facts.wound
    return BookWound(
        wound_id=facts.wound_id,
        region_key=facts.place.region_key,
        place=facts.place,
        area_cm2=float(wound.area_cm2),
        bed_cm2=float(wound.excised_cm2),
        piece_cm2=facts.piece / 10,
        excision_ml=facts.excision_ml * 10,
        weight=facts.weight,
        earliest_day=facts.earliest_day,
        loaded=None if facts.loaded is None else tuple(Position).index(facts.loaded),
        loaded_since=max((graft.placed_day for graft in wound.placed), default=None),
        special_region=facts.special_region,
        is_whole=facts.is_whole,
        is_flat=facts.place.region in FLAT,
        is_colonised=wound.bed_state is BedState.COLONISED,
    )


def _lines(quantities: PlanningQuantities, plan: SettledPlan, facts: list[WoundFacts]) -> tuple[WoundLine, ...]:
    """Planned lines, each wound's remainder on its largest one; a line of its own for a wound without a plan."""
    days = [session.day for session in plan.firm_sessions]
    planned: dict[tuple, list[float]] = defaultdict(lambda: [0.0] * len(days))
    index = {wound.wound_id: i for i, wound in enumerate(facts)}
    for placement in plan.placements:
        if not placement.is_regraft:
            key = index[placement.wound_id], placement.method, placement.skin_class
            planned[key][days.index(placement.day)] += float(placement.area_cm2)
    still_open = {index[o.wound_id]: float(o.area_cm2) for o in plan.still_open}
    for i, wound in enumerate(facts):
        if not any(key[0] == i for key in planned):
            method = _method_for_later(plan, wound)
            if method is not None:
                planned[i, *method] = [0.0] * len(days)
    keys = sorted(planned, key=lambda key: (key[0], list(GraftMethod).index(key[1]), key[2].key))
    matched = {wound for wound, wound_facts in enumerate(facts) if wound_facts.place.region is Region.FACE
               and all(key[2].above_clavicle for key in keys if key[0] == wound)}
    largest = {wound: max((k for k in keys if k[0] == wound), key=lambda k: sum(planned[k])) for wound, *_ in keys}
    return tuple(
        WoundLine(
            wound=wound, method=method, skin_class=skin_class,
            later_class=skin_class if wound in matched else replace(skin_class, above_clavicle=False),
            planned_cm2=tuple(planned[wound, method, skin_class]),
            later_cm2=still_open.get(wound, 0.0) if largest[wound] == (wound, method, skin_class) else 0.0,
            cautious_coverage=float(quantities.coverage(method, facts[wound].place)),
            needs_overlay=method in NEEDS_OVERLAY)
        for wound, method, skin_class in keys)


def _method_for_later(plan: SettledPlan, wound: WoundFacts) -> tuple[GraftMethod, SkinClass] | None:
    """Method and skin of a wound that no firm session grafts: as its regraft is planned, else the narrowest."""
    regraft: Placement | None = next((p for p in plan.placements if p.wound_id == wound.wound_id), None)
    if regraft is not None:
        return regraft.method, regraft.skin_class
    narrowest = wound.at_level(wound.methods[0]) if wound.methods else None
    return None if narrowest is None else (narrowest.method, narrowest.skin_class(wound.sources_of_skin[0]))


def _unread(facts: list[WoundFacts], lines: tuple[WoundLine, ...]) -> tuple[UnreadGraft, ...]:
    line_of = {line.wound: i for i, line in reversed(list(enumerate(lines)))}
    return tuple(
        UnreadGraft(line_of[i], float(graft.area_cm2), graft.placed_day, graft.method)
        for i, wound in enumerate(facts) if i in line_of
        for graft in wound.wound.placed if graft.take_fraction is None)


def _sites(quantities: PlanningQuantities) -> tuple[BookSite, ...]:
    reserve = DonorReserve(quantities)
    for keep in quantities.case.request.keep_for:
        reserve.keep(keep.region, tenths(keep.area_cm2))
    parcels = defaultdict(list)
    for p in reserve.starting_parcels():
        parcels[p.site.site_id].append(BookParcel(p.area / 10, p.harvest_count, p.free_day, p.is_recorded, p.kept_for))
    return tuple(
        BookSite(site.site_id, site.place, site.above_clavicle, reserve.smallest_of(site) / 10, site.harvests_allowed,
                 tuple(parcels[site.site_id]))
        for site in quantities.case.donor_sites)


def _sessions(quantities: PlanningQuantities, plan: SettledPlan) -> tuple[BookSession, ...]:
    case = quantities.case
    decided = {case.day_of(d.day) for d in case.request.fixed_decisions if d.day is not None}
    sites = {site.site_id: i for i, site in enumerate(case.donor_sites)}
    wounds = {wound.wound_id: i for i, wound in enumerate(case.wounds)}
    bed = {wound.wound_id: tenths(wound.excised_cm2) for wound in case.wounds}
    sessions = []
    for session in plan.firm_sessions:
        harvested: dict[tuple[int, Thickness], float] = defaultdict(float)
        for harvest in (h for h in plan.harvests if h.day == session.day):
            harvested[sites[harvest.site_id], harvest.thickness] += float(harvest.area_cm2)
        ahead = []
        for wound_id, before in bed.items():
            excised = sum(tenths(e.area_cm2) for e in plan.excisions if (e.day, e.wound_id) == (session.day, wound_id))
            placed = sum(tenths(p.area_cm2) for p in plan.placements
                         if (p.day, p.wound_id) == (session.day, wound_id) and not p.is_regraft)
            bed[wound_id] = before + excised - placed
            if excised > max(0, placed - before):
                ahead.append((wounds[wound_id], float(cm2(excised - max(0, placed - before)))))
        overlays = frozenset(wounds[c.wound_id] for c in plan.covers
                             if c.day == session.day and c.kind is CoverKind.OVERLAY)
        sessions.append(BookSession(
            session.day, session.positions, session.day in decided,
            tuple((*key, area) for key, area in sorted(harvested.items())), tuple(ahead), overlays))
    return tuple(sessions)


def _theatre_days(case: GraftingCase, positions: int) -> tuple[int, ...]:
    """For each day up to the horizon the next one with theatre for so many positions."""
    following, upcoming = [NEVER] * (case.horizon_day + 1), NEVER
    for day in range(case.horizon_day, -1, -1):
        if next_theatre_day(case, day) == day and positions_allowed(case, day) >= positions:
            upcoming = day
        following[day] = upcoming
    return (*following, NEVER)


def _stored_until(quantities: PlanningQuantities) -> tuple[tuple[int, float], ...]:
    """How long stored skin is planned with, and how much of it still counts; past the planned days none."""
    evidence = quantities.evidence
    plan_days = evidence.value("stored-skin-days", "plan")
    ages = sorted((row.value, row.applies_to) for row in evidence.rows("stored-skin-until-days"))
    return tuple((int(until), float(evidence.value("stored-skin-take", state)))
                 for until, state in ages if until <= plan_days)


def _limits(quantities: PlanningQuantities) -> Limits:
    case, whole, preferences = quantities.case, quantities.whole_budget, quantities.preferences
    percent_cm2 = float(quantities.percent_tenths) / 10
    return Limits(
        excised_cm2=whole.excise / 10,
        grafted_cm2=whole.graft / 10,
        blood_ml=whole.blood_ml,
        harvest_ml=whole.harvest_ml * 10,
        minutes_by_day=tuple(minutes_limit(quantities, day) for day in range(case.horizon_day + 1)),
        fixed_minutes=whole.fixed_minutes,
        turn_minutes=whole.turn_minutes,
        special_minutes=whole.special_minutes,
        minutes_per_cm2=whole.per_tenth_minutes * 10,
        rest_days=case.limits.rest_days,
        protect_days=quantities.protect_days,
        cover_life_days=quantities.cover_life_days,
        regraft_cm2=float(preferences.value("regraft-percent")) * percent_cm2,
        regraft_fraction=float(preferences.value("regraft-fraction")),
        longest_wait_days=preferences.integer("longest-wait-for-site"),
    )
