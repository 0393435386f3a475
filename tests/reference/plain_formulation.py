"""The course of a case as a plain mixed-integer problem, written from the planning model and nothing else.

Areas in %TBSA, one slot a possible session day. Two uses: the stock formulation of the benchmark (patches of
5 %TBSA, every site harvested or not, days free) and the exact problem of chosen days for small cases
(continuous areas with a smallest piece). Nothing is merged, no row is there to make it fast.

Left out, because a rule of the settled plan has no linear form: the number of a harvest decides its healing
(that of a first harvest serves), skin is printed in 0.1 cm², losses find their reserve (each is charged with its
wait for a regraft), and skin kept for a use or decided by the caller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil

from service.domain.body_region import Position, Region
from service.domain.burn_wound import BurnWound
from service.domain.donor_site import DonorSite
from service.domain.graft import NEEDS_OVERLAY, GraftKind, GraftMethod, Thickness
from tests.reference.case_numbers import CaseNumbers
from tests.reference.mixed_integer import MixedInteger

PATCH_PERCENT = 5.0
THICKNESSES = (Thickness.THIN, Thickness.MEDIUM)


@dataclass(frozen=True)
class GraftColumn:
    """A graft that the problem may hold: so much area of a wound by a method in a slot."""

    wound: int
    method: GraftMethod
    slot: int
    area: dict[int, float]  # %TBSA by column
    is_there: int  # the column that says yes or no
    plate_parts: int | None = None  # the column that counts parts of plates, where they are counted


class PlainFormulation:
    """The problem of one case over possible session days.

    ``patches``: wounds in patches of at most 5 %TBSA, each grafted wholly by one method; otherwise areas are
    continuous with a smallest piece. ``are_held``: a session is held on every day.
    """

    def __init__(self, numbers: CaseNumbers, days: Sequence[int], *, patches: bool, are_held: bool = False) -> None:
        self.numbers, self.case, self.days, self.patches = numbers, numbers.case, list(days), patches
        self.slots = range(len(self.days))
        self.problem = MixedInteger()
        session = numbers.preference("session-weight")
        self.held = [self.problem.column(upper=1, lower=float(are_held), cost=session, is_whole=True)
                     for _ in self.slots]
        dearest = max((numbers.weight(w) for w in self.case.wounds), default=1.0) * numbers.horizon
        self.left_open = [self.problem.column(
            upper=numbers.percent(w.area_cm2), cost=numbers.weight(w) * numbers.horizon + 10 * dearest)
            for w in self.case.wounds]
        self.open_days = 10 * dearest
        self.grafts = [graft for p, wound in enumerate(self.case.wounds) for graft in self._grafts(p, wound)]
        self.harvests = self._harvest_columns()
        self.excised = self._excision_columns()
        for rule in (self._place_once, self._graft_old_bed_first, self._only_in_sessions,
                     self._graft_on_ready_bed, self._session_limits,
                     self._skin_balance, self._donors, self._rest, self._positions, self._bearing_surface):
            rule()

    # -- columns

    def _grafts(self, p: int, wound: BurnWound) -> list[GraftColumn]:
        area = self.numbers.percent(wound.area_cm2)
        excise_from, graft_from = self.numbers.work_from(wound)
        from_day = graft_from if wound.excised_cm2 > 0 else max(graft_from, excise_from)
        made = []
        for method in self.numbers.methods(wound):
            for t in self.slots:
                if self.days[t] >= from_day:
                    cost = self.numbers.graft_days(wound, method, self.days[t])
                    made += self._patch_columns(p, method, t, area, cost) if self.patches else [
                        self._area_column(p, wound, method, t, area, cost)]
        return made

    def _patch_columns(self, p: int, method: GraftMethod, t: int, area: float, cost: float) -> list[GraftColumn]:
        """One yes or no for each patch of the wound; whole regions are one patch."""
        count = 1 if self.case.wounds[p].place.facts.is_whole else ceil(area / PATCH_PERCENT)
        patch = area / count
        columns = [self.problem.yes_or_no(cost * patch) for _ in range(count)]
        return [GraftColumn(p, method, t, {column: patch}, column) for column in columns]

    def _area_column(self, p: int, wound: BurnWound, method: GraftMethod, t: int, area: float,
                     cost: float) -> GraftColumn:
        """A continuous area, none or at least the smallest piece; whole regions all or nothing."""
        least = area if wound.place.facts.is_whole else min(area, self.numbers.preference("smallest-piece"))
        column, is_there = self.problem.column(upper=area, cost=cost), self.problem.yes_or_no()
        self.problem.row(0, area, {column: 1, is_there: -least})
        self.problem.row(-area, 0, {column: 1, is_there: -area})
        parts = self._plate_parts_column(wound, method, column, area) if method.kind is GraftKind.ISLAND else None
        return GraftColumn(p, method, t, {column: 1.0}, is_there, parts)

    def _plate_parts_column(self, wound: BurnWound, method: GraftMethod, area_column: int, area: float) -> int:
        """Parts of plates whose islands cover the area."""
        covered = self.numbers.plate / self.numbers.preference("plate-parts") / self.numbers.skin(wound, method)
        parts = self.problem.column(upper=ceil(area / covered), is_whole=True)
        self.problem.row(-1000, 0, {area_column: 1.0, parts: -covered})
        return parts

    def _harvest_columns(self) -> list[dict[tuple[Thickness, int], int]]:
        """Skin taken from each site by thickness and slot."""
        return [{(thickness, t): self.problem.column(
            upper=self.numbers.percent(site.area_cm2), cost=self.numbers.donor_days(site, thickness, 1))
            for thickness in THICKNESSES for t in self.slots} for site in self.case.donor_sites]

    def _excision_columns(self) -> list[list[int]]:
        """Area excised of each wound in each slot: the sooner, the less its eschar costs."""
        left = self.numbers.eschar_days(self.numbers.horizon)
        columns = []
        for wound in self.case.wounds:
            unexcised = self.numbers.percent(wound.unexcised_cm2)
            self.problem.constant += unexcised * left
            from_day, _ = self.numbers.work_from(wound)
            columns.append([self.problem.column(
                upper=unexcised if self.days[t] >= from_day else 0.0,
                cost=self.numbers.eschar_days(self.days[t]) - left) for t in self.slots])
        return columns

    # -- rules

    def area(self, p: int | None, t: int | None, methods=None) -> dict[int, float]:
        """Area grafted on a wound (or all) in a slot (or ever), by columns."""
        terms: dict[int, float] = {}
        for graft in self.grafts:
            if p in (None, graft.wound) and t in (None, graft.slot) and (methods is None or graft.method in methods):
                for column, share in graft.area.items():
                    terms[column] = terms.get(column, 0.0) + share
        return terms

    @cached_property
    def _area_by(self) -> dict[tuple[int, int], dict[int, float]]:
        """Area grafted by wound and slot."""
        table: dict[tuple[int, int], dict[int, float]] = {
            (p, t): {} for p in range(len(self.case.wounds)) for t in self.slots}
        for graft in self.grafts:
            table[graft.wound, graft.slot].update(graft.area)
        return table

    def _place_once(self) -> None:
        """Grafted and left open add up to the wound; a patch is grafted once, a whole region by one method."""
        for p, wound in enumerate(self.case.wounds):
            area = self.numbers.percent(wound.area_cm2)
            self.problem.row(area, area, self.area(p, None), {self.left_open[p]: 1})
            if wound.place.facts.is_whole:
                self.problem.row(0, 1, {g.is_there: 1.0 for g in self.grafts if g.wound == p})

    def _graft_old_bed_first(self) -> None:
        """A bed that was open at the start is grafted before what is newly excised: it costs by the day."""
        for p, wound in enumerate(self.case.wounds):
            ready = self.numbers.percent(wound.excised_cm2)
            if ready:
                last = self.numbers.bed_days(wound, self.numbers.horizon)
                self.problem.constant += ready * last
                on_bed = [self.problem.column(upper=ready, cost=self.numbers.bed_days(wound, day) - last)
                          for day in self.days]
                self.problem.row(0, ready, dict.fromkeys(on_bed, 1.0))
                for t in self.slots:
                    minus = {column: -share for column, share in self._area_by[p, t].items()}
                    self.problem.row(-1000, 0, {on_bed[t]: 1.0}, minus)

    def _only_in_sessions(self) -> None:
        for (p, t), terms in self._area_by.items():
            area = self.numbers.percent(self.case.wounds[p].area_cm2)
            if terms:
                self.problem.row(-area, 0, terms, {self.held[t]: -area})

    def _graft_on_ready_bed(self) -> None:
        """Grafted up to a slot ≤ ready and excised; bed excised and not grafted lies under cover from stock."""
        stock = self.numbers.percent(self.case.request.cover_stock_cm2 or 0)
        life = int(self.numbers.value("cover-life"))
        overlaid = {column: share for t in self.slots for column, share in self.area(None, t, NEEDS_OVERLAY).items()}
        laid_ever: dict[int, float] = dict(overlaid)
        for p, wound in enumerate(self.case.wounds):
            ready, grafted, excised = self.numbers.percent(wound.excised_cm2), {}, {}
            laid = [self.problem.column(upper=stock) for _ in self.slots] if stock and wound.unexcised_cm2 else []
            laid_ever |= dict.fromkeys(laid, 1.0)
            self.problem.row(0, self.numbers.percent(wound.unexcised_cm2), dict.fromkeys(self.excised[p], 1.0))
            for t in self.slots:
                grafted |= self._area_by[p, t]
                excised[self.excised[p][t]] = 1.0
                minus = {column: -value for column, value in grafted.items()}
                self.problem.row(-ready, 1000, excised, minus)
                alive = self._alive(t, laid, life)
                if wound.unexcised_cm2:
                    self.problem.row(-1000, 0, excised, minus, {column: -1.0 for column in alive})
        if stock:
            self.problem.row(0, stock, laid_ever)

    def _alive(self, t: int, laid: list[int], life: int) -> list[int]:
        """Cover that still lies when the next slot begins, with its days charged to the problem."""
        if not laid:
            return []
        end = self.days[t + 1] if t + 1 < len(self.days) else self.numbers.horizon
        self.problem.cost[laid[t]] += self.numbers.preference("cover-weight") * min(life, end - self.days[t])
        return [laid[s] for s in range(t + 1) if self.days[s] + life >= end - 1]

    def _session_limits(self) -> None:
        """Area, blood and minutes of each session, each limit times whether it is held."""
        limits, numbers = self.case.limits, self.numbers
        per_percent = numbers.value("theatre-minutes", "per-percent")
        special_regions = sorted({w.place.region_key for w in self.case.wounds if w.place.facts.is_special})
        harvest_ml = numbers.loss_ml(f"harvest-{numbers.age}")
        for t in self.slots:
            held, grafted = self.held[t], self.area(None, t)
            excised = {columns[t]: 1.0 for columns in self.excised}
            self.problem.row(-1000, 0, grafted, {held: -numbers.percent(limits.grafted_cm2)})
            self.problem.row(-1000, 0, excised, {held: -numbers.percent(limits.excised_cm2)})
            blood = {columns[t]: numbers.excision_ml(w) / 1000
                     for w, columns in zip(self.case.wounds, self.excised, strict=True)}
            harvested = {columns[k, t]: harvest_ml / 1000 for columns in self.harvests for k in THICKNESSES}
            self.problem.row(-1e6, 0, blood, harvested, {held: -float(limits.blood_ml) / 1000})
            special = {self._is_worked_on(region, t): numbers.value("theatre-minutes", "special-area")
                       for region in special_regions}
            left = numbers.minutes_limit(self.days[t]) - numbers.value("theatre-minutes", "fixed")
            turned = self.problem.yes_or_no()
            self.problem.upper[turned] = float(numbers.positions(self.days[t]) > 1)
            self.turned = [*getattr(self, "turned", []), turned]
            self.problem.row(-1e6, 0, {column: per_percent for column in self._operated(t)}, special,
                             {turned: numbers.value("theatre-minutes", "turn"), held: -max(0.0, left)})

    def _operated(self, t: int) -> list[int]:
        """By wound, the larger of what is excised and what is grafted in a slot."""
        columns = []
        for p, wound in enumerate(self.case.wounds):
            column = self.problem.column(upper=self.numbers.percent(wound.area_cm2))
            self.problem.row(-1000, 0, self._area_by[p, t], {column: -1.0})
            self.problem.row(-1000, 0, {self.excised[p][t]: 1.0, column: -1.0})
            columns.append(column)
        return columns

    def _is_worked_on(self, region_key: str, t: int) -> int:
        """Yes or no: a region that takes minutes of its own is excised or grafted."""
        is_worked_on = self.problem.yes_or_no()
        for p, wound in enumerate(self.case.wounds):
            if wound.place.region_key == region_key:
                area = self.numbers.percent(wound.area_cm2)
                self.problem.row(-1000, 0, self._area_by[p, t], {is_worked_on: -area})
                self.problem.row(-1000, 0, {self.excised[p][t]: 1.0, is_worked_on: -area})
        return is_worked_on

    def _skin_balance(self) -> None:
        """Skin for grafts of a thickness ≤ what its harvests leave; a patch of islands wastes a plate at most."""
        numbers = self.numbers
        above = [site.above_clavicle for site in self.case.donor_sites]
        face_above = self._face_needs_skin_from_above()
        for t in self.slots:
            need = {k: {} for k in THICKNESSES}
            need_above: dict[int, float] = {}
            parts: dict[tuple, dict[int, float]] = {}
            for graft in self.grafts:
                if graft.slot == t:
                    wound = self.case.wounds[graft.wound]
                    skin = numbers.skin(wound, graft.method)
                    terms = need[numbers.thickness(wound, graft.method)]
                    if graft.plate_parts is not None:
                        begun = parts.setdefault((numbers.thickness(wound, graft.method), graft.method), {})
                        begun[graft.plate_parts] = 1 / numbers.preference("plate-parts")
                        continue
                    for column, share in graft.area.items():
                        terms[column] = share * skin
                        if wound.place.region is Region.FACE and face_above:
                            need_above[column] = share * skin
                    if graft.method.kind is GraftKind.ISLAND:
                        terms[graft.is_there] += numbers.plate
            for (k, _), begun in parts.items():
                whole = self.problem.column(upper=1000, is_whole=True)
                self.problem.row(-1000, 0, begun, {whole: -1.0})
                need[k][whole] = numbers.plate
            for k in THICKNESSES:
                given = {columns[k, t]: -numbers.kept for columns in self.harvests}
                self.problem.row(-1000, 0, need[k], given)
            if need_above:
                given = {columns[Thickness.MEDIUM, t]: -numbers.kept
                         for columns, is_above in zip(self.harvests, above, strict=True) if is_above}
                self.problem.row(-1000, 0, need_above, given)

    def _face_needs_skin_from_above(self) -> bool:
        faces = [w for w in self.case.wounds if w.place.region is Region.FACE]
        supply = sum(self.numbers.percent(s.area_cm2) for s in self.case.donor_sites if s.above_clavicle)
        need = sum(self.numbers.percent(w.area_cm2) * self.numbers.skin(w, GraftMethod.SHEET) for w in faces)
        return bool(faces) and supply * self.numbers.kept >= need

    def _donors(self) -> None:
        """Regrowth, harvest count, smallest harvest; a repeated harvest costs more."""
        numbers = self.numbers
        smallest = numbers.percent(self.numbers.preferences.value("smallest-harvest"))
        for site, columns in zip(self.case.donor_sites, self.harvests, strict=True):
            area = numbers.percent(site.area_cm2)
            for t in self.slots:
                taken = {columns[k, t]: 1.0 for k in THICKNESSES}
                is_harvested = self.problem.yes_or_no()
                self.problem.row(0, 1000, taken, {is_harvested: -min(smallest, area)})
                self.problem.row(-1000, 0, taken, {is_harvested: -area})
                self.problem.row(-1000, 0, taken, {self.held[t]: -area})
                healing = {columns[k, s]: 1.0 for k in THICKNESSES for s in range(t + 1)
                           if self.days[t] - self.days[s] < numbers.healing(site, k, 1)}
                self.problem.row(0, self._healed(site, t), healing)
            fresh = sum(numbers.percent(p.area_cm2) for p in site.parcels if p.harvest_count == 0)
            allowed = sum(numbers.percent(p.area_cm2) * max(0, site.harvests_allowed - p.harvest_count)
                          for p in site.parcels)
            more = min(numbers.donor_days(site, k, 2) - numbers.donor_days(site, k, 1) for k in THICKNESSES)
            repeated = self.problem.column(upper=allowed, cost=max(0.0, more))
            ever = {column: 1.0 for column in columns.values()}
            self.problem.row(0, allowed, ever)
            self.problem.row(-1000, fresh, ever, {repeated: -1.0})

    def _healed(self, site: DonorSite, t: int) -> float:
        """Skin of the record that may be taken by a slot: in the first only what is recorded as healed."""
        return sum(self.numbers.percent(p.area_cm2) for p in site.parcels if p.harvest_count < site.harvests_allowed
                   and (p.healed_recorded or (p.healed_day <= self.days[t] and t > 0)))

    def _rest(self) -> None:
        rest = self.case.limits.rest_days
        for t in self.slots:
            window = [s for s in self.slots if t <= s and self.days[s] - self.days[t] < rest]
            if len(window) > 1:
                self.problem.row(0, 1, {self.held[s]: 1.0 for s in window})

    def _positions(self) -> None:
        """Supine, prone, or both where the session is turned."""
        for t in self.slots:
            lying = {pose: self.problem.yes_or_no() for pose in Position}
            self.problem.row(-1000, 0, {column: 1.0 for column in lying.values()},
                             {self.held[t]: -1.0, self.turned[t]: -1.0})
            for pose, column in lying.items():
                only = frozenset({pose})
                for p, wound in enumerate(self.case.wounds):
                    if wound.place.reached == only:
                        area = self.numbers.percent(wound.area_cm2)
                        self.problem.row(-1000, 0, self._area_by[p, t], {column: -area})
                        self.problem.row(-1000, 0, {self.excised[p][t]: 1.0, column: -area})
                for site, columns in zip(self.case.donor_sites, self.harvests, strict=True):
                    if site.place.reached == only:
                        taken = {columns[k, t]: 1.0 for k in THICKNESSES}
                        self.problem.row(-1000, 0, taken, {column: -self.numbers.percent(site.area_cm2)})

    def _bearing_surface(self) -> None:
        """Without off-loading, grafts that are lain on in opposite positions are the protect days apart."""
        if self.case.off_loading:
            return
        protect = int(self.numbers.value("protect-days"))
        grafted = {(pose, t): self._is_grafted_on(pose, t) for pose in Position for t in self.slots}
        for t in self.slots:
            for s in self.slots:
                if abs(self.days[t] - self.days[s]) < protect:
                    self.problem.row(0, 1, {grafted[Position.SUPINE, t]: 1.0, grafted[Position.PRONE, s]: 1.0})
            for wound in self.case.wounds:
                for graft in wound.placed:
                    if wound.place.loaded_in and abs(self.days[t] - graft.placed_day) < protect:
                        other = next(pose for pose in Position if pose is not wound.place.loaded_in)
                        self.problem.upper[grafted[other, t]] = 0.0

    def _is_grafted_on(self, pose: Position, t: int) -> int:
        """Yes or no: something on which the weight rests in a position is grafted in a slot."""
        is_grafted = self.problem.yes_or_no()
        for p, wound in enumerate(self.case.wounds):
            if wound.place.loaded_in is pose and self._area_by[p, t]:
                area = self.numbers.percent(wound.area_cm2)
                self.problem.row(-1000, 0, self._area_by[p, t], {is_grafted: -area})
        return is_grafted

    def days_without_price_of_open(self, objective: float, values) -> float:
        """The objective as the service counts it: without what makes open area dear. [%TBSA-days]"""
        return objective - self.open_days * sum(float(values[column]) for column in self.left_open)
