"""Random valid courses of many wounds and sessions: the plan first, then the tightest case around it.

Independent of the planner. Limits, theatre minutes, cover stock, donor parcels and kept skin
are what the plan uses, often without a step to spare.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from decimal import Decimal
from random import Random

from service.domain.body_region import Place, Position, Region, all_places
from service.domain.burn_wound import BedState, BurnWound, PlacedGraft
from service.domain.case import GraftingCase, SessionLimits, SkinLimitAge
from service.domain.donor_site import DonorParcel, DonorSite, Harvest
from service.domain.graft import NEEDS_OVERLAY, SkinClass, methods_of_place, thickness_for
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, CoverPlacement, Excision, Placement
from service.evidence.donor_healing import healing_days
from tests.random_cases import decimal_between, grafting_case, share
from tests.unit.verification.plan_builder import (
    EVIDENCE,
    PLACES,
    PREFERENCES,
    blood_loss_ml,
    expected_loss_cm2,
    harvest_for,
    place_graft,
    round_up,
    settle,
    temporary_cover,
    wound_on,
)
from tests.unit.verification.tight_requests import tight_request

SITES_BELOW = ("right-thigh-front", "right-thigh-back", "right-lower-leg-front", "left-upper-arm-back")
SITE_ABOVE = "scalp"
WOUND_PLACES = tuple(
    place for place in all_places()
    if methods_of_place(place, over_joint=False) and place.key not in (*SITES_BELOW, SITE_ABOVE))
FACE_IS_GRAFTABLE_SINCE = -20


def random_course(seed: int) -> tuple[GraftingCase, SettledPlan]:
    """A case and a plan that keeps every rule of it."""
    rng = Random(seed)
    surface_m2 = decimal_between(rng, Decimal("1.4"), Decimal("2.3"), "0.01")
    band = rng.choice((SkinLimitAge.CHILD, SkinLimitAge.ADULT, SkinLimitAge.OLD))
    days = _session_days(rng)
    off_loading = rng.random() < 0.5
    course = _Course(rng, surface_m2, band, days, off_loading)
    for place in rng.sample(WOUND_PLACES, rng.randint(1, 8)):
        course.graft_place(place)
    course.harvest()
    return course.close()


def _session_days(rng: Random) -> list[int]:
    """One to five days, further apart than grafts need protection, nearer than cover lives."""
    days = [rng.randint(0, 5)]
    while len(days) < 5 and rng.random() < 0.7:
        days.append(days[-1] + rng.randint(8, 13))
    return days


class _Course:
    """A course while it is put together."""

    def __init__(
        self, rng: Random, surface_m2: Decimal, band: SkinLimitAge, days: list[int], off_loading: bool
    ) -> None:
        self.rng, self.surface_m2, self.band, self.days = rng, surface_m2, band, days
        self.off_loading = off_loading
        self.earlier_harvests = {site_id: rng.choice((0, 0, 1)) for site_id in (*SITES_BELOW, SITE_ABOVE)}
        self.wounds: list[BurnWound] = []
        self.excisions: list[Excision] = []
        self.placements: list[Placement] = []
        self.covers: list[CoverPlacement] = []
        self.harvests: list[Harvest] = []
        self.sites: list[DonorSite] = []

    def graft_place(self, place: Place) -> None:
        """One wound of a random size and state, or a field and a joint part."""
        parts = (False, True) if place.facts.is_limb and self.rng.random() < 0.3 else (False,)
        for over_joint in parts:
            area_cm2 = decimal_between(self.rng, Decimal(30), Decimal(900), "0.1")
            excised_cm2 = self.rng.choice((Decimal(0), round_up(area_cm2 * share(self.rng)), area_cm2))
            wound = wound_on(
                place.key, area_cm2, over_joint=over_joint, excised_cm2=excised_cm2,
                bed_state=self.rng.choice((None, BedState.READY, BedState.COLONISED)))
            self.wounds.append(self._treat(self._with_unread_graft(wound)))

    def _with_unread_graft(self, wound: BurnWound) -> BurnWound:
        if self.rng.random() < 0.8:
            return wound
        method = self.rng.choice(sorted(methods_of_place(wound.place, wound.over_joint)))
        area_cm2 = decimal_between(self.rng, Decimal(50), Decimal(2500), "0.1")
        is_lain_on = not self.off_loading and wound.place.loaded_in is not None
        day = -14 if is_lain_on else -2  # an old graft that nobody read protects itself no longer
        return replace(wound, placed=(PlacedGraft(day, method, area_cm2),))

    def _treat(self, wound: BurnWound) -> BurnWound:
        """Choose pieces by session, excise what they need, cover the bed until then."""
        pieces = self._pieces(wound)
        if not pieces:
            return wound
        for index, area_cm2 in pieces.items():
            self._place(wound, self.days[index], area_cm2)
        to_excise = max(sum(pieces.values()) - wound.excised_cm2, Decimal(0))
        excised_in = self.rng.randint(max(0, min(pieces) - 1), min(pieces))
        if to_excise:
            self.excisions.append(Excision(self.days[excised_in], wound.wound_id, to_excise))
        for index in range(excised_in, max(pieces)):
            open_cm2 = to_excise - sum(area for i, area in pieces.items() if i <= index)
            if open_cm2 > 0:
                last_day = self.days[index + 1] - 1
                self.covers.append(temporary_cover(self.days[index], wound, open_cm2, last_day))
        wait = self.days[excised_in] - self.rng.choice((0, 3))
        ready = self.days[min(pieces)] - self.rng.choice((0, 3))
        return replace(wound, wait_until_day=wait, ready_from_day=ready)

    def _pieces(self, wound: BurnWound) -> dict[int, Decimal]:
        """Area by session index: nothing, all at once, in two pieces, or one piece and the rest open."""
        indexes = [i for i in range(len(self.days)) if self._can_lie_on(wound.place, i)]
        smallest = round_up(PREFERENCES.value("smallest-piece") * self.surface_m2 * 100)
        if not indexes or self.rng.random() < 0.1:
            return {}
        index = self.rng.choice(indexes)
        if wound.place.facts.is_whole or wound.area_cm2 < 2 * smallest or self.rng.random() < 0.4:
            return {index: wound.area_cm2}
        first = decimal_between(self.rng, smallest, wound.area_cm2 - smallest, "0.1")
        later = [i for i in indexes if i > index]
        if not later:
            return {index: first}
        return {index: first, self.rng.choice(later): wound.area_cm2 - first}

    def _can_lie_on(self, place: Place, index: int) -> bool:
        """Without off-loading, backs are grafted in even sessions and fronts in odd ones."""
        if self.off_loading or place.loaded_in is None:
            return True
        return (place.loaded_in is Position.SUPINE) == (index % 2 == 0)

    def _place(self, wound: BurnWound, day: int, area_cm2: Decimal, *, is_regraft: bool = False) -> None:
        methods = methods_of_place(wound.place, wound.over_joint)
        method = self.rng.choice(sorted(methods - NEEDS_OVERLAY if is_regraft else methods))
        thickness = self.rng.choice(thickness_for(method, wound.place, thick_allowed=self.thick_allowed))
        is_above = wound.place.region is Region.FACE or self.rng.random() < 0.2
        skin_class = SkinClass(thickness, is_above)
        self.placements.append(place_graft(day, wound, method, skin_class, area_cm2, is_regraft=is_regraft))
        if method in NEEDS_OVERLAY:
            self.covers.append(CoverPlacement(day, wound.wound_id, CoverKind.OVERLAY, area_cm2, day + 7))

    @property
    def thick_allowed(self) -> bool:
        return self.band is not SkinLimitAge.OLD

    def harvest(self) -> None:
        """Regraft what is expected to fail, then take the least skin for every day and class."""
        self._regraft()
        groups = defaultdict(list)
        for placement in self.placements:
            groups[placement.day, placement.skin_class].append(placement)
        for (_, skin_class), group in sorted(groups.items()):
            site_id = SITE_ABOVE if skin_class.above_clavicle else self.rng.choice(SITES_BELOW)
            first = harvest_for(tuple(group), site_id)
            is_second = self._has_healed(first) and self.rng.random() < 0.7
            number = self.earlier_harvests[site_id] + (2 if is_second else 1)
            self.harvests.append(replace(first, harvest_number=number))
        self._lay_out_sites()

    def _regraft(self) -> None:
        """Some of the expected loss of each region, in one session after the last."""
        draft = self._case(self.wounds, ())
        acts = SettledPlan(placements=tuple(self.placements))
        day = self.days[-1] + self.rng.randint(8, 20)
        by_region = {wound.place.region_key: wound for wound in self.wounds}
        for key, wound in by_region.items():
            lost_cm2 = expected_loss_cm2(draft, acts, key)
            if lost_cm2 and self._can_lie_on(wound.place, len(self.days)) and self.rng.random() < 0.6:
                self._place(wound, day, round_up(lost_cm2 * share(self.rng)), is_regraft=True)

    def _has_healed(self, harvest: Harvest) -> bool:
        """Whether the site gives this area once more from what was taken first."""
        def healed_day(earlier: Harvest) -> int:
            return earlier.day + healing_days(
                EVIDENCE, PLACES[earlier.site_id], earlier.thickness, self.band, earlier.harvest_number,
                PREFERENCES.value("healing-quantile"))

        first = self._first_harvests(harvest.site_id)
        healed = sum(h.area_cm2 for h in first if healed_day(h) <= harvest.day)
        taken = sum(h.area_cm2 for h in self.harvests if h.site_id == harvest.site_id and h not in first)
        return healed - taken >= harvest.area_cm2

    def _first_harvests(self, site_id: str) -> list[Harvest]:
        """Harvests of skin that the course takes for the first time."""
        number = self.earlier_harvests[site_id] + 1
        return [h for h in self.harvests if (h.site_id, h.harvest_number) == (site_id, number)]

    def _lay_out_sites(self) -> None:
        """Parcels that hold exactly what is taken first, or a little more; some were harvested before."""
        first_day = min((e.day for e in (*self.excisions, *self.placements, *self.covers)), default=0)
        for site_id in (*SITES_BELOW, SITE_ABOVE):
            first = self._first_harvests(site_id)
            area_cm2 = sum((h.area_cm2 for h in first), Decimal(0))
            area_cm2 += self.rng.choice((Decimal(0), Decimal("0.1"), Decimal(150)))
            if not area_cm2:
                continue
            earlier, own_days = self.earlier_harvests[site_id], [h.day for h in first]
            is_awaited = bool(own_days) and min(own_days) > first_day and self.rng.random() < 0.5
            parcel = DonorParcel(
                area_cm2, earlier, -20 if earlier else None, not is_awaited, min(own_days) if is_awaited else 0)
            numbers = [h.harvest_number for h in self.harvests if h.site_id == site_id]
            allowed = max(numbers, default=earlier + 1)
            self.sites.append(DonorSite(site_id, PLACES[site_id], area_cm2, allowed, (parcel,)))

    def close(self) -> tuple[GraftingCase, SettledPlan]:
        """The plan with its sessions, and the case with limits that just hold it."""
        case = self._case(self.wounds, tuple(self.sites))
        plan = settle(case, SettledPlan(
            excisions=tuple(self.excisions), harvests=tuple(self.harvests),
            placements=tuple(self.placements), covers=tuple(self.covers)))
        case = replace(case, limits=self._limits(case, plan))
        return replace(case, request=tight_request(self.rng, case, plan)), plan

    def _case(self, wounds: list[BurnWound], sites: tuple[DonorSite, ...]) -> GraftingCase:
        loose = SessionLimits(Decimal(0), Decimal(0), Decimal(0), 0, 0, 0)
        return grafting_case(
            tuple(wounds), sites, limits=loose, body_surface_m2=self.surface_m2, age_band=self.band,
            injury_day=FACE_IS_GRAFTABLE_SINCE, off_loading=self.off_loading,
            thick_skin_allowed=self.thick_allowed)

    def _limits(self, case: GraftingCase, plan: SettledPlan) -> SessionLimits:
        spare = self.rng.choice((0, 0, 50))
        days = [session.day for session in plan.sessions]

        def most(acts) -> Decimal:
            return max((sum((a.area_cm2 for a in acts if a.day == day), Decimal(0)) for day in days), default=0)

        return SessionLimits(
            excised_cm2=most(plan.excisions) + spare, grafted_cm2=most(plan.placements) + spare,
            blood_ml=max((blood_loss_ml(case, plan, day) for day in days), default=Decimal(0)) + spare,
            procedure_minutes=max((s.procedure_minutes for s in plan.sessions), default=0) + spare,
            rest_days=min((b - a for a, b in zip(days, days[1:], strict=False)), default=2),
            positions=max((len(s.positions) for s in plan.sessions), default=1))
