"""A settled plan replayed day by day, by code that knows neither matrix nor planner.

From its acts alone: what is open, unexcised, covered and healing on every day, and what the plan
costs by section 5 of the planning model, in exact fractions. Areas in %TBSA, days from the as-of day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cached_property
from math import ceil

from service.domain.body_region import Region
from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import GraftingCase
from service.domain.donor_site import Harvest
from service.domain.graft import GraftKind
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, Placement
from service.evidence.donor_healing import healing_days
from service.evidence.library import Evidence
from service.preferences.library import Preferences

SEEN_AND_USED = frozenset({Region.FACE, Region.NECK, Region.HAND})
NONE = Fraction(0)


@dataclass(frozen=True)
class OpenPiece:
    """Part of a wound that stays open from the as-of day until it closes."""

    percent: Fraction
    weight: Fraction
    closed_on: Fraction

    def open_share(self, day: int) -> Fraction:
        """Share of the day on which the piece is still open. [0-1]"""
        return min(Fraction(1), max(NONE, self.closed_on - day))


@dataclass(frozen=True)
class Day:
    """One day of a course, by the end of its session. Areas in %TBSA."""

    day: int
    open_percent: Fraction
    weighted_open_percent: Fraction
    unexcised_percent: Fraction
    covered_percent: Fraction
    healing_donor_percent: Fraction


def _joined(pieces: Iterable[OpenPiece]) -> list[OpenPiece]:
    """Pieces of one weight that close at the same moment, as one."""
    areas: dict[tuple, Fraction] = defaultdict(Fraction)
    for piece in pieces:
        areas[piece.weight, piece.closed_on] += piece.percent
    return [OpenPiece(percent, *key) for key, percent in areas.items()]


class Replay:
    """One plan of one case. Everything is worked out from the acts, the evidence and the preferences."""

    def __init__(self, case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences) -> None:
        self.case, self.plan, self.evidence, self.preferences = case, plan, evidence, preferences
        self.wounds = {wound.wound_id: wound for wound in case.wounds}
        self.places = {site.site_id: site.place for site in case.donor_sites}
        self.pieces = _joined((*self._grafted_pieces(), *self._open_pieces()))
        self.healed_on = [(harvest, harvest.day + self.healing(harvest)) for harvest in plan.harvests]
        ends = [ceil(piece.closed_on) for piece in self.pieces] + [day for _, day in self.healed_on]
        self.last_day = max((case.horizon_day, *ends))

    def percent(self, area_cm2: Decimal) -> Fraction:
        return Fraction(area_cm2) / (Fraction(self.case.body_surface_m2) * 100)

    def preference(self, name: str, applies_to: str = "any") -> Fraction:
        return Fraction(self.preferences.value(name, applies_to))

    def take(self, placement: Placement) -> Fraction:
        """Expected take of a graft. [0-1]"""
        return self._take_on(self.wounds[placement.wound_id], placement.method.kind)

    def _take_on(self, wound: BurnWound, kind: GraftKind) -> Fraction:
        take = Fraction(self.evidence.value("take", kind))
        if wound.bed_state is BedState.COLONISED:
            take *= Fraction(self.evidence.value("take-multiplier", "colonised"))
        return take

    def healing(self, harvest: Harvest) -> int:
        return healing_days(
            self.evidence, self.places[harvest.site_id], harvest.thickness, self.case.age_band,
            harvest.harvest_number, self.preferences.value("healing-quantile"))

    def _weight(self, wound: BurnWound) -> Fraction:
        return self.preference(f"weight-{self.case.weight_set}", wound.place.region)

    def _grafted_pieces(self):
        """What takes closes after its graft; what fails after a regraft, or not at all without skin in reserve."""
        horizon, wait = Fraction(self.case.horizon_day), self.preference("regraft-wait-days")
        for graft in self.plan.placements:
            if graft.is_regraft:
                continue
            wound = self.wounds[graft.wound_id]
            area, closure = self.percent(graft.area_cm2), Fraction(self.evidence.value("closure-days", graft.method))
            read = Fraction(self.evidence.value("read-day", graft.method.kind))
            take, short = self.take(graft), self._share_without_reserve(wound.place.region_key)
            yield OpenPiece(area * take, self._weight(wound), graft.day + closure)
            yield OpenPiece(area * (1 - take) * (1 - short), self._weight(wound),
                            min(horizon, graft.day + read + wait + closure))
            yield OpenPiece(area * (1 - take) * short, self._weight(wound), horizon)

    def _share_without_reserve(self, region_key: str) -> Fraction:
        """Share of the loss expected on a region for which the plan holds no skin. [0-1]"""
        short = sum((Fraction(u.area_cm2) for u in self.plan.unreserved if u.region_key == region_key), NONE)
        if not short:
            return NONE
        lost = NONE
        for wound in self.case.wounds:
            if wound.place.region_key == region_key:
                lies = [p for p in self.plan.placements if p.wound_id == wound.wound_id and not p.is_regraft]
                unread = [g for g in wound.placed if g.take_fraction is None]
                lost += sum((Fraction(g.area_cm2) * (1 - self._take_on(wound, g.method.kind))
                             for g in (*lies, *unread)), NONE)
        return min(Fraction(1), short / lost)

    def _open_pieces(self):
        for left in self.plan.still_open:
            yield OpenPiece(self.percent(left.area_cm2), self._weight(self.wounds[left.wound_id]),
                            Fraction(self.case.horizon_day))

    def _unexcised(self, day: int) -> Fraction:
        """Burn whose eschar is still there by the end of a day."""
        left = {wound.wound_id: wound.area_cm2 - wound.excised_cm2 for wound in self.case.wounds}
        for excision in self.plan.excisions:
            if excision.day <= day:
                left[excision.wound_id] -= excision.area_cm2
        return self.percent(sum((max(Decimal(0), area) for area in left.values()), Decimal(0)))

    def _covered(self, day: int) -> Fraction:
        return self.percent(sum((c.area_cm2 for c in self.plan.covers if c.kind is CoverKind.TEMPORARY
                                 and c.day <= day < c.until_day), Decimal(0)))

    def _healing_donors(self, day: int) -> Fraction:
        healing = (harvest for harvest, healed_on in self.healed_on if harvest.day <= day < healed_on)
        return self.percent(sum((harvest.area_cm2 for harvest in healing), Decimal(0)))

    @cached_property
    def days(self) -> list[Day]:
        """Every day from the as-of day until the last piece and the last donor wound have closed."""
        return [
            Day(
                day,
                sum((piece.percent * piece.open_share(day) for piece in self.pieces), NONE),
                sum((piece.weight * piece.percent * piece.open_share(day) for piece in self.pieces), NONE),
                self._unexcised(day), self._covered(day), self._healing_donors(day))
            for day in range(self.last_day)
        ]

    def cost_by_term(self) -> dict[str, Fraction]:
        """The objective by term, summed over the days and the acts. [%TBSA-days]"""
        days = self.days
        rises = max(0, self.case.injury_day + self.preferences.integer("eschar-rise-after-day"))
        factor = self.preference("eschar-rise-factor")
        eschar = sum((day.unexcised_percent * (factor if day.day >= rises else 1)
                      for day in days if day.day < self.case.horizon_day), NONE)
        return {
            "open": sum((day.weighted_open_percent for day in days), NONE),
            "eschar": self.preference("eschar-weight") * eschar,
            "beds": self._beds(),
            "cover": self.preference("cover-weight") * sum((day.covered_percent for day in days), NONE),
            "scar": self._scar(),
            "donor": self.preference("open-donor-weight") * sum(
                (self.percent(h.area_cm2) * self.healing(h) for h in self._firm_harvests()), NONE),
            "cosmesis": self._cosmesis(),
            "sessions": self.preference("session-weight") * len(self.plan.firm_sessions),
        }

    def _scar(self) -> Fraction:
        total = NONE
        for graft in self.plan.placements:
            if not graft.is_regraft:
                is_seen = self.wounds[graft.wound_id].place.region in SEEN_AND_USED
                doubled = self.preference("scar-visible-factor") if is_seen else 1
                total += self.preference("scar", graft.method) * doubled * self.percent(graft.area_cm2)
        return total

    def _cosmesis(self) -> Fraction:
        scale = self.preference("donor-cosmesis-scale")
        return sum((self.preference("donor-cosmesis", self.places[h.site_id].region) * scale * self.percent(h.area_cm2)
                    for h in self._firm_harvests()), NONE)

    def _firm_harvests(self) -> list[Harvest]:
        """Harvests of sessions that are held in any case: a possible one costs only if it comes."""
        firm = {session.day for session in self.plan.firm_sessions}
        return [harvest for harvest in self.plan.harvests if harvest.day in firm]

    def _beds(self) -> Fraction:
        """Beds open at the start, day by day until they are grafted: under living cover or bare."""
        total, bare, covered = NONE, self.preference("bare-bed-weight"), self.preference("cover-weight")
        for wound in self.case.wounds:
            waiting = wound.excised_cm2
            share = Fraction(wound.covered_cm2) / Fraction(waiting) if waiting else NONE
            for day in range(self.case.horizon_day):
                waiting -= min(waiting, sum((p.area_cm2 for p in self.plan.placements if p.wound_id == wound.wound_id
                                             and p.day == day and not p.is_regraft), Decimal(0)))
                is_covered = wound.covered_until_day is not None and day < wound.covered_until_day
                rate = share * covered + (1 - share) * bare if is_covered else bare
                total += self.percent(waiting) * rate
        return total

    def objective_days(self) -> Decimal:
        """The objective to 0.1, as the service prints it. [%TBSA-days]"""
        total = sum(self.cost_by_term().values(), NONE)
        tenth = Decimal(total.numerator) / Decimal(total.denominator)
        return tenth.quantize(Decimal("0.1"), ROUND_HALF_UP)
