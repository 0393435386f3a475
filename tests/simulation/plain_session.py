"""One session of one course in plain Python: the reference that the arrays must agree with."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

from service.domain.graft import SkinClass, Thickness
from service.planning.donor_reserve import reachable
from service.simulation.course_book import BookSession

if TYPE_CHECKING:
    from tests.simulation.plain_loop import PlainCourse

NOTHING, HAIR = 0.1, 1e-9


class PlainSession:
    """One session of one course."""

    def __init__(self, c: PlainCourse, number: int, positions, day: float, planned: BookSession | None) -> None:
        self.c, self.book, self.number, self.positions, self.day, self.planned = (
            c, c.book, number, positions, day, planned)
        limits = c.limits
        minutes = limits.minutes_by_day[int(day)] - limits.fixed_minutes - limits.turn_minutes * (len(positions) - 1)
        self.left = {"minutes": minutes, "excise": limits.excised_cm2, "graft": limits.grafted_cm2,
                     "blood": limits.blood_ml, "special": frozenset()}
        self.opened: dict[int, float] = defaultdict(float)
        self.skin: dict[SkinClass, float] = defaultdict(float)
        self.done = 0.0
        self.kept = c.draw(c.scenarios.kept_fraction)

    def hold(self) -> bool:
        c = self.c
        if self.left["minutes"] <= 0:
            return False
        wanted = {}
        for line in self.book.order:
            wound = self.book.wounds[self.book.lines[line].wound]
            area = c.due(line, self.number + 1) + c.regraft[line]
            if reachable(wound.place, self.positions) and self.day >= wound.earliest_day and area >= NOTHING:
                wanted[line] = area
        for skin_class, (area, day) in c.stored.items():
            shares = [share for until, share in self.book.stored_until if self.day - day <= until]
            self.skin[skin_class] += area * (shares[0] if shares else 0)
        c.stored = {}
        if self.planned is not None:
            self.harvest_as_planned(wanted)
        self.open_more_sites(wanted)
        for line, area in wanted.items():
            self.place(line, area)
        self.excise_ahead()
        for index, wound in enumerate(self.book.wounds):
            soon = c.ahead_until[index] < self.day + c.limits.cover_life_days // 2
            if c.ahead[index] > 0 and soon and reachable(wound.place, self.positions):
                self.lay_cover(index, c.ahead[index])
        c.stored = {k: (area, self.day) for k, area in self.skin.items() if area >= NOTHING}
        return self.done > 0 or sum(self.opened.values()) > 0

    def harvest_as_planned(self, wanted: dict[int, float]) -> None:
        by_class = defaultdict(list)
        for site, thickness, area in self.planned.harvests:
            by_class[SkinClass(thickness, self.book.sites[site].above_clavicle)].append((site, area))
        need = defaultdict(float)
        for line, area in wanted.items():
            need[self.book.lines[line].skin_class] += area / self.book.lines[line].cautious_coverage
        for skin_class, sites in by_class.items():
            still = max(0.0, need[skin_class] - self.skin[skin_class]) / self.kept
            share = min(1.0, still / sum(area for _, area in sites))
            for site, area in sites:
                self.harvest(skin_class, site, area * share, None)

    def harvest(self, skin_class: SkinClass, site: int, wanted: float, region) -> float:
        c, per_cm2, first = self.c, self.c.limits.harvest_ml, self.number == 0
        usable = c.usable(site, self.day, first=first, region=region)
        part = min(wanted, usable, self.left["blood"] / per_cm2)
        if part <= 0:
            return 0.0
        area = part if self.opened[site] > 0 else max(part, self.book.sites[site].smallest_cm2)
        if area > usable + HAIR or area * per_cm2 > self.left["blood"] + HAIR:
            return 0.0
        left = area = min(area, usable)
        for parcel in c.offered(site, first, region):
            part = min(left, parcel["area"]) if parcel["day"] <= self.day else 0.0
            if part > 0:
                left -= part
                parcel["area"] -= part
                self.let_heal(site, skin_class.thickness, parcel["count"] + 1, part)
        self.opened[site] += area
        self.left["blood"] -= area * per_cm2
        self.skin[skin_class] += area * self.kept
        return area

    def let_heal(self, site: int, thickness: Thickness, number: int, area: float) -> None:
        if number >= self.book.sites[site].harvests_allowed:
            return
        key = (self.number, thickness, number)
        same = next((p for p in self.c.parcels[site] if p["key"] == key), None)
        if same is not None:
            same["area"] += area
            return
        day = self.day + self.c.healing(self.number + 1, site, thickness, number)
        self.c.parcels[site].append(
            {"area": area, "day": day, "count": number, "recorded": False, "kept": None, "key": key})

    def coverage(self, facts) -> float:
        shape = self.c.scenarios.shape(is_flat=self.book.wounds[facts.wound].is_flat)
        return self.c.draw(self.c.scenarios.ratio(self.number, facts.method)) * self.c.draw(shape)

    def skin_for(self, facts, area: float) -> float:
        skin, plate = area / self.coverage(facts), self.book.plate_part_cm2
        return math.ceil(skin / plate - HAIR) * plate if facts.is_island else skin

    def allowed(self, line: int, wanted: float, left: dict) -> tuple[float, float]:
        c, facts = self.c, self.book.lines[line]
        wound = self.book.wounds[facts.wound]
        bed = min(c.regraft[line], wanted) + c.bed[facts.wound]
        minutes = max(0.0, left["minutes"] - self.special_minutes(wound, left)) / c.limits.minutes_per_cm2
        allowed = min(wanted, left["graft"], minutes, bed + min(left["excise"], left["blood"] / wound.excision_ml))
        return (min(allowed, c.cover) if facts.needs_overlay else allowed), bed

    def special_minutes(self, wound, left: dict) -> float:
        is_new = wound.special_region is not None and wound.special_region not in left["special"]
        return self.c.limits.special_minutes if is_new else 0.0

    def spend(self, left: dict, wound, grafted: float, excised: float, blood: float) -> None:
        if grafted > 0:
            left["minutes"] -= grafted * self.c.limits.minutes_per_cm2 + self.special_minutes(wound, left)
            left["special"] = left["special"] | {wound.special_region}
        left["excise"] -= excised
        left["graft"] -= grafted
        left["blood"] -= blood

    def open_more_sites(self, wanted: dict[int, float]) -> None:
        left, at_hand, groups = dict(self.left), dict(self.skin), defaultdict(float)
        for line, area in wanted.items():
            facts = self.book.lines[line]
            wound = self.book.wounds[facts.wound]
            allowed, bed = self.allowed(line, area, left)
            skin, held = self.skin_for(facts, allowed), at_hand.get(facts.class_in(self.number), 0.0)
            more, excised = max(0.0, skin - held) / self.kept, max(0.0, allowed - bed)
            cost = more * self.c.limits.harvest_ml + excised * wound.excision_ml
            possible = self.whole_piece(wound, area, allowed * min(1.0, left["blood"] / max(cost, HAIR)))
            share = possible / max(allowed, HAIR)
            at_hand[facts.class_in(self.number)] = max(0.0, held - skin * share)
            is_kept = any(p.kept_for is wound.place.region for site in self.book.sites for p in site.parcels)
            groups[facts.class_in(self.number), wound.place.region if is_kept else None] += more * share
            self.spend(left, wound, allowed * share, excised * share, cost * share)
        for (skin_class, region), lacking in groups.items():
            sites = [s for s in self.book.sites_by_cosmesis if reachable(self.book.sites[s].place, self.positions)
                     and self.book.sites[s].above_clavicle == skin_class.above_clavicle]
            for is_open in (True, False):
                for site in sites:
                    if lacking > HAIR and (self.opened[site] > 0) == is_open:
                        lacking = max(0.0, lacking - self.harvest(skin_class, site, lacking, region))

    @staticmethod
    def whole_piece(wound, wanted: float, area: float) -> float:
        if area >= wanted - HAIR:
            return area
        piece = min(wound.piece_cm2, wanted)
        area = min(area, wanted - piece)
        return 0.0 if wound.is_whole or area < piece else area

    def place(self, line: int, wanted: float) -> None:
        c, facts, plate = self.c, self.book.lines[line], self.book.plate_part_cm2
        skin_class = facts.class_in(self.number)
        wound, skin = self.book.wounds[facts.wound], self.skin[skin_class]
        if wound.loaded is not None and any(self.day < day + c.limits.protect_days
                                            for p, day in c.loaded.items() if p != wound.loaded):
            return
        allowed, _ = self.allowed(line, wanted, self.left)
        whole = math.floor(skin / plate + HAIR) * plate if facts.is_island else skin
        area = self.whole_piece(wound, wanted, min(allowed, whole * self.coverage(facts)))
        if area <= 0:
            return
        self.skin[skin_class] = skin - min(skin, self.skin_for(facts, area))
        again = min(c.regraft[line], area)
        on_bed = min(area - again, c.bed[facts.wound])
        excised = area - again - on_bed
        c.regraft[line] -= again
        c.grafted[line] += area - again
        c.bed[facts.wound] -= on_bed
        c.ahead[facts.wound] = max(0.0, c.ahead[facts.wound] - on_bed)
        self.spend(self.left, wound, area, excised, excised * wound.excision_ml)
        if facts.needs_overlay or (self.planned is not None and facts.wound in self.planned.overlays):
            c.cover -= min(area, c.cover)
        if wound.loaded is not None:
            c.loaded[wound.loaded] = self.day
        self.done += area
        c.record_graft(self.number, line, area, self.day)

    def excise_ahead(self) -> None:
        c, limits = self.c, self.c.limits
        for index, planned in () if self.planned is None else self.planned.ahead:
            wound = self.book.wounds[index]
            grafted = sum(c.grafted[i] for i, x in enumerate(self.book.lines) if x.wound == index)
            left = self.left
            area = max(0.0, min(
                planned * c.scale[index], wound.area_cm2 * c.scale[index] - grafted - c.bed[index], left["excise"],
                left["blood"] / wound.excision_ml, left["minutes"] / limits.minutes_per_cm2, c.cover))
            if self.day < wound.earliest_day or area <= 0:
                continue
            c.bed[index] += area
            c.ahead[index] += area
            left["excise"] -= area
            left["blood"] -= area * wound.excision_ml
            left["minutes"] -= area * limits.minutes_per_cm2
            self.lay_cover(index, area)
            self.done += area

    def lay_cover(self, index: int, area: float) -> None:
        c = self.c
        if c.cover >= area - HAIR:
            c.cover = max(0.0, c.cover - area)
            c.ahead_until[index] = self.day + c.limits.cover_life_days
