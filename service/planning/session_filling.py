"""Fill one session: what is wanted most first, as far as every limit allows."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.domain.body_region import Position, Region
from service.domain.graft import NEEDS_OVERLAY, GraftKind, GraftMethod, SkinClass
from service.domain.rule import Rule
from service.planning.course import Course, GraftDraft, Policy
from service.planning.harvest_choice import HarvestDraft, choose_harvests, kept_skin
from service.planning.plates import Placed, fill_plates, harvest_needs, skin_placed
from service.planning.session_budget import SessionBudget, open_budget
from service.planning.wound_facts import MethodFacts, WoundFacts

_MOST_TRIES = 10  # each try leaves more blood for whole plates and smallest harvests


@dataclass
class SessionDraft:
    """A session that could be held. Areas in tenths of a cm²."""

    day: int
    positions: tuple[Position, ...]
    grafts: list[GraftDraft] = field(default_factory=list)
    harvests: list[HarvestDraft] = field(default_factory=list)
    ahead: list[tuple[WoundFacts, int]] = field(default_factory=list)
    binding: set[Rule] = field(default_factory=set)

    @property
    def grafted(self) -> int:
        return sum(g.area for g in self.grafts)

    def blood_ml(self, course: Course) -> float:
        """Blood that the session may cost, cautious end. [mL]"""
        excised = [(g.wound, g.excised) for g in self.grafts] + self.ahead
        harvested = sum(h.area for h in self.harvests)
        return (sum(wound.excision_ml * area for wound, area in excised)
                + float(course.quantities.blood.harvest_ml) * harvested)

    def score(self) -> float:
        """Weighted area that the session grafts: what positions are compared by."""
        return sum(g.wound.weight * g.area for g in self.grafts)


@dataclass(frozen=True)
class Wish:
    """A graft that a session is wanted for. Area in tenths of a cm²."""

    wound: WoundFacts
    method: MethodFacts
    area: int


@dataclass(frozen=True)
class SessionAim:
    """What a session is wanted for, the most urgent first. Areas in tenths of a cm².

    ``demand``: what is open at most, by wound id; ``ahead``: to excise beyond what is grafted;
    ``donors``: skin to take from a site before others are opened.
    """

    day: int
    wishes: tuple[Wish, ...]
    demand: dict[str, int]
    ahead: tuple[tuple[WoundFacts, int], ...] = ()
    donors: dict[str, int] = field(default_factory=dict)
    is_regraft: bool = False

    @property
    def wanted(self) -> int:
        return sum(wish.area for wish in self.wishes)


def by_urgency(course: Course, day: int, policy: Policy) -> list[WoundFacts]:
    """What the caller decided for the day; open beds; then by weight, or by area when life comes first."""
    life_first = course.quantities.case.weight_set == "life"
    on_place: dict[str, int] = {}  # a joint part goes with its field
    for wound in course.wounds:
        on_place[wound.place.key] = on_place.get(wound.place.key, 0) + course.remaining[wound.wound_id]

    def urgency(wound: WoundFacts) -> tuple:
        remaining = course.remaining[wound.wound_id] if policy.joints_last else on_place[wound.place.key]
        by_size = (-remaining, -wound.weight) if life_first else (-wound.weight, -remaining)
        is_bed_closed = course.open_bed[wound.wound_id] == 0
        waits = policy.joints_last and wound.wound.over_joint
        return (wound.only_day != day, waits, is_bed_closed, *by_size, wound.region_order, wound.wound_id)

    return sorted(course.wounds, key=urgency)


def aim_by_policy(course: Course, day: int, policy: Policy, demand: dict[str, int], *,
                  is_regraft: bool = False) -> SessionAim:
    """All that is open, by urgency, each wound by the method of the policy's level."""
    ordered = by_urgency(course, day, policy)
    methods = [(wound, wound.at_level(policy.level)) for wound in ordered if demand.get(wound.wound_id, 0) > 0]
    wishes = tuple(Wish(wound, method, demand[wound.wound_id]) for wound, method in methods if method is not None)
    ahead = ordered if policy.excises_ahead and not is_regraft else ()
    return SessionAim(day, wishes, demand, tuple((w, course.remaining[w.wound_id]) for w in ahead),
                      is_regraft=is_regraft)


class _Filling:
    """One attempt to fill a session, with its budgets and the skin still free."""

    def __init__(self, course: Course, aim: SessionAim, positions: tuple[Position, ...],
                 blood_margin_ml: float) -> None:
        self.course, self.aim, self.demand, self.is_regraft = course, aim, aim.demand, aim.is_regraft
        self.quantities = course.quantities
        self.draft = SessionDraft(aim.day, positions)
        self.budget: SessionBudget = open_budget(course.quantities, aim.day, positions, blood_margin_ml)
        usable = course.reserve.usable_from(aim.day, course.is_first_session, positions)
        self.usable = usable.by_site
        self.pool = {True: usable.above_clavicle, False: usable.below_clavicle}  # by "above the clavicle"
        self.placed: Placed = {}
        self.grafted_on: dict[str, int] = {}
        self.bed_used: dict[str, int] = {}
        self.cover_left = course.cover_left
        self.loaded: Position | None = None

    def fill(self) -> SessionDraft | None:
        if self.budget.minutes_left <= 0 or self.budget.blood_left_ml <= 0:
            return None
        wishes = [w for w in self.aim.wishes if self._is_reached(w.wound) and self._may_graft(w.wound)]
        smallest = min((min(w.wound.piece, self.demand[w.wound.wound_id]) for w in wishes), default=0)
        for wish in wishes:
            if not self._is_lain_on(wish.wound) and self.budget.holds(smallest):
                self._graft(wish)
        self._excise_ahead()
        return self._with_harvests()

    def _is_reached(self, wound: WoundFacts) -> bool:
        return not wound.reached.isdisjoint(self.draft.positions)

    def _may_graft(self, wound: WoundFacts) -> bool:
        day = self.draft.day
        if self.demand.get(wound.wound_id, 0) <= 0 or not wound.is_ready(day, is_regraft=self.is_regraft):
            return False
        return self.course.loaded_clear_day(wound) <= day

    def _is_lain_on(self, wound: WoundFacts) -> bool:
        """Back and front are not grafted together, and the back waits, unless weight is taken off."""
        if wound.loaded is None:
            return False
        if self.loaded is not None:
            return wound.loaded is not self.loaded
        if wound.loaded is Position.PRONE:
            return False
        return any(w.loaded is Position.PRONE and self.demand.get(w.wound_id, 0) > 0
                   and w.is_ready(self.draft.day, is_regraft=self.is_regraft) for w in self.course.wounds)

    def _graft(self, wish: Wish) -> None:
        wound = wish.wound
        for above in wound.sources_of_skin:
            left = self.demand[wound.wound_id] - self.grafted_on.get(wound.wound_id, 0)
            wanted = self._rounded_wish(wound, min(wish.area, left), left) if left > 0 else 0
            area = self._area_to_graft(wound, wish.method, above, wanted, left) if wanted > 0 else 0
            if area > 0:
                self._book(wound, wish.method, wish.method.skin_class(above), area)

    def _rounded_wish(self, wound: WoundFacts, wanted: int, left: int) -> int:
        """The wish, or all that is left where a wish would leave less than the smallest piece."""
        return left if left - wanted < wound.piece else wanted

    def _open_bed(self, wound: WoundFacts) -> int:
        """Bed that needs no excision; the bed of a lost graft is one."""
        if self.is_regraft:
            return self.demand[wound.wound_id]
        return self.course.open_bed[wound.wound_id] - self.bed_used.get(wound.wound_id, 0)

    def _free_skin(self, wound: WoundFacts, above: bool) -> int:
        """Skin of the pool and what is kept for the wound's region, in tenths of a cm²."""
        if not self.quantities.case.request.keep_for:
            return self.pool[above]
        kept = self.course.reserve.kept(wound.place.region, self.draft.day, self.course.is_first_session)
        return self.pool[above] + sum(area for site, area in kept if site.above_clavicle == above
                                      and not site.place.reached.isdisjoint(self.draft.positions))

    def _skin_to_place(self, method: GraftMethod, skin_class: SkinClass, harvest: int) -> int:
        """What a harvest (in tenths) leaves to place: of islands whole plates, and the rest of one begun."""
        skin, plate = self.quantities.skin_from(harvest), self.quantities.plate_hundredths
        if method.kind is not GraftKind.ISLAND:
            return skin
        begun = self.placed.get((method, skin_class), 0)
        return skin - skin % plate + self.quantities.in_whole_plates(method, begun) - begun

    def _area_to_graft(self, wound: WoundFacts, method: MethodFacts, above: bool, wanted: int, left: int) -> int:
        limit, rule = self.budget.largest_area(wound, self._open_bed(wound), method)
        if limit < min(wanted, wound.piece):
            self.draft.binding.add(rule)
            return 0
        skin = self._skin_to_place(method.method, method.skin_class(above), self._free_skin(wound, above))
        by_skin = self.quantities.area_from_skin(method.method, wound.place, skin)
        if method.method in NEEDS_OVERLAY:
            by_skin = min(by_skin, self.cover_left)
        area = min(wanted, limit, by_skin)
        if area < wanted:
            self.draft.binding.add(rule if limit <= by_skin else Rule.SKIN_BALANCE)
        return self._whole_pieces(wound, method, area, wanted, left)

    def _whole_pieces(self, wound: WoundFacts, method: MethodFacts, area: int, wanted: int, left: int) -> int:
        """Leave no piece below the smallest, on the wound or behind; whole regions are all or nothing."""
        if area >= wanted:
            return wanted
        if wound.is_whole:
            return 0
        area = min(area, left - wound.piece)
        if method.method.kind is GraftKind.ISLAND and area >= wound.piece:
            whole = self.quantities.area_of_whole_steps(method.method, wound.place, area)
            area = whole if whole >= wound.piece else area
        return area if area >= wound.piece else 0

    def _book(self, wound: WoundFacts, method: MethodFacts, skin_class: SkinClass, area: int) -> None:
        excised = 0 if self.is_regraft else max(0, area - self._open_bed(wound))
        skin = self.quantities.skin_hundredths(method.method, wound.place, area)
        before, kind = self._harvest_needed(skin_class), (method.method, skin_class)
        self.placed[kind] = self.placed.get(kind, 0) + skin
        harvested = self._harvest_needed(skin_class) - before
        self.pool[skin_class.above_clavicle] -= harvested
        if method.method in NEEDS_OVERLAY:
            self.cover_left -= area
        self.budget.spend(wound, area, grafted=area, excised=excised, harvested=harvested)
        self.loaded = self.loaded or wound.loaded
        self.grafted_on[wound.wound_id] = self.grafted_on.get(wound.wound_id, 0) + area
        self.bed_used[wound.wound_id] = self.bed_used.get(wound.wound_id, 0) + area - excised
        self.draft.grafts.append(GraftDraft(wound, method.method, skin_class, area, excised, skin))

    def _harvest_needed(self, skin_class: SkinClass) -> int:
        return harvest_needs(self.placed, self.quantities).get(skin_class, 0)

    def _excise_ahead(self) -> None:
        """Excise more than is grafted, as far as cover lasts with one renewal in hand."""
        cover = (self.cover_left - self.course.bed_under_cover()) // 2
        for wound, wanted in self.aim.ahead:
            if not (self._is_reached(wound) and wound.is_plannable and wound.is_ready(self.draft.day)):
                continue
            left = self.course.remaining[wound.wound_id] - self.grafted_on.get(wound.wound_id, 0)
            unexcised = left - max(0, self._open_bed(wound))
            area = min(wanted, unexcised, cover, self.budget.largest_excision(wound))
            if area >= self.quantities.smallest_piece:
                self.budget.spend(wound, area, grafted=0, excised=area, harvested=0)
                cover -= area
                self.draft.ahead.append((wound, area))

    def _with_harvests(self) -> SessionDraft | None:
        """Choose the sites; a graft whose skin no site can give without a crumb is left out."""
        while self.draft.grafts:
            needs = harvest_needs(skin_placed(self.draft.grafts), self.quantities)
            harvests = choose_harvests(
                self.course, self.draft.day, needs, self._usable_with_kept(), self.aim.donors)
            if harvests is not None:
                self.draft.harvests = harvests
                self.draft.grafts = fill_plates(self.draft.grafts, self.quantities)
                return self.draft
            dropped = self.draft.grafts.pop()
            self.draft.ahead = [(w, a) for w, a in self.draft.ahead if w is not dropped.wound]
            self.draft.binding.add(Rule.SKIN_BALANCE)
        return self.draft if self.draft.ahead else None

    def _usable_with_kept(self) -> dict[str, int]:
        """Usable skin and what is freed of the skin kept for the regions grafted now."""
        usable = dict(self.usable)
        for freed in released_by(self.course, self.draft).values():
            for site_id, area in freed.items():
                usable[site_id] = usable.get(site_id, 0) + area
        return usable


def released_by(course: Course, draft: SessionDraft) -> dict[Region, dict[str, int]]:
    """Kept skin that a draft's grafts free on their regions, by reachable site, in tenths of a cm².

    As much as they place; all of it once nothing of the region stays open.
    """
    released: dict[Region, dict[str, int]] = {}
    for region in {g.wound.place.region for g in draft.grafts}:
        mine = [g for g in draft.grafts if g.wound.place.region is region]
        open_area = sum(course.remaining[w.wound_id] for w in course.wounds if w.place.region is region)
        is_done = sum(g.area for g in mine) >= open_area
        kept = kept_skin(course, region, draft.day, draft.positions)
        left = sum(kept.values()) if is_done else sum(g.skin_hundredths for g in mine) // 10
        freed = {}
        for site_id, area in kept.items():
            freed[site_id] = min(left, area)
            left -= freed[site_id]
        released[region] = freed
    return released


def fill_session(course: Course, aim: SessionAim, positions: tuple[Position, ...]) -> SessionDraft | None:
    """The fullest session for an aim that keeps every limit, or ``None`` when nothing fits.

    Whole plates and smallest harvests can cost more blood than was counted (one plate more, to
    begin with); then it is filled again with that much less to spend.
    """
    quantities = course.quantities
    margin = float(quantities.blood.harvest_ml) * quantities.plate_hundredths / 10
    for _ in range(_MOST_TRIES):
        draft = _Filling(course, aim, positions, margin).fill()
        if draft is None:
            return None
        excess = draft.blood_ml(course) - float(quantities.case.limits.blood_ml)
        if excess <= 0:
            return draft
        margin += excess + 1
    return None
