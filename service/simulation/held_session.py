"""One session of a block of simulated courses: harvest, graft, excise under cover, store what is left.

Each rule of a plan holds here too: the budgets of area, blood and minutes, whole regions and
whole plates, smallest pieces and harvests, beds excised only as far as they are grafted or covered.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import reduce

import numpy as np

from service.domain.body_region import Position, Region
from service.domain.graft import SkinClass
from service.planning.donor_reserve import reachable
from service.simulation.course_book import BookSession, Limits, WoundLine
from service.simulation.course_state import NOTHING_CM2, CourseState, StoredSkin

_HAIR = 1e-9


def least(*values: np.ndarray) -> np.ndarray:
    """The smallest of several values, course by course."""
    return reduce(np.minimum, values)


@dataclass
class Budget:
    """What a session may still do: areas in cm², blood in mL, minutes; one entry for each course."""

    excise: np.ndarray
    graft: np.ndarray
    blood: np.ndarray
    minutes: np.ndarray
    special: float  # minutes that a special area adds, once a region
    done: dict[str, np.ndarray] = field(default_factory=dict)  # special regions operated on

    def copy(self) -> Budget:
        return replace(self, done=dict(self.done))

    def special_minutes(self, region: str | None) -> np.ndarray | float:
        """Minutes that a region would add now. [min]"""
        if region is None:
            return 0.0
        return np.where(self.done[region], 0.0, self.special) if region in self.done else self.special

    def spend(self, grafted: np.ndarray, excised: np.ndarray, blood_ml: np.ndarray, limits: Limits,
              region: str | None) -> None:
        is_done = grafted > 0
        self.minutes = (self.minutes - grafted * limits.minutes_per_cm2
                        - np.where(is_done, self.special_minutes(region), 0))
        if region is not None:
            self.done[region] = self.done[region] | is_done if region in self.done else is_done
        self.excise = self.excise - excised
        self.graft = self.graft - grafted
        self.blood = self.blood - blood_ml


class HeldSession:
    """Budgets and skin of one session; ``is_active`` says in which courses it is held at all."""

    def __init__(self, state: CourseState, number: int, positions: tuple[Position, ...], day: np.ndarray,
                 is_active: np.ndarray, planned: BookSession | None) -> None:
        self.state, self.book, self.number, self.positions = state, state.book, number, positions
        self.day, self.planned = day, planned
        self.is_first = number == 0
        limits = self.book.limits
        minutes = np.array(limits.minutes_by_day)[np.where(is_active, day, 0).astype(int)]
        minutes = minutes - limits.fixed_minutes - limits.turn_minutes * (len(positions) - 1)
        self.is_active = is_active & (minutes > 0)
        self.budget = Budget(
            np.full(day.shape, limits.excised_cm2), np.full(day.shape, limits.grafted_cm2),
            np.full(day.shape, limits.blood_ml), minutes, limits.special_minutes)
        self.opened = [np.zeros(day.shape) for _ in self.book.sites]  # harvested today, by site
        self.usable: dict[tuple[int, Region | None], np.ndarray] = {}
        self.skin: dict[SkinClass, np.ndarray] = {}
        self.placed = np.zeros(day.shape)
        self.excised_ahead = np.zeros(day.shape)

    def hold(self) -> np.ndarray:
        """Do the session; true for each course in which anything was done."""
        wanted = {line: self._wanted(line) for line in self.book.order if self._is_reached(line)}
        wanted = {line: area for line, area in wanted.items() if area.any()}
        self._take_from_store()
        if self.planned is not None:
            self._harvest_as_planned(wanted)
        self._open_more_sites(wanted)
        for line, area in wanted.items():
            self._place(line, area)
        self._excise_ahead()
        self._renew_cover()
        self._store_surplus()
        return (self.placed > 0) | (self.excised_ahead > 0) | (sum(self.opened, np.zeros(self.day.shape)) > 0)

    def _is_reached(self, line: int) -> bool:
        return reachable(self.book.wounds[self.book.lines[line].wound].place, self.positions)

    def _wanted(self, line: int) -> np.ndarray:
        """First grafts that are due, and what has failed and was read. [cm²]"""
        wound = self.book.wounds[self.book.lines[line].wound]
        area = self.state.due(line, self.number + 1) + self.state.regraft[line]
        is_ready = self.is_active & (self.day >= wound.earliest_day) & (area >= NOTHING_CM2)
        return np.where(is_ready, area, 0)

    def _take_from_store(self) -> None:
        """Stored skin first, as much as still counts at its age; what is too old is lost."""
        for skin_class, stored in self.state.stored.items():
            age = self.day - stored.day
            share = np.zeros(self.day.shape)
            for until, counts in reversed(self.book.stored_until):
                share = np.where(age <= until, counts, share)
            self.skin[skin_class] = np.where(self.is_active, stored.area_cm2 * share, 0)
            stored.area_cm2 = np.where(self.is_active, 0, stored.area_cm2)

    def _skin(self, skin_class: SkinClass) -> np.ndarray:
        return self.skin.setdefault(skin_class, np.zeros(self.day.shape))

    def _harvest_as_planned(self, wanted: dict[int, np.ndarray]) -> None:
        """The planned sites, as planned; less where less wound is left than was planned."""
        need: dict[SkinClass, np.ndarray] = {}
        for line, area in wanted.items():
            facts = self.book.lines[line]
            need[facts.skin_class] = need.get(facts.skin_class, 0) + area / facts.cautious_coverage
        harvests = [(SkinClass(thickness, self.book.sites[site].above_clavicle), site, area)
                    for site, thickness, area in self.planned.harvests]
        for skin_class in dict.fromkeys(c for c, _, _ in harvests):
            planned = sum(area for c, _, area in harvests if c == skin_class)
            still = np.maximum(0, need.get(skin_class, 0) - self._skin(skin_class)) / self.state.scenarios.kept_fraction
            share = np.minimum(1, still / planned)
            for _, site, area in (h for h in harvests if h[0] == skin_class):
                self._harvest(skin_class, site, area * share)

    def _usable(self, site: int, region: Region | None) -> np.ndarray:
        """Skin that may be taken today, looked up again only after some was taken. [cm²]"""
        key = site, region if self.book.sites[site].keeps_for(region) else None
        if key not in self.usable:
            self.usable[key] = self.state.skin.usable(site, self.day, is_first=self.is_first, region=key[1])
        return self.usable[key]

    def _harvest(self, skin_class: SkinClass, site: int, wanted: np.ndarray,
                 region: Region | None = None) -> np.ndarray:
        """Skin from one site, no less than the smallest harvest, as far as blood allows. [cm²]"""
        state, limits, facts = self.state, self.book.limits, self.book.sites[site]
        usable = self._usable(site, region)
        if not usable.any():
            return usable
        part = np.minimum(np.minimum(wanted, usable), self.budget.blood / limits.harvest_ml)
        raised = np.maximum(part, np.where(self.opened[site] > 0, 0, facts.smallest_cm2))
        possible = (part > 0) & (raised <= usable + _HAIR) & (raised * limits.harvest_ml <= self.budget.blood + _HAIR)
        area = np.where(possible, np.minimum(raised, usable), 0)
        if not area.any():
            return area
        taken = state.skin.harvest(self.number, site, self.day, area, skin_class.thickness,
                                   is_first=self.is_first, region=region)
        self.opened[site] = self.opened[site] + taken
        self.usable = {key: area for key, area in self.usable.items() if key[0] != site}
        self.budget.blood = self.budget.blood - taken * limits.harvest_ml
        self.skin[skin_class] = self._skin(skin_class) + taken * state.scenarios.kept_fraction
        return taken

    def _coverage(self, facts: WoundLine) -> np.ndarray:
        """Wound per skin as it turns out in this session. [-]"""
        shape = self.state.scenarios.shape(is_flat=self.book.wounds[facts.wound].is_flat)
        return self.state.scenarios.ratio(self.number, facts.method) * shape

    def _allowed(self, line: int, wanted: np.ndarray, left: Budget) -> tuple[np.ndarray, np.ndarray]:
        """What the budgets allow of a line, skin apart, and how much of it needs no excision. [cm²]"""
        state, facts = self.state, self.book.lines[line]
        wound = self.book.wounds[facts.wound]
        bed = np.minimum(state.regraft[line], wanted) + state.bed[facts.wound]
        minutes = np.maximum(0, left.minutes - left.special_minutes(wound.special_region))
        allowed = least(wanted, left.graft, minutes / self.book.limits.minutes_per_cm2,
                        bed + np.minimum(left.excise, left.blood / wound.excision_ml))
        return (np.minimum(allowed, state.cover_left) if facts.needs_overlay else allowed), bed

    def _skin_for(self, facts: WoundLine, area: np.ndarray, coverage: np.ndarray) -> np.ndarray:
        """Skin to place for an area, in parts of plates for islands. [cm²]"""
        if not facts.is_island:
            return area / coverage
        return np.ceil(area / (coverage * self.book.plate_part_cm2) - _HAIR) * self.book.plate_part_cm2

    def _open_more_sites(self, wanted: dict[int, np.ndarray]) -> None:
        """Harvest what is still lacking: from sites already open, then from kept ones, the least visible first."""
        for (skin_class, region), lacking in self._lacking(wanted).items():
            if not (lacking > _HAIR).any():
                continue
            sites = [s for s in self.book.sites_by_cosmesis if reachable(self.book.sites[s].place, self.positions)
                     and self.book.sites[s].above_clavicle == skin_class.above_clavicle]
            for is_open in (True, False):
                for site in sites:
                    part = lacking * ((self.opened[site] > 0) == is_open)
                    if part.any():
                        lacking = np.maximum(0, lacking - self._harvest(skin_class, site, part, region))

    def _lacking(self, wanted: dict[int, np.ndarray]) -> dict[tuple[SkinClass, Region | None], np.ndarray]:
        """Harvest that the lines need beyond the skin at hand, by class and by the region it may be kept for. [cm²]

        The budgets are spent in thought, line by line, as the session will spend them; no skin is
        taken for a whole region that cannot be done, nor for less than the smallest piece.
        """
        left, at_hand = self.budget.copy(), dict(self.skin)
        lacking: dict[tuple[SkinClass, Region | None], np.ndarray] = {}
        for line, area in wanted.items():
            facts = self.book.lines[line]
            wound = self.book.wounds[facts.wound]
            allowed, bed = self._allowed(line, area, left)
            skin = self._skin_for(facts, allowed, self._coverage(facts))
            skin_class = facts.class_in(self.number)
            held = at_hand.get(skin_class, 0)
            more = np.maximum(0, skin - held) / self.state.scenarios.kept_fraction
            excised = np.maximum(0, allowed - bed)
            cost = more * self.book.limits.harvest_ml + excised * wound.excision_ml
            affordable = allowed * np.minimum(1, left.blood / np.maximum(cost, _HAIR))
            share = self._whole_pieces(wound, area, affordable) / np.maximum(allowed, _HAIR)
            at_hand[skin_class] = np.maximum(0, held - skin * share)
            region = wound.place.region if any(s.keeps_for(wound.place.region) for s in self.book.sites) else None
            key = skin_class, region
            lacking[key] = lacking.get(key, 0) + more * share
            left.spend(allowed * share, excised * share, cost * share, self.book.limits, wound.special_region)
        return lacking

    def _place(self, line: int, wanted: np.ndarray) -> None:
        """Graft a line as far as budgets and skin go."""
        facts = self.book.lines[line]
        skin_class = facts.class_in(self.number)
        wound, coverage, skin = self.book.wounds[facts.wound], self._coverage(facts), self._skin(skin_class)
        allowed, bed = self._allowed(line, wanted * self.state.loaded_is_clear(facts.wound, self.day), self.budget)
        part = self.book.plate_part_cm2 if facts.is_island else None
        possible = np.floor(skin / part + _HAIR) * part * coverage if part else skin * coverage
        area = self._whole_pieces(wound, wanted, np.minimum(allowed, possible))
        self.skin[skin_class] = skin - np.minimum(skin, self._skin_for(facts, area, coverage))
        self._book(line, facts, area)

    def _whole_pieces(self, wound, wanted: np.ndarray, area: np.ndarray) -> np.ndarray:
        """Leave no piece below the smallest, on the wound or behind; whole regions are all or nothing."""
        is_all = area >= wanted - _HAIR
        if wound.is_whole:
            return np.where(is_all, area, 0)
        piece = np.minimum(wound.piece_cm2, wanted)
        part = np.minimum(area, wanted - piece)
        return np.where(is_all, area, np.where(part >= piece, part, 0))

    def _book(self, line: int, facts: WoundLine, area: np.ndarray) -> None:
        if not area.any():
            return
        state, wound = self.state, self.book.wounds[facts.wound]
        again = np.minimum(state.regraft[line], area)
        state.regraft[line] -= again
        first = area - again
        on_bed = np.minimum(first, state.bed[facts.wound])
        excised = first - on_bed
        state.grafted[line] += first
        state.bed[facts.wound] -= on_bed
        state.ahead[facts.wound] = np.maximum(0, state.ahead[facts.wound] - on_bed)
        self.budget.spend(area, excised, excised * wound.excision_ml, self.book.limits, wound.special_region)
        self._overlay(facts, area)
        if wound.loaded is not None:
            state.last_loaded[wound.loaded] = np.where(area > 0, self.day, state.last_loaded[wound.loaded])
        self.placed = self.placed + area
        state.record_graft(self.number, line, area, self.day)

    def _overlay(self, facts: WoundLine, area: np.ndarray) -> None:
        wants = self.planned is not None and facts.wound in self.planned.overlays
        if facts.needs_overlay or wants:
            self.state.cover_left -= np.minimum(area, self.state.cover_left)

    def _excise_ahead(self) -> None:
        """Excise what the plan excises under cover, as far as budgets and cover go."""
        state, limits = self.state, self.book.limits
        for index, planned in () if self.planned is None else self.planned.ahead:
            wound = self.book.wounds[index]
            lines = [i for i, line in enumerate(self.book.lines) if line.wound == index]
            unexcised = wound.area_cm2 * state.scale[index] - state.grafted[lines].sum(axis=0) - state.bed[index]
            budget = self.budget
            area = np.maximum(0, least(
                planned * state.scale[index], unexcised, budget.excise, budget.blood / wound.excision_ml,
                budget.minutes / limits.minutes_per_cm2, state.cover_left))
            area = np.where(self.is_active & (self.day >= wound.earliest_day), area, 0)
            state.bed[index] += area
            state.ahead[index] += area
            budget.excise = budget.excise - area
            budget.blood = budget.blood - area * wound.excision_ml
            budget.minutes = budget.minutes - area * limits.minutes_per_cm2
            self._lay_cover(index, area, area > 0)
            self.excised_ahead = self.excised_ahead + area

    def _renew_cover(self) -> None:
        """Cover that would end before half a life has passed is renewed while the patient is in theatre."""
        state, half_life = self.state, self.book.limits.cover_life_days // 2
        for index, wound in enumerate(self.book.wounds):
            ends = state.ahead_until[index] < self.day + half_life
            renewed = self.is_active & (state.ahead[index] > 0) & ends
            if renewed.any() and reachable(wound.place, self.positions):
                self._lay_cover(index, np.where(renewed, state.ahead[index], 0), renewed)

    def _lay_cover(self, index: int, area: np.ndarray, is_laid: np.ndarray) -> None:
        """Use stock; what the stock does not cover keeps its old end."""
        state = self.state
        enough = is_laid & (state.cover_left >= area - _HAIR)
        state.cover_left = np.where(enough, np.maximum(0, state.cover_left - area), state.cover_left)
        until = self.day + self.book.limits.cover_life_days
        state.ahead_until[index] = np.where(enough, until, state.ahead_until[index])

    def _store_surplus(self) -> None:
        """What is left over is stored for the next session, never lost in silence."""
        left = np.zeros(self.day.shape)
        for skin_class, area in self.skin.items():
            kept = np.where(area >= NOTHING_CM2, area, 0)
            left = left + kept
            before = self.state.stored.get(skin_class, StoredSkin(np.zeros(self.day.shape), self.day))
            self.state.stored[skin_class] = StoredSkin(
                np.where(self.is_active, kept, before.area_cm2), np.where(self.is_active, self.day, before.day))
        self.state.surplus_cm2.append(left)
        self.state.grafted_cm2.append(self.placed)
